//! What a place may be of which nobody knows the bottom, or whether weeds stand there.
//!
//! The draws of such a place have a random stream apart, so that those of places that are known do not depend on it.

use std::borrow::Cow;

use acoustics::units::Metres;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardUniform};

use domain::{BottomClass, Canopy, CanopyDensity, Provenance, Spot};

/// What bottoms of lakes are where nobody knows, with how often: one class for each word that people have for them. Common practice, no
/// published source.
pub(crate) const BOTTOMS: [(BottomClass, f64); 4] =
    [(BottomClass::SoftMud, 0.2), (BottomClass::Silt, 0.3), (BottomClass::MediumSand, 0.3), (BottomClass::Gravel, 0.2)];
/// How often weeds stand where nobody knows. Common practice, no published source.
const WEEDS: f64 = 0.3;
/// How high they are, as a part of the depth, and at most, m.
const WEEDS_HEIGHT: (f64, f64) = (0.25, 1.0);

/// Whether something of a place is not known.
pub(crate) fn is_unknown(spot: &Spot) -> bool {
    has_unknown_bottom(spot) || spot.canopy_unknown
}

/// Whether the bottom of a place is not known.
pub(crate) fn has_unknown_bottom(spot: &Spot) -> bool {
    spot.bottom_from == Provenance::Assumed
}

/// The bottoms that a place may have.
#[must_use = "an iterator does nothing by itself"]
pub fn bottoms(spot: &Spot) -> impl Iterator<Item = BottomClass> {
    let drawn = BOTTOMS.into_iter().map(|(class, _)| class).filter(|_| has_unknown_bottom(spot));
    std::iter::once(spot.bottom).chain(drawn)
}

/// One draw of a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct DrawnPlace {
    pub(crate) bottom: BottomClass,
    pub(crate) canopy: Option<Canopy>,
}

impl DrawnPlace {
    /// The spot as it is drawn.
    pub(crate) fn applied<'s>(&self, spot: &'s Spot) -> Cow<'s, Spot> {
        if is_unknown(spot) {
            Cow::Owned(Spot { bottom: self.bottom, canopy: self.canopy, ..spot.clone() })
        } else {
            Cow::Borrowed(spot)
        }
    }
}

/// The draws of one place.
pub(crate) struct DrawnPlaces<'s> {
    spot: &'s Spot,
    rng: ChaCha8Rng,
}

impl<'s> DrawnPlaces<'s> {
    /// The draws of a place that has a number among the places of a run.
    pub(crate) fn new(spot: &'s Spot, seed: u64, place: usize) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::MAX - u64::try_from(place).unwrap_or(0));
        Self { spot, rng }
    }
}

impl Iterator for DrawnPlaces<'_> {
    type Item = DrawnPlace;

    fn next(&mut self) -> Option<DrawnPlace> {
        let [ground, weeds]: [f64; 2] = std::array::from_fn(|_| StandardUniform.sample(&mut self.rng));
        let bottom = if has_unknown_bottom(self.spot) { bottom_at(ground) } else { self.spot.bottom };
        let canopy = match self.spot.canopy_unknown && weeds < WEEDS {
            true => Some(usual_weeds(self.spot.depth)),
            false => self.spot.canopy,
        };
        Some(DrawnPlace { bottom, canopy })
    }
}

/// The bottom at a part of all, from 0 to 1.
fn bottom_at(part: f64) -> BottomClass {
    let mut left = part;
    let found = BOTTOMS.iter().find(|(_, share)| {
        left -= share;
        left < 0.0
    });
    found.or(BOTTOMS.last()).map_or(domain::defaults::BOTTOM, |(class, _)| *class)
}

/// Weeds of which nothing is known but that they are there.
fn usual_weeds(depth: Metres) -> Canopy {
    let (share, most) = WEEDS_HEIGHT;
    Canopy {
        height: Metres::new((share * depth.get()).min(most)),
        density: CanopyDensity::Moderate,
        volume_strength: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_parts_of_one_and_each_bottom_comes_as_often() {
        assert!((BOTTOMS.iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-12);
        assert_eq!([0.0, 0.19, 0.21, 0.55, 0.85, 1.0].map(bottom_at), {
            use BottomClass::{Gravel, MediumSand, Silt, SoftMud};
            [SoftMud, SoftMud, Silt, MediumSand, Gravel, Gravel]
        });
    }
}
