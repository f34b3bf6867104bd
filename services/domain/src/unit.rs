//! Units that somebody owns, and checks of them with a reference target.

use acoustics::units::{Celsius, Metres};
use jiff::civil::Date;

use super::Id;

/// One piece of a sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// Which sensor it is a piece of.
    pub sensor: Id,
    /// What is engraved or stuck on it.
    pub serial: String,
    /// Where it is.
    pub state: UnitState,
}

/// Where a unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UnitState {
    /// Ready to be given out.
    Ready,
    /// In repair.
    InRepair,
    /// Lent to somebody else.
    OnLoan,
    /// Not used any more.
    Retired,
}

/// One check: at which position of the dial a target first showed.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitCheck {
    /// Resource id.
    pub id: Id,
    /// The unit.
    pub unit: Id,
    /// The option of the unit's sensor that was used.
    pub option: Id,
    /// The reference target.
    pub target: Id,
    /// The day.
    pub day: Date,
    /// Depth of the target under the transducer.
    pub depth: Metres,
    /// Position of the dial at which the target first showed, as it was read.
    pub shown_at: String,
    /// Temperature at the bottom.
    pub bottom_temperature: Celsius,
    /// Label that two checks share when the units were swapped in one hole over one target; empty without.
    pub swap: String,
    /// Free notes.
    pub notes: String,
}
