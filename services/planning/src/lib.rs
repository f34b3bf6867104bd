//! Decisions: which option suits a spot, what a shelter may hold, which units a fleet needs,
//! how a unit or a beam measured up. Pure: no I/O, no async, no clock, randomness only from a passed-in seed.

mod error;
pub mod explain;
pub mod fleet;
pub mod generic;
pub mod layout;
mod lean;
mod left_out;
mod neighbourhood;
pub mod picture;
pub mod recommend;
mod reference_echo;
pub mod rules;
pub mod selection;
pub mod survey;
pub mod uncertainty;
pub mod units;
pub mod unknown_place;

pub use error::PlanningError;
pub use explain::explain;
pub use lean::{LeanCost, lean_cost};
pub use left_out::LeftOut;
