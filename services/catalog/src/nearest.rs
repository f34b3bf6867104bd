//! The known name nearest to a mistyped one.

/// The candidate that takes the fewest single-letter changes, if that is few enough to be what was meant.
#[must_use]
pub fn nearest<'a>(given: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let given: String = given.chars().take(80).collect();
    let letters = given.chars().count();
    let limit = (letters / 3).clamp(1, 5);
    candidates
        .into_iter()
        // Every letter too many or too few is a change by itself.
        .filter(|candidate| candidate.chars().count().abs_diff(letters) <= limit)
        .map(|candidate| (strsim::levenshtein(&given, candidate), candidate))
        .filter(|(distance, _)| *distance <= limit)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_could_be_meant_is_proposed() {
        let known = ["depth_m", "display_name", "lake"];
        for (given, proposed) in
            [("depht_m", Some("depth_m")), ("depth", None), ("lak", Some("lake")), ("colour", None)]
        {
            assert_eq!(nearest(given, known), proposed, "{given}");
        }
    }
}
