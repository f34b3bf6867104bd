//! An id for a waypoint that has none.

/// Longest id.
const MOST: usize = 63;

/// The name in plain letters: `Näsi bay, 2` becomes `nasi-bay-2`. A name without any letter or digit, or none, is
/// called by its line.
pub(super) fn identifier(name: &str, line: u32) -> String {
    let plain = deunicode::deunicode(name).to_ascii_lowercase();
    let words: Vec<_> = plain.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let joined = words.join("-");
    let id = match joined.chars().next() {
        None => format!("wpt-{line}"),
        Some(first) if first.is_ascii_digit() => format!("wpt-{joined}"),
        Some(_) => joined,
    };
    let cut: String = id.chars().take(MOST).collect();
    cut.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::Id;

    #[test]
    fn names_of_any_script_become_ids() {
        for (name, id) in [
            ("North bar", "north-bar"),
            ("  Näsi bay, 2 ", "nasi-bay-2"),
            ("Ørret / Røye", "orret-roye"),
            ("Озеро", "ozero"),
            ("007", "wpt-007"),
            ("--", "wpt-12"),
            ("", "wpt-12"),
        ] {
            assert_eq!(identifier(name, 12), id, "{name}");
            assert!(Id::parse(id).is_ok());
        }
        let long = identifier(&"ab ".repeat(40), 12);
        assert!(Id::parse(&long).is_ok() && long.len() >= 62, "{long}");
    }
}
