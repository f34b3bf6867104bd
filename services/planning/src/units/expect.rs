//! The gain at which a sound unit shows a target straight under it.

use acoustics::ModelError;
use acoustics::units::{Db, HalfAngle};

use super::types::Reading;
use crate::reference_echo::ReferenceEcho;
use crate::selection::LEAN_ASKED;
use domain::{BeamOption, Sensor, Target, UnitCheck};

/// A check in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Observed<'a> {
    /// Index of the check.
    pub(super) index: usize,
    /// The check itself.
    pub(super) check: &'a UnitCheck,
    /// Index of the unit.
    pub(super) unit: usize,
    /// Its sensor.
    pub(super) sensor: &'a Sensor,
    /// Label of its swap; empty without one that can be used.
    pub(super) swap: &'a str,
    pub(super) expected: f64,
    pub(super) shown: f64,
    pub(super) deficit: f64,
    /// What a lean of 5° costs over the target, dB.
    pub(super) lean_cost: f64,
}

impl Observed<'_> {
    pub(super) fn reading(&self) -> Reading {
        Reading {
            check: self.index,
            expected: Db::new(self.expected),
            expected_dial: self.sensor.dial.dial_reading(Db::new(self.expected)),
            shown: Db::new(self.shown),
            deficit: Db::new(self.deficit),
            doubt: None,
        }
    }
}

/// The least gain at which a unit exactly as stated shows a target on its axis, without a margin; and what a lean of 5° costs.
pub(super) fn expected_gain(
    sensor: &Sensor,
    option: &BeamOption,
    target: &Target,
    check: &UnitCheck,
) -> Result<(f64, f64), ModelError> {
    let sounding = ReferenceEcho::new((sensor, option), target, check.depth, check.bottom_temperature)?;
    let leaning = sounding.pattern().level(HalfAngle::new(LEAN_ASKED));
    Ok((sounding.least_gain(check.depth, Db::new(0.0)).get(), -2.0 * leaning.get()))
}
