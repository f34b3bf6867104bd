//! Figures with provenance, and money, as JSON.

use domain::{Fact, Money, Provenance};
use serde::{Deserialize, Serialize};

/// A figure with its provenance.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub(crate) struct FactView {
    value: f64,
    provenance: ProvenanceView,
}

names!(ProvenanceView => Provenance { Stated, Measured, Assumed });

impl FactView {
    /// The figure in the unit that the JSON field is named after.
    pub(crate) fn of<T: Copy>(fact: Fact<T>, get: impl Fn(T) -> f64) -> Self {
        Self { value: get(fact.value), provenance: fact.provenance.into() }
    }

    /// The figure back as a quantity.
    pub(crate) fn to<T>(self, new: impl Fn(f64) -> T) -> Fact<T> {
        Fact { value: new(self.value), provenance: self.provenance.into() }
    }
}

/// An amount of money.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct MoneyView {
    currency: String,
    units: i64,
    nanos: i32,
}

impl From<&Money> for MoneyView {
    fn from(m: &Money) -> Self {
        Self { currency: m.currency.clone(), units: m.units, nanos: m.nanos }
    }
}

impl From<MoneyView> for Money {
    fn from(m: MoneyView) -> Self {
        Self { currency: m.currency, units: m.units, nanos: m.nanos }
    }
}
