//! Lengths and amounts as people type them.

use crate::say::{FOOT, Unit};

/// Reads `18 ft`, `18'`, `5.5 m`, `5,5`; a unit that is typed wins over the one of the field. Metres.
pub(crate) fn length(text: &str, unit: Unit) -> Option<f64> {
    let plain = text.trim().to_lowercase().replace(',', ".").replace('−', "-");
    let end = plain.rfind(|c: char| c.is_ascii_digit() || c == '.').map_or(0, |at| at + 1);
    let (figure, behind) = plain.split_at_checked(end)?;
    let unit = match behind.trim() {
        "" => unit,
        "m" | "metre" | "metres" | "meter" | "meters" => Unit::Metres,
        "ft" | "ft." | "'" | "′" | "’" | "foot" | "feet" | "fuß" | "fuss" => Unit::Feet,
        _ => return None,
    };
    let value: f64 = figure.trim().parse().ok()?;
    let metres = match unit {
        Unit::Metres => value,
        Unit::Feet => value * FOOT,
    };
    metres.is_finite().then_some(metres)
}

/// An amount of money in whole units and billionths; a currency behind it wins over that of the field.
pub(crate) fn amount(text: &str, currency: &str) -> Option<proto::v1::Money> {
    let plain = text.trim();
    let end = plain.rfind(|c: char| c.is_ascii_digit()).map_or(0, |at| at + 1);
    let (figure, behind) = plain.split_at_checked(end)?;
    let behind = behind.trim().trim_matches('.');
    let code = if behind.is_empty() { currency } else { behind };
    if code.len() != 3 || !code.bytes().all(|b| b.is_ascii_alphabetic()) {
        return None;
    }
    let (whole, part) = split_decimals(figure.trim())?;
    let units: i64 = whole.parse().ok()?;
    let nanos: i32 = format!("{part:0<9}").parse().ok()?;
    Some(proto::v1::Money { currency_code: code.to_uppercase(), units, nanos })
}

/// `1,234.50`, `1.234,50`, `300`: whole units and decimals. One mark with three digits behind it parts thousands.
fn split_decimals(figure: &str) -> Option<(String, String)> {
    let marks: Vec<(usize, char)> = figure.char_indices().filter(|(_, c)| matches!(c, '.' | ',')).collect();
    let decimals = marks.last().filter(|(at, mark)| {
        let behind = figure.len() - at - 1;
        let alone = marks.iter().all(|(other, same)| other == at || same != mark);
        alone && (behind != 3 || marks.len() > 1)
    });
    let (whole, part) = decimals.map_or((figure, ""), |(at, _)| (&figure[..*at], &figure[at + 1..]));
    let whole: String = whole.chars().filter(|c| !matches!(c, '.' | ',' | ' ' | '\u{a0}')).collect();
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    (!whole.is_empty() && digits(&whole) && digits(part) && part.len() <= 9).then(|| (whole, part.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_as_people_write_them() {
        for (text, unit, metres) in [
            ("18 ft", Unit::Metres, Some(5.4864)),
            ("18'", Unit::Metres, Some(5.4864)),
            ("18", Unit::Feet, Some(5.4864)),
            ("5.5 m", Unit::Feet, Some(5.5)),
            ("5,5", Unit::Metres, Some(5.5)),
            ("−30 ft", Unit::Metres, Some(-9.144)),
            ("", Unit::Feet, None),
            ("deep", Unit::Feet, None),
            ("18 yards", Unit::Feet, None),
            ("ft", Unit::Feet, None),
        ] {
            let read = length(text, unit);
            let same = match (read, metres) {
                (Some(a), Some(b)) => (a - b).abs() < 1e-9,
                (a, b) => a == b,
            };
            assert!(same, "{text}: {read:?}");
        }
    }

    #[test]
    fn amounts_are_read_in_both_ways_of_writing_them() {
        for (text, read) in [
            ("300", Some(("USD", 300, 0))),
            ("1,234.50", Some(("USD", 1_234, 500_000_000))),
            ("1.234,50 EUR", Some(("EUR", 1_234, 500_000_000))),
            ("1,200", Some(("USD", 1_200, 0))),
            ("99,5", Some(("USD", 99, 500_000_000))),
            ("-5", None),
            ("much", None),
            ("12 dollars", None),
        ] {
            let money = amount(text, "USD");
            let money = money.as_ref().map(|m| (m.currency_code.as_str(), m.units, m.nanos));
            assert_eq!(money, read, "{text}");
        }
    }
}
