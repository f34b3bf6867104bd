//! Records as people give them: flat, each figure in the unit that its name ends with, what was not given left open. Each has
//! its table of fields beside it. `resolve` makes of a record what is computed with, and fills in defaults then and not before;
//! what is computed with can be written as a record again, with everything given.

pub mod goal;
pub mod option;
pub mod sensor;
pub mod shelter;
pub mod spot;
pub mod target;

pub use goal::GoalRecord;
pub use option::OptionRecord;
pub use sensor::SensorRecord;
pub use shelter::ShelterRecord;
pub use spot::SpotRecord;
pub use target::TargetRecord;

use crate::field::{Figure, Given};
use crate::scale::Scale;
use crate::{Fact, Fault, FaultReason};

/// What is computed with, as a figure of a record; `get` gives it in the canonical unit.
pub(crate) fn given<T: Copy>(fact: Fact<T>, scale: Scale, get: impl Fn(T) -> f64) -> Figure {
    Some(Given { value: scale.from_si(get(fact.value)), spread: None, source: fact.provenance })
}

/// A figure of a record as it is computed with.
pub(crate) fn fact<T>(figure: Figure, scale: Scale, make: impl Fn(f64) -> T) -> Option<Fact<T>> {
    figure.map(|given| Fact { value: make(scale.to_si(given.value)), provenance: given.source })
}

/// The fault of a record that cannot be computed with, as a check would have told.
pub(crate) fn lacks(field: &str) -> Fault {
    Fault::new(field, FaultReason::Missing, format!("{field} is left out; it is required; give it"))
}
