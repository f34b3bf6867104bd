//! How the figures of a leaflet are meant where nobody says: at which level an angle is stated, and what a rating of power is.
//!
//! One draw holds for all sensors: two with the same figures never differ by luck. It has a random stream apart, so that what is known does not depend on it.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardUniform};

use acoustics::pattern::Pattern;
use acoustics::units::WidthLevel;
use domain::sensor::PowerKind;
use domain::{BeamOption, Source};

/// How often angles are stated at each level. Common practice, no published source: half power is the textbook's, and wider figures read better.
const LEVELS: [(WidthLevel, f64); 3] =
    [(WidthLevel::Minus3, 0.6), (WidthLevel::Minus6, 0.15), (WidthLevel::Minus10, 0.25)];
/// How often ratings of power are of each kind. Common practice, no published source.
const POWERS: [(PowerKind, f64); 3] = [(PowerKind::Rms, 0.5), (PowerKind::Peak, 0.15), (PowerKind::PeakToPeak, 0.35)];
/// Stream of random numbers, far from those of places, of neighbours and of how long sensors ring.
const STREAM: u64 = u64::MAX / 8;

/// What figures mean of which nobody says it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Conventions {
    pub(crate) level: WidthLevel,
    pub(crate) power: PowerKind,
}

impl Conventions {
    /// In numbers, to tell them apart: dB.
    pub(crate) fn values(self) -> [f64; 2] {
        [self.level.db().get(), power_shift(self.power)]
    }
}

/// The draws of a run.
pub(crate) struct ConventionDraws(ChaCha8Rng);

impl ConventionDraws {
    pub(crate) fn new(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(STREAM);
        Self(rng)
    }
}

impl Iterator for ConventionDraws {
    type Item = Conventions;

    fn next(&mut self) -> Option<Conventions> {
        let [level, power]: [f64; 2] = std::array::from_fn(|_| StandardUniform.sample(&mut self.0));
        Some(Conventions { level: at(&LEVELS, level), power: at(&POWERS, power) })
    }
}

/// The entry at a part of all, from 0 to 1.
fn at<T: Copy>([first, second, third]: &[(T, f64); 3], part: f64) -> T {
    if part < first.1 {
        first.0
    } else if part < first.1 + second.1 {
        second.0
    } else {
        third.0
    }
}

/// How much less a unit sends than one with as much power rms, dB.
fn power_shift(kind: PowerKind) -> f64 {
    10.0 * libm::log10(kind.rms_share())
}

/// What of an option is not said, and what each meaning of it would change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unsaid {
    /// How wide the beam is as a part of the one that is computed with, by the levels in their order; none where the level is known.
    widths: Option<[f64; 3]>,
    /// Whether nobody says what the rating of its power means.
    power: bool,
}

impl Unsaid {
    pub(crate) fn new(option: &BeamOption, pattern: &Pattern) -> Self {
        Self {
            widths: (!option.width_level_known).then(|| widths(pattern)),
            power: matches!(option.source, Source::Power { kind: None, .. }),
        }
    }

    /// How much wider the beam is than the one that is computed with.
    pub(crate) fn width(&self, meant: Conventions) -> f64 {
        let Some([minus_3, minus_6, minus_10]) = self.widths else { return 1.0 };
        match meant.level {
            WidthLevel::Minus3 => minus_3,
            WidthLevel::Minus6 => minus_6,
            WidthLevel::Minus10 => minus_10,
        }
    }

    /// How much louder it is than computed with, dB.
    pub(crate) fn power(&self, meant: Conventions) -> f64 {
        if self.power { power_shift(meant.power) } else { 0.0 }
    }
}

/// Widths as parts of that at −3 dB, of beams of which the same width is stated at each level: an aperture of the same kind is larger, so that all sines
/// shrink alike.
fn widths(pattern: &Pattern) -> [f64; 3] {
    let half = pattern.width(WidthLevel::Minus3).half().get();
    LEVELS.map(|(level, _)| {
        let share = libm::sin(half) / libm::sin(pattern.width(level).half().get());
        libm::asin(libm::sin(half) * share) / half
    })
}

#[cfg(test)]
mod tests {
    use acoustics::pattern::Aperture;
    use acoustics::units::{Beamwidth, Db, FullAngle};

    use super::*;

    fn piston(degrees: f64, at: WidthLevel) -> Pattern {
        let beamwidth = Beamwidth { full: FullAngle::from_degrees(degrees), at };
        Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap()
    }

    #[test]
    fn shares_are_parts_of_one_and_each_comes_as_often() {
        assert!((LEVELS.iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((POWERS.iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-12);
        assert_eq!(
            [0.0, 0.59, 0.61, 0.76, 1.0].map(|part| at(&LEVELS, part).db().get()),
            [-3.0, -3.0, -6.0, -10.0, -10.0]
        );
    }

    /// A beam whose width is stated at another level is that of the pattern which is compiled from the statement itself.
    #[test]
    fn a_width_at_another_level_scales_the_beam_as_its_aperture_would() {
        for degrees in [7.0, 13.0, 26.0, 44.0] {
            let unsaid = Unsaid { widths: Some(widths(&piston(degrees, WidthLevel::Minus3))), power: false };
            for (level, _) in LEVELS {
                let meant = Conventions { level, power: PowerKind::Rms };
                let own = piston(degrees, level).width(WidthLevel::Minus3).to_degrees();
                let scaled = degrees * unsaid.width(meant);
                assert!((own - scaled).abs() < 0.01 * own, "{degrees}° at {level:?}: {own} and {scaled}");
            }
        }
    }

    /// Power of a sine of unit amplitude into unit resistance: mean 1/2, peak 1; the swing of 2 from peak to peak counts 4 by the square.
    #[test]
    fn ratings_are_those_of_a_sine() {
        let (mean, peak, swing) = (0.5_f64, 1.0, 4.0);
        for (kind, rating) in [(PowerKind::Rms, mean), (PowerKind::Peak, peak), (PowerKind::PeakToPeak, swing)] {
            assert!((kind.rms_share() * rating - mean).abs() < 1e-12);
            assert!((power_shift(kind) - 10.0 * libm::log10(mean / rating)).abs() < 1e-12);
        }
    }
}
