//! Lengths as people type them: in metres, or in feet where `ft` stands behind.

use domain::notation::Numbers;
use domain::scale::{Scale, scale_of};
use domain::{Record, SpotRecord};

/// A foot, metres.
pub(crate) const FOOT: f64 = 0.3048;

/// A length as it was typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Length {
    /// To a tenth of a millimetre.
    pub(crate) metres: f64,
    /// Whether it was in feet.
    pub(crate) feet: bool,
    /// Whether it had a unit.
    pub(crate) said: bool,
}

/// The same reader as that of cells, with a decimal comma and metres where no unit is said.
fn lengths(scale: Option<Scale>) -> Numbers {
    Numbers { decimal_comma: true, scale, unit: "m" }
}

/// `18 ft`, `18'`, `5.5 m`, `5,5`.
pub(crate) fn read(text: &str) -> Option<Length> {
    let text = text.trim();
    let metres = lengths(Some(scale_of("m"))).read(text).ok()?;
    let unit = lengths(None).unit_in(text);
    Some(Length { metres: (metres * 1e4).round() / 1e4, feet: unit == Some(Scale::Feet), said: unit.is_some() })
}

/// What is wrong with a length for a field of a spot, in the unit in which it was typed.
pub(crate) fn beyond(text: &str, path: &str) -> Option<String> {
    let accepted = SpotRecord::FIELDS.iter().find(|field| field.path == path)?.range()?;
    let length = read(text)?;
    let in_metres =
        || (!accepted.holds(length.metres)).then(|| format!("it is {}; accepted: {accepted}", length.metres));
    lengths(Some(scale_of("m"))).out_of(text, accepted).or_else(in_metres)
}

/// `2.4`, `2.4m` or `8ft`, in metres.
pub(crate) fn metres(text: &str) -> Option<f64> {
    read(text).map(|length| length.metres)
}

/// Two lengths with a sign between them; feet behind the second are meant for the first as well: `8-15ft`, `8ft-15ft`, `2-5`.
pub(crate) fn pair(text: &str, between: &[char]) -> Option<(f64, f64)> {
    let (first, second) = text.split_once(between)?;
    let feet = read(second)?.feet && !read(first)?.said;
    Some((metres(&format!("{}{}", first.trim(), if feet { "ft" } else { "" }))?, metres(second)?))
}

/// As a flag's value.
pub(crate) fn flag(text: &str) -> Result<f64, String> {
    metres(text).ok_or_else(|| "write 6 for metres or 20ft for feet".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feet_and_metres_read_alike_in_every_place() {
        let rows = [
            ("6", Some((6.0, false, false))),
            ("2.4m", Some((2.4, false, true))),
            ("5,5", Some((5.5, false, false))),
            ("20ft", Some((6.096, true, true))),
            ("6 ft", Some((1.8288, true, true))),
            ("18'", Some((5.4864, true, true))),
            ("40 feet", Some((12.192, true, true))),
            ("ft", None),
            ("inf", None),
            ("", None),
            ("deep", None),
            ("18 yards", None),
            ("-", None),
        ];
        for (text, wanted) in rows {
            assert_eq!(read(text).map(|read| (read.metres, read.feet, read.said)), wanted, "{text}");
        }
        let rows = [
            ("12x8ft", Some((3.6576, 2.4384))),
            ("12ftx8ft", Some((3.6576, 2.4384))),
            ("3x2.4", Some((3.0, 2.4))),
            ("3mx8ft", Some((3.0, 2.4384))),
            ("3", None),
        ];
        for (text, wanted) in rows {
            assert_eq!(pair(text, &['x', '×']), wanted, "{text}");
        }
        assert_eq!(pair("8ft-15ft", &['-']), pair("8-15ft", &['-']));
    }

    #[test]
    fn limits_are_told_in_the_unit_that_was_typed() {
        assert_eq!(beyond("18ft", "depth_m"), None);
        assert_eq!(beyond("1800ft", "depth_m").unwrap(), "it is 1800; accepted: 1.65 to 656.16 ft");
        assert_eq!(beyond("600", "depth_m").unwrap(), "it is 600; accepted: 0.5 to 200 m");
    }
}
