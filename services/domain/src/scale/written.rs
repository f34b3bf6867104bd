//! Units as people write them beside a figure: `180 kHz`, `18 ft`, `14°`.

use super::Scale;

/// Words for units, each with its scale.
type Words = &'static [(&'static str, Scale)];

const LENGTHS: Words = &[
    ("m", Scale::One),
    ("metre", Scale::One),
    ("metres", Scale::One),
    ("meter", Scale::One),
    ("meters", Scale::One),
    ("cm", Scale::Centimetres),
    ("mm", Scale::Millimetres),
    ("ft", Scale::Feet),
    ("foot", Scale::Feet),
    ("feet", Scale::Feet),
    ("'", Scale::Feet),
    ("′", Scale::Feet),
    ("’", Scale::Feet),
    ("in", Scale::Inches),
    ("inch", Scale::Inches),
    ("inches", Scale::Inches),
    ("\"", Scale::Inches),
    ("″", Scale::Inches),
    ("”", Scale::Inches),
];
const FREQUENCIES: Words = &[("khz", Scale::Kilohertz), ("hz", Scale::One), ("mhz", Scale::Megahertz)];
const POWERS: Words = &[("w", Scale::One), ("watt", Scale::One), ("watts", Scale::One), ("kw", Scale::Kilowatts)];
const ANGLES: Words = &[
    ("deg", Scale::Degrees),
    ("°", Scale::Degrees),
    ("degree", Scale::Degrees),
    ("degrees", Scale::Degrees),
    ("grad", Scale::Degrees),
];
const TIMES: Words = &[
    ("ms", Scale::Milliseconds),
    ("us", Scale::Microseconds),
    ("µs", Scale::Microseconds),
    ("μs", Scale::Microseconds),
    ("s", Scale::One),
];
const DEGREES: Words = &[
    ("c", Scale::One),
    ("°c", Scale::One),
    ("degc", Scale::One),
    ("f", Scale::Fahrenheit),
    ("°f", Scale::Fahrenheit),
    ("degf", Scale::Fahrenheit),
];

/// The words for units that a figure in this unit may be written in, those of its own first.
fn words(unit: &str) -> (Scale, Words) {
    match unit {
        "m" => (Scale::One, LENGTHS),
        "cm" => (Scale::Centimetres, LENGTHS),
        "mm" => (Scale::Millimetres, LENGTHS),
        "kHz" => (Scale::Kilohertz, FREQUENCIES),
        "W" => (Scale::One, POWERS),
        "degrees" => (Scale::Degrees, ANGLES),
        "ms" => (Scale::Milliseconds, TIMES),
        "µs" => (Scale::Microseconds, TIMES),
        "°C" => (Scale::One, DEGREES),
        "%" => (Scale::Percent, &[("percent", Scale::Percent), ("%", Scale::Percent)]),
        decibels if decibels.starts_with("dB") => (Scale::One, &[("db", Scale::One)]),
        _ => (Scale::One, &[]),
    }
}

/// The scale of a field's unit against the canonical one.
#[must_use]
pub fn scale_of(unit: &str) -> Scale {
    words(unit).0
}

/// The scale of a unit as somebody wrote it beside a figure whose field is in another unit of the same kind.
#[must_use]
pub fn scale_of_word(unit: &str, word: &str) -> Option<Scale> {
    let plain = word.trim().trim_end_matches('.').to_lowercase();
    words(unit).1.iter().find(|(known, _)| *known == plain).map(|(_, scale)| *scale)
}

/// The units that a figure in this unit may be written in, each by its first word.
#[must_use]
pub fn words_of(unit: &str) -> Vec<(&'static str, Scale)> {
    let mut first: Vec<(&'static str, Scale)> = Vec::new();
    for (word, scale) in words(unit).1 {
        if first.iter().all(|(_, known)| known != scale) {
            first.push((word, *scale));
        }
    }
    first
}
