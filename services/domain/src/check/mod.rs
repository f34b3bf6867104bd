//! `check` on every record: each fault with the path of the field in the public API, what was given, what is accepted
//! and what to do. All faults of a record come back at once.

mod run;

use super::{Fault, FaultList, FaultReason};
use crate::value::{Accepted, LIMIT_SLACK, MAX_NOTES_CHARS};

pub use crate::value::plain;
pub use run::MAX_DRAWS;

/// Collects the faults of one record.
#[derive(Default)]
pub(crate) struct Faults {
    pub(crate) found: FaultList,
}

impl Faults {
    /// Whether a field has been refused.
    pub(crate) fn has(&self, field: &str) -> bool {
        self.found.iter().any(|fault| fault.field == field)
    }

    /// A field that every record has is left out.
    pub(crate) fn missing(&mut self, field: &str, advice: &str) {
        self.add(field, FaultReason::Missing, format!("{field} is left out; it is required; {advice}"));
    }

    /// A field that means nothing beside the others.
    pub(crate) fn out_of_place(&mut self, field: &str, given: Given, only: &str) {
        if given == Given::Yes {
            self.add(
                field,
                FaultReason::Contradiction,
                format!("{field} is given; it belongs to {only} only; leave it out"),
            );
        }
    }

    /// The spread of a figure that is none.
    pub(crate) fn spread(&mut self, field: &str, spread: f64) {
        self.add(
            field,
            FaultReason::OutOfRange,
            format!("the spread of {field} is {}; accepted: 0 or more; give one standard deviation", plain(spread)),
        );
    }

    pub(crate) fn add(&mut self, field: &str, reason: FaultReason, message: String) {
        self.found.push(Fault::new(field, reason, message));
    }

    /// A number in the unit of its field; true when it is accepted.
    pub(crate) fn number(&mut self, field: &str, value: f64, accepted: Accepted, advice: &str) -> bool {
        if !value.is_finite() {
            let given = if value.is_nan() { "not a number" } else { "infinite" };
            self.add(field, FaultReason::NotFinite, format!("{field} is {given}; accepted: {accepted}; {advice}"));
            false
        } else if accepted.holds(value) {
            true
        } else {
            let given = plain(value);
            self.add(field, FaultReason::OutOfRange, format!("{field} is {given}; accepted: {accepted}; {advice}"));
            false
        }
    }

    /// A number that must lie below (or, with `or_equal`, not above) another field of the same record.
    pub(crate) fn at_most(&mut self, field: &str, value: f64, limit: Limit<'_>, advice: &str) {
        let fine = if limit.or_equal { value <= limit.value * (1.0 + LIMIT_SLACK) } else { value < limit.value };
        if !fine {
            let relation = if limit.or_equal { "not above" } else { "less than" };
            let message = format!(
                "{field} is {}; accepted: {relation} {}, which is {}; {advice}",
                plain(value),
                limit.field,
                plain(limit.value)
            );
            let fault = Fault::new(field, FaultReason::Contradiction, message);
            self.found.push(Fault { beside: Some(limit.field.to_owned()), ..fault });
        }
    }

    /// How many entries a list holds. Where that is refused, nothing is done for each of them.
    pub(crate) fn count(&mut self, field: &str, given: usize, least: usize, most: usize, advice: &str) -> bool {
        if (least..=most).contains(&given) {
            return true;
        }
        let reason = if given == 0 { FaultReason::Missing } else { FaultReason::OutOfRange };
        self.add(field, reason, format!("{field} has {given} entries; accepted: {least} to {most}; {advice}"));
        false
    }

    /// A line of text that must not be empty.
    pub(crate) fn name(&mut self, field: &str, text: &str, most: usize, advice: &str) {
        if looks_empty(text) {
            let kind = if text.trim().is_empty() { "is empty" } else { "holds nothing that shows" };
            self.add(
                field,
                FaultReason::Missing,
                format!("{field} {kind}; accepted: 1 to {most} characters; {advice}"),
            );
        }
        self.short_text(field, text, most);
    }

    /// One line of text, possibly empty.
    pub(crate) fn short_text(&mut self, field: &str, text: &str, most: usize) {
        self.length(field, text, most);
        if text.chars().any(char::is_control) {
            self.add(
                field,
                FaultReason::BadForm,
                format!("{field} holds a control character; accepted: one line of printable text; remove it"),
            );
        }
    }

    /// Free notes: several lines are fine, other control characters are not.
    pub(crate) fn notes(&mut self, text: &str) {
        self.length("notes", text, MAX_NOTES_CHARS);
        if text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
            self.add(
                "notes",
                FaultReason::BadForm,
                "notes holds a control character; accepted: printable text, line ends and tabs; remove it".to_owned(),
            );
        }
    }

    fn length(&mut self, field: &str, text: &str, most: usize) {
        let given = text.chars().count();
        if given > most {
            self.add(
                field,
                FaultReason::TooLong,
                format!("{field} has {given} characters; accepted: up to {most}; shorten it"),
            );
        }
    }
}

/// Another field that bounds a number.
pub(crate) struct Limit<'a> {
    pub(crate) field: &'a str,
    pub(crate) value: f64,
    pub(crate) or_equal: bool,
}

/// Whether a field is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Given {
    Yes,
    No,
}

impl<T> From<&Option<T>> for Given {
    fn from(field: &Option<T>) -> Self {
        if field.is_some() { Self::Yes } else { Self::No }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::{above, within};

    #[test]
    fn numbers_read_as_people_write_them() {
        for (value, text) in [
            (0.0, "0"),
            (-3.0, "-3"),
            (0.1 + 0.2, "0.3"),
            (200.0, "200"),
            (2_000_000.0, "2000000"),
            (1.0e-5, "0.00001"),
            (1.0e300, "1e300"),
            (123_456.789, "123456.789"),
        ] {
            assert_eq!(plain(value), text);
        }
    }

    #[test]
    fn limits_hold_at_the_ends_only_where_they_should() {
        assert!(within(0.5, 200.0, "m").holds(0.5));
        assert!(within(0.5, 200.0, "m").holds(200.0));
        assert!(!within(0.5, 200.0, "m").holds(0.499));
        assert!(!above(0.0, 140.0, "dB").holds(0.0));
        assert_eq!(above(0.0, 140.0, "dB").to_string(), "above 0 to 140 dB");
    }
}

/// Whether a text shows nothing: blanks, and characters without a glyph of their own (Unicode `Default_Ignorable_Code_Point`, and the
/// blank pattern of Braille).
#[must_use]
pub fn looks_empty(text: &str) -> bool {
    text.chars().all(|c| {
        c.is_whitespace()
            || c.is_control()
            || matches!(
                c,
                '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
                    | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}'
                    | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{e0000}'..='\u{e0fff}'
            )
    })
}

#[cfg(test)]
mod empty_tests {
    use super::looks_empty;

    #[test]
    fn what_shows_nothing_looks_empty() {
        for text in ["", " \t", "\u{200b}\u{feff}", "\u{2800}", "\u{3164} \u{ad}"] {
            assert!(looks_empty(text), "{text:?}");
        }
        for text in ["a", "\u{200b}x", "湖", ".", "٠"] {
            assert!(!looks_empty(text), "{text:?}");
        }
    }
}
