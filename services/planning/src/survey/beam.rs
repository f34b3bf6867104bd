//! The beam that is fitted: a piston's main lobe over a level beside it, from one table.

use std::sync::LazyLock;

use acoustics::pattern::{piston_amplitude, solve_level};
use acoustics::units::Db;

/// First zero of 2 J₁(x)/x.
pub(super) const FIRST_NULL: f64 = 3.831_705_970_207_512;
/// Intervals of the table up to the first null.
const STEPS: u32 = 4_096;
/// Level that stands for the null.
const DEEPEST: f64 = -200.0;

/// The main lobe in decibels over x = ka sin θ from 0 to the first null: the one shape that every beamwidth scales.
static LOBE: LazyLock<Lobe> = LazyLock::new(Lobe::new);

struct Lobe {
    levels: Vec<f64>,
    /// x at −3 dB.
    half_power: f64,
}

impl Lobe {
    fn new() -> Self {
        let level = |step: u32| {
            let amplitude = piston_amplitude(FIRST_NULL * f64::from(step) / f64::from(STEPS));
            if amplitude > 0.0 { (20.0 * libm::log10(amplitude)).max(DEEPEST) } else { DEEPEST }
        };
        Self { levels: (0..=STEPS).map(level).collect(), half_power: solve_level(piston_amplitude, Db::new(-3.0)) }
    }

    /// Level at x, linear between the steps; nothing beyond the null.
    fn at(&self, x: f64) -> Option<f64> {
        let place = x / FIRST_NULL * f64::from(STEPS);
        if place >= f64::from(STEPS) {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the table's length")]
        let index = place as usize;
        let (below, above) = (self.levels.get(index)?, self.levels.get(index + 1)?);
        Some(below + (above - below) * (place - libm::floor(place)))
    }
}

/// A beam of some width and some level beside its main lobe.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beam {
    /// ka.
    scale: f64,
    side: f64,
}

impl Beam {
    pub(super) fn new(beamwidth_deg: f64, side_db: f64) -> Self {
        let sine = libm::sin(0.5 * beamwidth_deg.to_radians());
        Self { scale: LOBE.half_power / sine, side: side_db }
    }

    /// One-way level at an angle from the axis, radians.
    pub(super) fn level(&self, angle: f64) -> f64 {
        let sine = libm::sin(angle.abs().min(std::f64::consts::FRAC_PI_2));
        LOBE.at(self.scale * sine).map_or(self.side, |level| level.max(self.side))
    }

    /// Angle at which the main lobe has fallen to the level beside it, radians.
    pub(super) fn edge(&self) -> f64 {
        let sine = |x: f64| libm::asin((x / self.scale).min(1.0));
        let (mut low, mut high) = (0.0, FIRST_NULL);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if LOBE.at(middle).is_some_and(|level| level > self.side) { low = middle } else { high = middle }
        }
        sine(0.5 * (low + high))
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
}
