//! A reference target under one option of a sensor: the gain at which it shows, by the sonar equation.

use acoustics::ModelError;
use acoustics::levels::{echo_level, source_level, two_way_loss, two_way_spreading};
use acoustics::pattern::Pattern;
use acoustics::units::{Celsius, Db, DbPerMetre, Hertz, Level, Metres, SourceLevel, TargetStrength};
use acoustics::water::WaterColumn;

use crate::selection::{View, aperture, strength};
use domain::sensor::rms;
use domain::{BeamOption, Sensor, Source, Target};

/// Everything of the sonar equation but range and direction.
#[derive(Debug, Clone)]
pub(crate) struct ReferenceEcho {
    source: SourceLevel,
    absorption: DbPerMetre,
    strength: TargetStrength,
    threshold: Level,
    pattern: Pattern,
}

impl ReferenceEcho {
    /// An option and a target in water of that depth, with that temperature at the bottom.
    pub(crate) fn new(
        (sensor, option): (&Sensor, &BeamOption),
        target: &Target,
        depth: Metres,
        bottom_temperature: Celsius,
    ) -> Result<Self, ModelError> {
        let frequency: Hertz = option.frequency.value;
        let column = WaterColumn::under_ice(depth, bottom_temperature);
        let pattern = Pattern::new(&aperture(&option.pattern), option.floor.value)?;
        let source = match option.source {
            Source::Stated(level) => level.value,
            Source::Power { electrical, kind, efficiency } => {
                let (density, speed) = (column.mean_density()?, column.mean_sound_speed()?);
                source_level(
                    rms(electrical.value, kind),
                    efficiency.value,
                    pattern.directivity_index(),
                    density,
                    speed,
                )?
            }
        };
        Ok(Self {
            source,
            absorption: column.absorption(frequency)?,
            strength: TargetStrength::new(strength(&target.shape, View::new(option, target.kind))?.db),
            threshold: sensor.threshold.value,
            pattern,
        })
    }

    /// The least gain at which a unit exactly as stated shows the target, without a margin: g = T0 − EL.
    pub(crate) fn least_gain(&self, range: Metres, one_way_pattern: Db) -> Db {
        let loss = two_way_loss(two_way_spreading(range), range, self.absorption);
        self.threshold - echo_level(self.source, loss, self.strength, one_way_pattern)
    }

    /// The pattern as stated.
    pub(crate) fn pattern(&self) -> &Pattern {
        &self.pattern
    }
}
