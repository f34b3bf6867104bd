//! Amounts of money as whole billionths: never a float.

use super::types::FleetInput;
use domain::{Fault, FaultReason, Money};

/// Billionths of a whole unit.
const NANOS: i128 = 1_000_000_000;
/// ISO 4217 for an amount that involves no currency: a plan without a price and without a budget costs nothing.
const NO_CURRENCY: &str = "XXX";

/// An amount in billionths.
pub(crate) fn nanos(money: &Money) -> i128 {
    i128::from(money.units) * NANOS + i128::from(money.nanos)
}

/// Billionths as an amount; an amount that no record could hold stays at the largest that one can.
pub(crate) fn money(nanos: i128, currency: Option<&str>) -> Money {
    let (units, rest) = (nanos.div_euclid(NANOS), nanos.rem_euclid(NANOS));
    Money {
        currency: currency.unwrap_or(NO_CURRENCY).to_owned(),
        units: i64::try_from(units).unwrap_or(i64::MAX),
        nanos: i32::try_from(rest).unwrap_or_default(),
    }
}

/// What one unit costs, in billionths; none where it is not for sale.
pub(super) fn price(input: &FleetInput, sensor: usize) -> Option<i128> {
    input.sensors.get(sensor)?.price.as_ref().map(nanos)
}

/// The one currency of the plan; none where nothing has a price.
pub(super) fn currency(input: &FleetInput) -> Option<&str> {
    let prices = input.options.iter().filter_map(|option| input.sensors.get(option.sensor)?.price.as_ref());
    input.budget.iter().chain(prices).map(|money| money.currency.as_str()).next()
}

/// An amount as people write it: `1,180 USD`, `99.50 EUR`.
pub(crate) fn written(nanos: i128, currency: Option<&str>) -> String {
    let amount = money(nanos, currency);
    let digits = amount.units.to_string();
    let mut grouped = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    let fraction = format!("{:09}", amount.nanos);
    let fraction = fraction.trim_end_matches('0');
    let point = if fraction.is_empty() { String::new() } else { format!(".{fraction:0<2}") };
    format!("{grouped}{point} {}", amount.currency)
}

/// Faults of a budget.
pub(crate) fn check_budget(field: &str, budget: &Money, faults: &mut Vec<Fault>) {
    let code = &budget.currency;
    let mut add = |name: &str, reason: FaultReason, text: String| {
        faults.push(Fault::new(format!("{field}.{name}"), reason, format!("{field}.{name} {text}")));
    };
    if code.len() != 3 || !code.chars().all(|c| c.is_ascii_uppercase()) {
        let given: String = code.chars().take(12).collect();
        let text = format!("is '{given}'; accepted: three capital letters of ISO 4217; use one such as EUR");
        add("currency_code", FaultReason::BadForm, text);
    }
    if budget.units < 0 {
        let text = format!("is {}; accepted: 0 or more; leave the {field} out for no limit", budget.units);
        add("units", FaultReason::OutOfRange, text);
    }
    if !(0..=999_999_999).contains(&budget.nanos) {
        let text = format!("is {}; accepted: 0 to 999999999; carry the rest into units", budget.nanos);
        add("nanos", FaultReason::OutOfRange, text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_written_as_people_do() {
        for (nanos, text) in [
            (0, "0 USD"),
            (1_180_000_000_000, "1,180 USD"),
            (99_500_000_000, "99.50 USD"),
            (1_234_567_120_000_000, "1,234,567.12 USD"),
            (1, "0.000000001 USD"),
        ] {
            assert_eq!(written(nanos, Some("USD")), text);
            assert_eq!(super::nanos(&money(nanos, Some("USD"))), nanos);
        }
        assert_eq!(written(0, None), format!("0 {NO_CURRENCY}"));
    }
}
