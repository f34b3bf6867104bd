//! Figures with provenance, and money, as JSON.

use planning::domain::{Fact, Money, Provenance};
use serde::{Deserialize, Serialize};

/// A figure with its provenance.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub(crate) struct FactView {
    value: f64,
    provenance: ProvenanceView,
}

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ProvenanceView {
    Stated,
    Measured,
    Assumed,
}

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

impl From<Provenance> for ProvenanceView {
    fn from(p: Provenance) -> Self {
        match p {
            Provenance::Stated => Self::Stated,
            Provenance::Measured => Self::Measured,
            Provenance::Assumed => Self::Assumed,
        }
    }
}

impl From<ProvenanceView> for Provenance {
    fn from(p: ProvenanceView) -> Self {
        match p {
            ProvenanceView::Stated => Self::Stated,
            ProvenanceView::Measured => Self::Measured,
            ProvenanceView::Assumed => Self::Assumed,
        }
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

/// Declares the JSON name of each variant of a domain enum, both ways and without a wildcard.
macro_rules! names {
    ($view:ident => $domain:path { $($variant:ident),* $(,)? }) => {
        /// JSON names of the domain's enum.
        #[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum $view {
            $($variant),*
        }
        impl From<$domain> for $view {
            fn from(value: $domain) -> Self {
                use $domain as Domain;
                match value {
                    $(Domain::$variant => Self::$variant),*
                }
            }
        }
        impl From<$view> for $domain {
            fn from(value: $view) -> Self {
                use $domain as Domain;
                match value {
                    $($view::$variant => Domain::$variant),*
                }
            }
        }
    };
}
pub(crate) use names;
