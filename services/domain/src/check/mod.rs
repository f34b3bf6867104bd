//! `check` on every record: each fault with the path of the field in the public API, what was given, what is accepted
//! and what to do. All faults of a record come back at once.

mod booking;
mod run;
mod sensor;
mod shelter;
mod spot;
mod survey;
mod target;
mod unit;

use super::{Fault, FaultList, FaultReason};

pub use run::MAX_DRAWS;
pub use unit::duplicate_serials;

/// Longest name for people, in characters.
pub const MAX_NAME_CHARS: usize = 120;
/// Longest notes, in characters.
pub const MAX_NOTES_CHARS: usize = 2_000;

/// Relative slack at an inclusive limit: a figure that stood exactly on the limit in kHz, µs or degrees may be off by
/// some units in the last place after the conversion to SI and back.
const LIMIT_SLACK: f64 = 1.0e-9;

/// What a number may be, in the unit of its field's name.
#[derive(Clone, Copy)]
struct Accepted {
    low: f64,
    high: f64,
    /// Whether `low` itself is refused.
    above_low: bool,
    unit: &'static str,
}

/// From `low` to `high`, both accepted.
const fn within(low: f64, high: f64, unit: &'static str) -> Accepted {
    Accepted { low, high, above_low: false, unit }
}

/// Above `low`, up to `high`.
const fn above(low: f64, high: f64, unit: &'static str) -> Accepted {
    Accepted { low, high, above_low: true, unit }
}

impl Accepted {
    fn holds(self, value: f64) -> bool {
        let slack_low = LIMIT_SLACK * self.low.abs();
        let slack_high = LIMIT_SLACK * self.high.abs();
        let over = if self.above_low { value > self.low } else { value >= self.low - slack_low };
        over && value <= self.high + slack_high
    }
}

impl std::fmt::Display for Accepted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let start = if self.above_low { "above " } else { "" };
        write!(f, "{start}{} to {}", plain(self.low), plain(self.high))?;
        if self.unit.is_empty() { Ok(()) } else { write!(f, " {}", self.unit) }
    }
}

/// A number as people write it: up to nine significant digits, no trailing zeros.
pub fn plain(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return value.to_string();
    }
    let magnitude = libm::floor(libm::log10(value.abs()));
    if !(-6.0..15.0).contains(&magnitude) {
        return format!("{value:e}");
    }
    let mut decimals = 8;
    let mut power = 0.0;
    while power < magnitude && decimals > 0 {
        decimals -= 1;
        power += 1.0;
    }
    while power > magnitude {
        decimals += 1;
        power -= 1.0;
    }
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Collects the faults of one record.
#[derive(Default)]
struct Faults {
    found: FaultList,
}

impl Faults {
    fn add(&mut self, field: &str, reason: FaultReason, message: String) {
        self.found.push(Fault::new(field, reason, message));
    }

    /// A number in the unit of its field; true when it is accepted.
    fn number(&mut self, field: &str, value: f64, accepted: Accepted, advice: &str) -> bool {
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
    fn at_most(&mut self, field: &str, value: f64, limit: Limit<'_>, advice: &str) {
        let fine = if limit.or_equal { value <= limit.value * (1.0 + LIMIT_SLACK) } else { value < limit.value };
        if !fine {
            let relation = if limit.or_equal { "not above" } else { "less than" };
            self.add(
                field,
                FaultReason::Contradiction,
                format!(
                    "{field} is {}; accepted: {relation} {}, which is {}; {advice}",
                    plain(value),
                    limit.field,
                    plain(limit.value)
                ),
            );
        }
    }

    /// How many entries a list holds. Where that is refused, nothing is done for each of them.
    fn count(&mut self, field: &str, given: usize, least: usize, most: usize, advice: &str) -> bool {
        if (least..=most).contains(&given) {
            return true;
        }
        let reason = if given == 0 { FaultReason::Missing } else { FaultReason::OutOfRange };
        self.add(field, reason, format!("{field} has {given} entries; accepted: {least} to {most}; {advice}"));
        false
    }

    /// A required name for people.
    fn name(&mut self, field: &str, text: &str) {
        if looks_empty(text) {
            let kind = if text.trim().is_empty() { "is empty" } else { "holds nothing that shows" };
            self.add(
                field,
                FaultReason::Missing,
                format!(
                    "{field} {kind}; accepted: 1 to {MAX_NAME_CHARS} characters; give a name that people know it by"
                ),
            );
        }
        self.short_text(field, text);
    }

    /// One line of text, possibly empty.
    fn short_text(&mut self, field: &str, text: &str) {
        self.length(field, text, MAX_NAME_CHARS);
        if text.chars().any(char::is_control) {
            self.add(
                field,
                FaultReason::BadForm,
                format!("{field} holds a control character; accepted: one line of printable text; remove it"),
            );
        }
    }

    /// Free notes: several lines are fine, other control characters are not.
    fn notes(&mut self, text: &str) {
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

/// The fault of a water depth, if it has one.
pub fn depth(field: &str, depth: acoustics::units::Metres) -> Vec<Fault> {
    let mut faults = Faults::default();
    faults.number(field, depth.get(), within(0.5, 200.0, "m"), "give a water depth");
    faults.found.into_vec()
}

/// Another field that bounds a number.
struct Limit<'a> {
    field: &'a str,
    value: f64,
    or_equal: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

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
