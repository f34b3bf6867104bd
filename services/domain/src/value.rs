//! What stands in a field: figures with their source and what they may be, choices by their names, and a number as people write it.

use crate::Provenance;

/// Longest name for people, in characters.
pub const MAX_NAME_CHARS: usize = 120;
/// Longest notes, in characters.
pub const MAX_NOTES_CHARS: usize = 2_000;

/// Relative slack at an inclusive limit: a figure that stood exactly on the limit in kHz, µs or degrees may be off by
/// some units in the last place after the conversion to SI and back.
pub(crate) const LIMIT_SLACK: f64 = 1.0e-9;

/// What a number may be, in the unit of its field's name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accepted {
    /// Least.
    pub low: f64,
    /// Greatest.
    pub high: f64,
    /// Whether `low` itself is refused.
    pub above_low: bool,
    /// Unit as people write it; empty for plain numbers.
    pub unit: &'static str,
}

/// From `low` to `high`, both accepted.
#[must_use]
pub const fn within(low: f64, high: f64, unit: &'static str) -> Accepted {
    Accepted { low, high, above_low: false, unit }
}

/// Above `low`, up to `high`.
#[must_use]
pub const fn above(low: f64, high: f64, unit: &'static str) -> Accepted {
    Accepted { low, high, above_low: true, unit }
}

impl Accepted {
    /// Whether it takes a value; NaN is taken nowhere.
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
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

/// A figure as somebody gave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// The figure, in the unit of its field's name.
    pub value: f64,
    /// One standard deviation of it, in the same unit, where it is known.
    pub spread: Option<f64>,
    /// Where it comes from.
    pub source: Provenance,
}

/// A figure of a record: not given, or given. What is not given stays so, and is resolved where it is used.
pub type Figure = Option<Given>;

impl Given {
    /// A figure that is printed somewhere.
    #[must_use]
    pub const fn stated(value: f64) -> Self {
        Self { value, spread: None, source: Provenance::Stated }
    }
}

/// What a column of a store or a cell of a file holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Nothing.
    Null,
    /// A number.
    Real(f64),
    /// A whole number.
    Whole(i64),
    /// Text.
    Text(String),
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

/// The names of a table of choices.
#[must_use]
pub const fn names<T, const N: usize>(choices: &[(&'static str, T); N]) -> [&'static str; N] {
    let mut names = [""; N];
    let mut at = 0;
    while at < N {
        #[allow(
            clippy::indexing_slicing,
            reason = "a constant is evaluated by the compiler, which refuses a wrong index"
        )]
        {
            names[at] = choices[at].0;
        }
        at += 1;
    }
    names
}

/// The name of a choice.
#[must_use]
pub fn name_of<T: PartialEq>(choices: &[(&'static str, T)], value: &T) -> Option<&'static str> {
    choices.iter().find(|(_, known)| known == value).map(|(name, _)| *name)
}

/// The choice of a name.
#[must_use]
pub fn named<T: Copy>(choices: &[(&'static str, T)], name: &str) -> Option<T> {
    choices.iter().find(|(known, _)| *known == name).map(|(_, value)| *value)
}
