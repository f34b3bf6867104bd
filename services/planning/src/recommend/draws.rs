//! One draw of the unknowns for all sensors: what differs between two sensors is their figures, never their luck.
//!
//! What belongs to the lake is drawn for each place, what belongs to sensors, lure and fish once for all places. Every
//! place has a random stream of its own (ChaCha8), so that draws do not depend on threads.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal};

use acoustics::bottom::Gas;
use acoustics::cover::CANOPY_SPREAD;
use domain::selection::RunInput;
use domain::{BottomClass, Spot};

use super::types::{PlaceIndex, Unknown, UnknownKind};
use crate::selection::{OtherDraws, OtherUnit, Perturbation, count as in_figures};
use crate::uncertainty::{BEAMWIDTH_SPREAD, DEPTH_SPREAD, LEVEL_SPREAD, TARGET_SPREAD, TILT_SPREAD_DEG, gas, rise};
use crate::unknown_place::{DrawnPlace, DrawnPlaces, has_unknown_bottom};

/// Unknowns that all places share, in the order of a row.
const SHARED: [UnknownKind; 5] =
    [UnknownKind::Beamwidth, UnknownKind::SourceLevel, UnknownKind::Threshold, UnknownKind::Lure, UnknownKind::Fish];
/// Unknowns of a place, in the order of a row.
const LOCAL: [UnknownKind; 5] =
    [UnknownKind::Bottom, UnknownKind::Plants, UnknownKind::Depth, UnknownKind::Tilt, UnknownKind::Gas];

/// Standard deviations from the recorded figures.
#[derive(Debug)]
pub(super) struct Draws {
    /// By draw.
    shared: Vec<[f64; 5]>,
    /// By place, then draw: bottom, plants, depth, tilt along the slope and across it.
    local: Vec<Vec<[f64; 5]>>,
    /// By place, then draw.
    gas: Vec<Vec<Gas>>,
    /// By place, then draw: what the place is.
    places: Vec<Vec<DrawnPlace>>,
    /// By draw: what the neighbours have; none where they have the same.
    others: Vec<Option<OtherUnit>>,
    /// By place: whether its bottom is not known, and whether its weeds are not.
    unknown: Vec<[bool; 2]>,
}

impl Draws {
    /// Draws for some places.
    pub(super) fn new(count: u32, spots: &[&Spot], input: &RunInput) -> Self {
        let seed = input.settings.seed;
        let rows = |stream: usize| -> (Vec<[f64; 5]>, Vec<Gas>) {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(u64::try_from(stream).unwrap_or(u64::MAX));
            let figures = (0..count).map(|_| std::array::from_fn(|_| StandardNormal.sample(&mut rng))).collect();
            (figures, (0..count).map(|_| gas(&mut rng)).collect())
        };
        let (local, gas) = (1..=spots.len()).map(rows).unzip();
        let most = usize::try_from(count).unwrap_or(usize::MAX);
        let of = |(place, spot): (usize, &&Spot)| DrawnPlaces::new(spot, seed, place).take(most).collect();
        let places = spots.iter().enumerate().map(of).collect();
        let unknown = spots.iter().map(|spot| [has_unknown_bottom(spot), spot.canopy_unknown]).collect();
        let others = OtherDraws::new(input).take(most).collect();
        Self { shared: rows(0).0, local, gas, places, others, unknown }
    }

    /// What a draw changes at a place, the factor on its depth, and what the place is.
    pub(super) fn at(&self, place: usize, draw: usize) -> Option<(Perturbation, f64, DrawnPlace)> {
        let [beam, source, threshold, lure, fish] = *self.shared.get(draw)?;
        let [ground, plants, depth, along, across] = *self.local.get(place)?.get(draw)?;
        let gas = *self.gas.get(place)?.get(draw)?;
        let drawn = *self.places.get(place)?.get(draw)?;
        let bottom = drawn.bottom;
        let tilt = TILT_SPREAD_DEG.to_radians();
        let shift = Perturbation {
            beam_scale: libm::exp(BEAMWIDTH_SPREAD * beam),
            source: LEVEL_SPREAD * source,
            threshold: LEVEL_SPREAD * threshold,
            lure: TARGET_SPREAD * lure,
            fish: TARGET_SPREAD * fish,
            bottom: bottom.strength_spread().get() * ground + rise(bottom, gas),
            plants: CANOPY_SPREAD.get() * plants,
            tilt: [along * tilt, across * tilt],
            other: self.others.get(draw).copied().flatten(),
            ..Perturbation::NONE
        };
        // Three spreads at most, so that no draw leaves the range of the models.
        Some((shift, 1.0 + DEPTH_SPREAD * depth.clamp(-3.0, 3.0), drawn))
    }

    /// Every unknown with its drawn values.
    pub(super) fn unknowns(&self) -> (Vec<Unknown>, Vec<Vec<f64>>) {
        let column = |rows: &[[f64; 5]], index: usize| -> Vec<f64> {
            rows.iter().map(|row| row.get(index).copied().unwrap_or(0.0)).collect()
        };
        let mut named: Vec<(Unknown, Vec<f64>)> = Vec::new();
        for (index, kind) in SHARED.into_iter().enumerate() {
            named.push((Unknown { kind, place: None }, column(&self.shared, index)));
        }
        if self.others.iter().any(Option::is_some) {
            let kind = |other: &Option<OtherUnit>| in_figures(other.map_or(0, |other| other.kind));
            named
                .push((Unknown { kind: UnknownKind::Neighbours, place: None }, self.others.iter().map(kind).collect()));
        }
        for (place, rows) in self.local.iter().enumerate() {
            let [bottom, weeds] = self.unknown.get(place).copied().unwrap_or_default();
            let drawn = |of: fn(&DrawnPlace) -> f64| self.places.get(place).into_iter().flatten().map(of).collect();
            for (index, kind) in LOCAL.into_iter().enumerate() {
                let values = match kind {
                    UnknownKind::Tilt => rows.iter().map(|[.., a, b]| libm::hypot(*a, *b)).collect(),
                    UnknownKind::Gas => self
                        .gas
                        .get(place)
                        .into_iter()
                        .flatten()
                        .map(|gas| f64::from(u8::from(*gas == Gas::Yes)))
                        .collect(),
                    // What it is made of counts for more than how strongly that answers.
                    UnknownKind::Bottom if bottom => drawn(|place| class_number(place.bottom)),
                    UnknownKind::Plants if weeds => drawn(|place| f64::from(u8::from(place.canopy.is_some()))),
                    UnknownKind::Bottom
                    | UnknownKind::Plants
                    | UnknownKind::Depth
                    | UnknownKind::Beamwidth
                    | UnknownKind::SourceLevel
                    | UnknownKind::Threshold
                    | UnknownKind::Lure
                    | UnknownKind::Fish
                    | UnknownKind::Neighbours => column(rows, index),
                };
                named.push((Unknown { kind, place: Some(PlaceIndex(place)) }, values));
            }
        }
        named.into_iter().unzip()
    }
}

/// Classes in numbers, to tell them apart.
fn class_number(class: BottomClass) -> f64 {
    in_figures(BottomClass::ALL.iter().position(|known| *known == class).unwrap_or_default())
}
