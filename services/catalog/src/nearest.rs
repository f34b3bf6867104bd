//! The known name nearest to a mistyped one.

/// The candidate that takes the fewest single-letter changes, if that is few enough to be what was meant.
pub(crate) fn nearest<'a>(given: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let given: Vec<char> = given.chars().take(80).collect();
    let limit = (given.len() / 3).clamp(1, 5);
    candidates
        .into_iter()
        .map(|candidate| (candidate, candidate.chars().collect::<Vec<_>>()))
        // Every letter too many or too few is a change by itself.
        .filter(|(_, letters)| letters.len().abs_diff(given.len()) <= limit)
        .map(|(candidate, letters)| (distance(&given, &letters), candidate))
        .filter(|(distance, _)| *distance <= limit)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Insertions, deletions and substitutions from one word to the other (Levenshtein), one row of the table at a time.
fn distance(a: &[char], b: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (slot, to) in row.iter_mut().skip(1).zip(b) {
            let cost = (diagonal + usize::from(from != to)).min(left + 1).min(*slot + 1);
            diagonal = *slot;
            *slot = cost;
            left = cost;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(a.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_count_single_letters() {
        let check = |a: &str, b: &str, expected| {
            let (a, b): (Vec<_>, Vec<_>) = (a.chars().collect(), b.chars().collect());
            assert_eq!(distance(&a, &b), expected, "{a:?} {b:?}");
            assert_eq!(distance(&b, &a), expected, "{b:?} {a:?}");
        };
        check("", "", 0);
        check("", "abc", 3);
        check("depth", "depth_m", 2);
        check("kitten", "sitting", 3);
        check("lake", "lkae", 2);
    }

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
