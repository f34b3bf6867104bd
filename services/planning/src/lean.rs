//! What a transducer that does not hang upright costs at a spot.

use acoustics::units::{Db, Metres};

use crate::PlanningError;
use crate::selection::{LEAN_ASKED, Perturbation, Prepared};

/// What 5° more of lean, away from the lure, cost: a transducer that rests on the near rim of the hole and looks at its far wall. Neighbours count as
/// they are heard without it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeanCost {
    /// How much more gain is needed.
    pub more: Db,
    /// Height over the bottom under which the lure is hidden then.
    pub hidden: Metres,
    /// Score before and then.
    pub scores: [f64; 2],
    /// Whether the lure is outside the beam then.
    pub lost: bool,
}

/// The cost for one option at one spot.
///
/// # Errors
/// An index that the run does not have.
pub fn lean_cost(prepared: &Prepared, spot: usize, option: usize) -> Result<LeanCost, PlanningError> {
    let at = |lean: f64| prepared.figures(spot, option, &Perturbation { tilt: [lean, 0.0], ..Perturbation::NONE });
    let (before, then) = (at(0.0)?, at(-LEAN_ASKED)?);
    Ok(LeanCost {
        more: Db::new(then.working_gain - before.working_gain),
        hidden: Metres::new(then.dead_zone_height),
        scores: [before.score(), then.score()],
        lost: then.lure_off_axis > then.lobe_radius,
    })
}
