//! The beam that is fitted: a piston with its side lobes, over a floor that fills its nulls, from one table.

use std::sync::LazyLock;

use acoustics::pattern::{piston_amplitude, solve_level};
use acoustics::units::Db;

/// First zero of 2 J₁(x)/x.
const FIRST_NULL: f64 = 3.831_705_970_207_512;
/// Intervals of the table up to the first null, and in all: side lobes beyond are under −50 dB, the least floor that is fitted.
const STEPS: u32 = 4_096;
const ALL_STEPS: u32 = 18 * STEPS;
/// Level that stands for the null.
const DEEPEST: f64 = -200.0;

/// The piston in decibels over x = ka sin θ: the one shape that every beamwidth scales.
static PISTON: LazyLock<Piston> = LazyLock::new(Piston::new);

struct Piston {
    levels: Vec<f64>,
    /// x at −3 dB.
    half_power: f64,
}

impl Piston {
    fn new() -> Self {
        let level = |step: u32| {
            let amplitude = piston_amplitude(FIRST_NULL * f64::from(step) / f64::from(STEPS));
            if amplitude == 0.0 { DEEPEST } else { (20.0 * libm::log10(amplitude.abs())).max(DEEPEST) }
        };
        Self { levels: (0..=ALL_STEPS).map(level).collect(), half_power: solve_level(piston_amplitude, Db::new(-3.0)) }
    }

    /// Level at x, linear between the steps; none beyond the table.
    fn at(&self, x: f64) -> Option<f64> {
        let place = x * (f64::from(STEPS) / FIRST_NULL);
        if place >= f64::from(ALL_STEPS) {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the table's length")]
        let index = place as usize;
        let (below, above) = (self.levels.get(index)?, self.levels.get(index + 1)?);
        #[allow(clippy::cast_precision_loss, reason = "an index of the table")]
        let share = place - index as f64;
        Some(below + (above - below) * share)
    }
}

/// A piston of some width over some floor.
#[derive(Clone, Copy)]
pub(super) struct Beam {
    piston: &'static Piston,
    /// ka.
    scale: f64,
    floor: f64,
}

impl Beam {
    pub(super) fn new(beamwidth_deg: f64, floor_db: f64) -> Self {
        let piston: &'static Piston = &PISTON;
        let sine = libm::sin(0.5 * beamwidth_deg.to_radians());
        Self { piston, scale: piston.half_power / sine, floor: floor_db }
    }

    /// One-way level at an angle from the axis, radians.
    pub(super) fn level(&self, angle: f64) -> f64 {
        self.level_at_sine(libm::sin(angle.abs().min(std::f64::consts::FRAC_PI_2)))
    }

    /// One-way level where the angle from the axis has that sine.
    pub(super) fn level_at_sine(&self, sine: f64) -> f64 {
        self.piston.at(self.scale * sine).map_or(self.floor, |level| level.max(self.floor))
    }

    /// Angle at which the main lobe has fallen to the floor, radians.
    pub(super) fn edge(&self) -> f64 {
        let (mut low, mut high) = (0.0, FIRST_NULL);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if self.piston.at(middle).is_some_and(|level| level > self.floor) { low = middle } else { high = middle }
        }
        libm::asin((0.5 * (low + high) / self.scale).min(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use acoustics::pattern::{Aperture, Pattern};
    use acoustics::units::{Beamwidth, FullAngle, HalfAngle, WidthLevel};

    #[test]
    fn the_main_lobe_is_the_piston_of_the_acoustics_crate() {
        for degrees in [6.0, 12.0, 19.0, 45.0] {
            let beamwidth = Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 };
            let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap();
            let beam = Beam::new(degrees, -40.0);
            for share in [0.0, 0.3, 0.5, 0.8, 1.0] {
                let angle = share * degrees.to_radians();
                let difference = beam.level(angle) - pattern.level(HalfAngle::new(angle)).get();
                assert!(difference.abs() < 0.02, "{degrees}° at {share}: {difference}");
            }
            assert!((beam.level(beam.edge()) + 40.0).abs() < 0.1);
        }
    }

    #[test]
    fn side_lobes_are_those_of_the_piston_and_nulls_are_filled() {
        // Its first side lobe is at −17.57 dB where x is 5.136, its second at −23.8 dB where x is 8.417 (tables of 2 J₁(x)/x).
        let beam = Beam::new(12.0, -40.0);
        for (x, level) in [(5.136, -17.57), (8.417, -23.81), (FIRST_NULL, -40.0), (7.016, -40.0)] {
            let ours = beam.level_at_sine(x / beam.scale);
            assert!((ours - level).abs() < 0.01, "{x}: {ours}");
        }
        // Between the steps of the table it is the function itself.
        for index in 0..200 {
            let x = 0.01 + 0.0737 * f64::from(index);
            let exact = (20.0 * libm::log10(piston_amplitude(x).abs())).max(-40.0);
            assert!((beam.level_at_sine(x / beam.scale) - exact).abs() < 0.01, "{x}");
        }
    }
}
