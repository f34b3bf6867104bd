//! How domain types lie in a column: JSON in SI units, read and written without loss. Views are this crate's own; the domain is not
//! `Serialize`.

mod fact;
mod finding;
mod places;
mod run;
mod sensor;

pub(crate) use finding::{AssumptionsView, DetailView};
pub(crate) use places::{ShelterView, SpotView, TargetView};
pub(crate) use run::RunInputView;
pub(crate) use sensor::SensorView;
