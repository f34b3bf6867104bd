//! Checks of a target.

use super::{Faults, within};
use crate::Fault;
use crate::target::{Target, TargetShape};

impl Target {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        match self.shape {
            TargetShape::Known(strength) => {
                faults.number(
                    "target_strength_db",
                    strength.value.get(),
                    within(-120.0, 20.0, "dB re 1 m^2"),
                    "give the target strength, or a shape with its size",
                );
            }
            TargetShape::Sphere { diameter, .. } => {
                millimetres(&mut faults, "sphere.diameter_mm", diameter.get(), 1.0, 100.0);
            }
            TargetShape::Disc { diameter } => millimetres(&mut faults, "disc.diameter_mm", diameter.get(), 1.0, 500.0),
            TargetShape::Cylinder { length, diameter } => {
                millimetres(&mut faults, "cylinder.length_mm", length.get(), 1.0, 500.0);
                millimetres(&mut faults, "cylinder.diameter_mm", diameter.get(), 0.5, 100.0);
            }
            TargetShape::Fish { length, .. } => {
                faults.number(
                    "fish.length_cm",
                    length.get() * 100.0,
                    within(1.0, 200.0, "cm"),
                    "give the total length of the fish",
                );
            }
        }
        faults.found.into_vec()
    }
}

fn millimetres(faults: &mut Faults, field: &str, metres: f64, low: f64, high: f64) {
    faults.number(field, metres * 1.0e3, within(low, high, "mm"), "give the size in millimetres");
}
