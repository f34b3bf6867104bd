//! Checks of units and of what was read off them.

use super::{Faults, within};
use crate::{Fault, FaultReason, Unit, UnitCheck};
use std::collections::HashMap;

/// Longest label of a swap.
const MAX_LABEL: usize = 60;

impl Unit {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        faults.name("serial", &self.serial);
        faults.found.into_vec()
    }
}

/// Serials that several units bear; each later unit is a fault.
#[must_use]
pub fn duplicate_serials(units: &[Unit]) -> Vec<Fault> {
    let mut seen: HashMap<(&str, &str), &Unit> = HashMap::new();
    let mut faults = Vec::new();
    for unit in units {
        let serial = unit.serial.trim();
        if let Some(first) = seen.get(&(unit.sensor.as_str(), serial)) {
            faults.push(Fault::new(
                format!("units/{}.serial", unit.id),
                FaultReason::Duplicate,
                format!(
                    "unit '{}' bears serial '{serial}', as does unit '{}'; accepted: each serial of a sensor once; correct one of them, or delete it",
                    unit.id, first.id
                ),
            ));
        } else {
            seen.insert((unit.sensor.as_str(), serial), unit);
        }
    }
    faults
}

impl UnitCheck {
    /// Every fault of this record, with field paths of the public API; empty when it is sound. Whether the position is on the
    /// dial only the sensor tells.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        let depth = "give the depth of the target under the transducer";
        faults.number("depth_m", self.depth.get(), within(0.5, 200.0, "m"), depth);
        let warmth = "give the temperature at the bottom, or leave it out for 4 °C";
        faults.number("bottom_temperature_c", self.bottom_temperature.get(), within(-2.0, 40.0, "°C"), warmth);
        faults.name("shown_at", &self.shown_at);
        faults.short_text("swap", &self.swap);
        faults.length("swap", &self.swap, MAX_LABEL);
        faults.notes(&self.notes);
        faults.found.into_vec()
    }
}
