//! The gain at which a sound unit shows a target straight under it.

use acoustics::ModelError;
use acoustics::levels::{echo_level, source_level};
use acoustics::pattern::Pattern;
use acoustics::units::{Db, Hertz, SourceLevel, TargetStrength};
use acoustics::water::WaterColumn;
use jiff::civil::Date;

use super::input::AssessmentInput;
use super::{Reading, check_of};
use crate::domain::{BeamOption, Id, Sensor, Source, Target, UnitCheck};
use crate::selection::{aperture, strength};

/// A check in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Observed {
    /// Index of the check.
    pub(super) check: usize,
    /// Index of the unit.
    pub(super) unit: usize,
    /// Index of its sensor.
    pub(super) sensor: usize,
    pub(super) expected: f64,
    pub(super) shown: f64,
    pub(super) deficit: f64,
}

impl Observed {
    pub(super) fn option<'a>(&self, input: &'a AssessmentInput) -> &'a Id {
        // A check that was observed exists; the unit's own id stands in for what cannot be.
        check_of(input, self.check).map_or_else(|| &input.settings.nothing, |check| &check.option)
    }

    pub(super) fn day(&self, input: &AssessmentInput) -> Date {
        check_of(input, self.check).map_or_else(Date::default, |check| check.day)
    }

    pub(super) fn swap<'a>(&self, input: &'a AssessmentInput) -> &'a str {
        check_of(input, self.check).map_or("", |check| check.swap.as_str())
    }

    pub(super) fn reading(&self, input: &AssessmentInput) -> Reading {
        let dial = input.sensors.get(self.sensor).map(|sensor| &sensor.dial);
        Reading {
            check: self.check,
            expected: Db::new(self.expected),
            expected_dial: dial.and_then(|dial| dial.dial_reading(Db::new(self.expected))),
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
