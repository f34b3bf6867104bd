//! The gain at which a sound unit shows a target straight under it.

use acoustics::ModelError;
use acoustics::levels::{echo_level, source_level};
use acoustics::pattern::Pattern;
use acoustics::units::{Db, Hertz, SourceLevel, TargetStrength};
use acoustics::water::WaterColumn;

use super::Reading;
use crate::domain::{BeamOption, Sensor, Source, Target, UnitCheck};
use crate::selection::{aperture, strength};

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
    pub(super) expected: f64,
    pub(super) shown: f64,
    pub(super) deficit: f64,
}

impl Observed<'_> {
    pub(super) fn reading(&self) -> Reading {
        Reading {
            check: self.index,
            expected: Db::new(self.expected),
            expected_dial: self.sensor.dial.dial_reading(Db::new(self.expected)),
            shown: Db::new(self.shown),
            deficit: Db::new(self.deficit),
        }
    }
}

/// The least gain at which a unit exactly as stated shows a target on its axis: g = T0 − EL, without a margin.
pub(super) fn expected_gain(
    sensor: &Sensor,
    option: &BeamOption,
    target: &Target,
    check: &UnitCheck,
) -> Result<f64, ModelError> {
    let frequency: Hertz = option.frequency.value;
    let column = WaterColumn::under_ice(check.depth, check.bottom_temperature);
    let source: SourceLevel = match option.source {
        Source::Stated(level) => level.value,
        Source::Power { electrical, efficiency } => {
            let pattern = Pattern::new(&aperture(&option.pattern), option.floor.value)?;
            let (density, speed) = (column.mean_density()?, column.mean_sound_speed()?);
            source_level(electrical.value, efficiency.value, pattern.directivity_index(), density, speed)?
        }
    };
    let strength = TargetStrength::new(strength(&target.shape, frequency)?.db);
    let echo = echo_level(source, check.depth, column.absorption(frequency)?, strength, Db::new(0.0));
    Ok((sensor.threshold.value - echo).get())
}
