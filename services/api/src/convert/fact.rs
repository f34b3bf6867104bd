//! Figures with provenance, and money.

use domain::{Fact, FaultReason, Money, Provenance};
use proto::v1;

use super::Reading;

/// Reads a figure that may be left out.
pub(crate) fn optional<T>(
    reading: &mut Reading,
    field: &str,
    fact: Option<v1::Fact>,
    make: impl Fn(f64) -> T,
) -> Option<Fact<T>> {
    let fact = fact?;
    let provenance = provenance(reading, &format!("{field}.provenance"), fact.provenance);
    Some(Fact { value: make(fact.value), provenance: provenance.unwrap_or(Provenance::Assumed) })
}

/// Reads a figure that must be given; where it is not, a stand-in keeps the reading going.
pub(crate) fn required<T>(
    reading: &mut Reading,
    field: &str,
    fact: Option<v1::Fact>,
    make: impl Fn(f64) -> T,
) -> Fact<T> {
    if fact.is_none() {
        reading.missing(field, "give its value and provenance");
    }
    optional(reading, field, fact, &make).unwrap_or_else(|| Fact::assumed(make(0.0)))
}

/// Refuses a figure that does not belong to the rest of the record.
pub(crate) fn out_of_place(reading: &mut Reading, field: &str, fact: Option<v1::Fact>, only: &str) {
    if fact.is_some() {
        reading.refuse(
            field,
            FaultReason::Contradiction,
            format!("{field} is given; it belongs to {only} only; drop it"),
        );
    }
}

/// Reads a provenance that must be said.
pub(crate) fn provenance(reading: &mut Reading, field: &str, number: i32) -> Option<Provenance> {
    let read = |value| match value {
        v1::Provenance::Unspecified => None,
        v1::Provenance::Stated => Some(Provenance::Stated),
        v1::Provenance::Measured => Some(Provenance::Measured),
        v1::Provenance::Assumed => Some(Provenance::Assumed),
    };
    reading.choice(field, number, read, v1::Provenance::as_str_name)
}

/// Writes a provenance.
pub(crate) fn provenance_to(provenance: Provenance) -> v1::Provenance {
    match provenance {
        Provenance::Stated => v1::Provenance::Stated,
        Provenance::Measured => v1::Provenance::Measured,
        Provenance::Assumed => v1::Provenance::Assumed,
    }
}

/// Writes a figure; `get` gives it in the unit of its field.
pub(crate) fn to<T: Copy>(fact: &Fact<T>, get: impl Fn(T) -> f64) -> v1::Fact {
    v1::Fact { value: get(fact.value), provenance: provenance_to(fact.provenance).into() }
}

/// Reads money.
pub(crate) fn money(money: v1::Money) -> Money {
    Money { currency: money.currency_code, units: money.units, nanos: money.nanos }
}

/// Writes money.
pub(crate) fn money_to(money: &Money) -> v1::Money {
    v1::Money { currency_code: money.currency.clone(), units: money.units, nanos: money.nanos }
}
