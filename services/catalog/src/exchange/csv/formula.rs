//! Text that a spreadsheet would compute: written behind an apostrophe, which spreadsheets take for "text", and read without it.

use std::borrow::Cow;

/// What a formula begins with, in spreadsheets of all languages (as the OWASP page "CSV Injection" lists it).
const BEGINNINGS: [char; 8] = ['=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];
const GUARD: char = '\'';

/// A text cell as it goes to a file.
#[must_use]
pub fn guarded(text: &str) -> Cow<'_, str> {
    if is_formula(text) { Cow::Owned(format!("{GUARD}{text}")) } else { Cow::Borrowed(text) }
}

/// A cell of a file as it was before.
pub(crate) fn unguarded(cell: &str) -> &str {
    cell.strip_prefix(GUARD).filter(|text| is_formula(text)).unwrap_or(cell)
}

/// Whether a text needs a guard. One that begins with guards of its own gets one more, so that reading takes the right one away.
fn is_formula(text: &str) -> bool {
    text.trim_start_matches(|c: char| c == GUARD || c.is_whitespace()).starts_with(BEGINNINGS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn formulas_are_guarded_and_nothing_else() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("+49 1", "'+49 1"),
            ("-cmd", "'-cmd"),
            (" =1", "' =1"),
            ("'=1", "''=1"),
            ("", ""),
            ("'quoted'", "'quoted'"),
            ("North bar", "North bar"),
            ("a=1", "a=1"),
        ] {
            assert_eq!(guarded(text), cell);
            assert_eq!(unguarded(cell), text);
        }
    }

    proptest! {
        #[test]
        fn every_text_comes_back(text in "['=+@ a-]{0,8}|\\PC{0,12}") {
            let cell = guarded(&text);
            prop_assert_eq!(unguarded(&cell), text.as_str());
            prop_assert!(!cell.trim_start().starts_with(BEGINNINGS));
        }
    }
}
