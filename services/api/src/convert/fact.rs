//! Figures with their source, and money.

use domain::field::{Figure, Given};
use domain::{Money, Provenance};
use proto::v1;

use super::Reading;

/// Reads a figure that may be left out.
pub(crate) fn figure(reading: &mut Reading, field: &str, fact: Option<v1::Fact>) -> Figure {
    let fact = fact?;
    let source = provenance(reading, &format!("{field}.provenance"), fact.provenance);
    Some(Given { value: fact.value, spread: fact.spread, source: source.unwrap_or(Provenance::Assumed) })
}

/// Reads a provenance that must be said.
pub(crate) fn provenance(reading: &mut Reading, field: &str, number: i32) -> Option<Provenance> {
    let read = |value| match value {
        v1::Provenance::Unspecified => None,
        v1::Provenance::Stated => Some(Provenance::Stated),
        v1::Provenance::Measured => Some(Provenance::Measured),
        v1::Provenance::Assumed => Some(Provenance::Assumed),
        v1::Provenance::Charted => Some(Provenance::Charted),
        v1::Provenance::Told => Some(Provenance::Told),
    };
    reading.choice(field, number, read, v1::Provenance::as_str_name)
}

/// Writes a provenance.
pub(crate) fn provenance_to(provenance: Provenance) -> v1::Provenance {
    match provenance {
        Provenance::Stated => v1::Provenance::Stated,
        Provenance::Measured => v1::Provenance::Measured,
        Provenance::Assumed => v1::Provenance::Assumed,
        Provenance::Charted => v1::Provenance::Charted,
        Provenance::Told => v1::Provenance::Told,
    }
}

/// Writes a figure.
pub(crate) fn to(figure: Figure) -> Option<v1::Fact> {
    figure.map(|given| v1::Fact {
        value: given.value,
        provenance: provenance_to(given.source).into(),
        spread: given.spread,
    })
}

/// Reads money.
pub(crate) fn money(money: v1::Money) -> Money {
    Money { currency: money.currency_code, units: money.units, nanos: money.nanos }
}

/// Writes money.
pub(crate) fn money_to(money: &Money) -> v1::Money {
    v1::Money { currency_code: money.currency.clone(), units: money.units, nanos: money.nanos }
}
