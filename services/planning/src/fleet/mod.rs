//! Fleet plans: which units to buy, and which to give to whom.

mod types;

mod solver;
pub use types::{Assignment, DEFAULT_GAP, FleetInput, FleetPlan, Purchase, SensorDay, SetUpCard, Unmet, UnmetReason};

use crate::PlanningError;

/// Plans a fleet. `wanted` is asked now and then whether anybody still waits for the plan.
///
/// # Errors
/// Every fault of the input at once; or nobody waits any more.
pub fn plan(input: &FleetInput, wanted: &(dyn Fn() -> bool + Sync)) -> Result<FleetPlan, PlanningError> {
    let _ = input;
    if wanted() { Err(PlanningError::Faults(Vec::new())) } else { Err(PlanningError::NotWanted) }
}
