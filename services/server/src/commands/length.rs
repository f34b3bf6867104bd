//! Lengths as people type them: in metres, or in feet where `ft` stands behind.

/// A foot, metres.
pub(crate) const FOOT: f64 = 0.3048;

/// `2.4`, `2.4m` or `8ft`, in metres to a tenth of a millimetre.
pub(crate) fn metres(text: &str) -> Option<f64> {
    let text = text.trim();
    let (figure, unit) = match text.strip_suffix("ft") {
        Some(feet) => (feet, FOOT),
        None => (text.strip_suffix('m').unwrap_or(text), 1.0),
    };
    let value = figure.trim().parse::<f64>().ok().filter(|value| value.is_finite())?;
    Some((value * unit * 1e4).round() / 1e4)
}

/// Two lengths with a sign between them; feet behind the second are meant for the first as well: `8-15ft`, `8ft-15ft`, `2-5`.
pub(crate) fn pair(text: &str, between: &[char]) -> Option<(f64, f64)> {
    let (first, second) = text.split_once(between)?;
    let unit = if second.trim().ends_with("ft") && !first.trim().ends_with(['t', 'm']) { "ft" } else { "" };
    Some((metres(&format!("{}{unit}", first.trim()))?, metres(second)?))
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
            ("6", Some(6.0)),
            ("2.4m", Some(2.4)),
            ("20ft", Some(6.096)),
            ("6 ft", Some(1.8288)),
            ("ft", None),
            ("inf", None),
        ];
        for (text, wanted) in rows {
            assert_eq!(metres(text), wanted, "{text}");
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
}
