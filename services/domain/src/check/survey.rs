//! Checks of a beam survey.

use super::{Faults, within};
use crate::{BeamSurvey, Fault};

/// Most readings of one survey.
const MAX_READINGS: usize = 5_000;

impl BeamSurvey {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        let warmth = "give the temperature at the bottom, or leave it out for 4 °C";
        faults.number("bottom_temperature_c", self.bottom_temperature.get(), within(-2.0, 40.0, "°C"), warmth);
        if !faults.count("readings", self.readings.len(), 1, MAX_READINGS, "give what was seen") {
            return faults.found.into_vec();
        }
        for (index, reading) in self.readings.iter().enumerate() {
            let field = |name: &str| format!("readings[{index}].{name}");
            let offset = "give the distance along the line of holes, negative on one side";
            faults.number(&field("offset_m"), reading.offset.get(), within(-30.0, 30.0, "m"), offset);
            let depth = "give the depth of the target under the transducer";
            faults.number(&field("depth_m"), reading.depth.get(), within(0.5, 200.0, "m"), depth);
            let gain = "give the gain in decibels over zero gain";
            faults.number(&field("gain_db"), reading.outcome.gain().get(), within(0.0, 140.0, "dB"), gain);
        }
        faults.found.into_vec()
    }
}
