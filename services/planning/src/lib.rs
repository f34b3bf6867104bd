//! Domain types and decisions: which option suits a spot, what a shelter may hold, which units a fleet needs,
//! how a unit or a beam measured up. Pure: no I/O, no async, no clock, randomness only from a passed-in seed.

pub mod desirability;
pub mod dial;
pub mod domain;
mod error;
pub mod explain;
pub mod fleet;
pub mod goal;
pub mod layout;
mod neighbourhood;
pub mod picture;
pub mod rules;
pub mod selection;
mod sentence;
mod sounding;
pub mod survey;
pub mod uncertainty;
pub mod units;
pub mod wording;

pub use error::PlanningError;
pub use explain::explain;
pub use sentence::{Part, Sentence};
