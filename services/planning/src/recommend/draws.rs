//! One draw of the unknowns for all sensors: what differs between two sensors is their figures, never their luck.
//!
//! What belongs to the lake is drawn for each place, what belongs to sensors, lure and fish once for all places. Every
//! place has a random stream of its own (ChaCha8), so that draws do not depend on threads.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal, StandardUniform};

use acoustics::bottom::Gas;
use domain::selection::RunInput;
use domain::{BottomClass, Source, Spot};

use super::types::{PlaceIndex, Unknown, UnknownKind};
use crate::selection::{OtherDraws, OtherUnit, count as in_figures};
use crate::uncertainty::conventions::{ConventionDraws, Conventions};
use crate::uncertainty::{Common, Inputs, gas};
use crate::unknown_place::{DrawnPlace, DrawnPlaces, has_unknown_bottom};

/// Unknowns that all places share.
const SHARED: [UnknownKind; 5] =
    [UnknownKind::Beamwidth, UnknownKind::SourceLevel, UnknownKind::Threshold, UnknownKind::Lure, UnknownKind::Fish];
/// The same of what only neighbours have to do with.
const SHARED_IN_COMPANY: [UnknownKind; 2] = [UnknownKind::Interval, UnknownKind::Confirmation];
/// Unknowns of a place.
const LOCAL: [UnknownKind; 5] =
    [UnknownKind::Bottom, UnknownKind::Plants, UnknownKind::Depth, UnknownKind::Tilt, UnknownKind::Gas];
/// The same of what only neighbours have to do with.
const LOCAL_IN_COMPANY: [UnknownKind; 2] = [UnknownKind::Bounce, UnknownKind::Heading];

/// Everything drawn.
#[derive(Debug)]
pub(super) struct Draws {
    /// By place, then draw.
    inputs: Vec<Vec<Inputs>>,
    /// By place, then draw: what the place is.
    places: Vec<Vec<DrawnPlace>>,
    /// By draw: what the neighbours have; none where they have the same.
    others: Vec<Option<OtherUnit>>,
    /// By place: whether its bottom is not known, and whether its weeds are not.
    unknown: Vec<[bool; 2]>,
    /// Which unknowns there are in all places, and in each.
    shared: Vec<UnknownKind>,
    local: Vec<UnknownKind>,
}

/// A draw at a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drawn<'a> {
    pub(super) inputs: &'a Inputs,
    /// What the place is.
    pub(super) place: DrawnPlace,
    /// What the neighbours have; none where they have the same.
    pub(super) other: Option<OtherUnit>,
}

impl Draws {
    /// Draws for some places of a run. What came to be drawn later is drawn after the rest, so that the rest stays as it was.
    pub(super) fn new(count: u32, spots: &[&Spot], input: &RunInput) -> Self {
        let stream = |stream: usize| {
            let mut rng = ChaCha8Rng::seed_from_u64(input.settings.seed);
            rng.set_stream(u64::try_from(stream).unwrap_or(u64::MAX));
            rng
        };
        let fives = |rng: &mut ChaCha8Rng| -> Vec<[f64; 5]> {
            (0..count).map(|_| std::array::from_fn(|_| StandardNormal.sample(rng))).collect()
        };
        let mut rng = stream(0);
        let sensors = fives(&mut rng);
        let pings: Vec<(f64, f64)> =
            sensors.iter().map(|_| (StandardNormal.sample(&mut rng), StandardUniform.sample(&mut rng))).collect();
        let conventions: Vec<Conventions> =
            ConventionDraws::new(input.settings.seed).zip(&sensors).map(|(drawn, _)| drawn).collect();
        let ringing: Vec<f64> = sensors.iter().map(|_| StandardNormal.sample(&mut rng)).collect();
        let of_place = |place: usize| {
            let mut rng = stream(place);
            let lakes = fives(&mut rng);
            let gases: Vec<Gas> = lakes.iter().map(|_| gas(&mut rng)).collect();
            let once = sensors.iter().zip(&pings).zip(ringing.iter().zip(&conventions));
            let rows = once.zip(lakes.into_iter().zip(gases));
            rows.map(|(((sensor, pings), (ring_down, meant)), lake)| {
                inputs(sensor, *pings, (*ring_down, *meant), lake, &mut rng)
            })
            .collect()
        };
        let company = input.shelter.is_some();
        let most = usize::try_from(count).unwrap_or(usize::MAX);
        let is =
            |(place, spot): (usize, &&Spot)| DrawnPlaces::new(spot, input.settings.seed, place).take(most).collect();
        Self {
            inputs: (1..=spots.len()).map(of_place).collect(),
            places: spots.iter().enumerate().map(is).collect(),
            others: OtherDraws::new(input).take(most).collect(),
            unknown: spots.iter().map(|spot| [has_unknown_bottom(spot), spot.canopy_unknown]).collect(),
            shared: SHARED
                .into_iter()
                .chain(unclear(input))
                .chain(SHARED_IN_COMPANY.into_iter().filter(|_| company))
                .collect(),
            local: LOCAL.into_iter().chain(LOCAL_IN_COMPANY.into_iter().filter(|_| company)).collect(),
        }
    }

    /// A draw at a place.
    pub(super) fn at(&self, place: usize, draw: usize) -> Option<Drawn<'_>> {
        Some(Drawn {
            inputs: self.inputs.get(place)?.get(draw)?,
            place: *self.places.get(place)?.get(draw)?,
            other: self.others.get(draw).copied().flatten(),
        })
    }

    /// Every unknown with its drawn values.
    pub(super) fn unknowns(&self) -> (Vec<Unknown>, Vec<Vec<f64>>) {
        let column = |rows: &[Inputs], kind| rows.iter().map(|inputs| value(inputs, kind)).collect();
        let first = self.inputs.first().map_or(&[] as &[_], Vec::as_slice);
        let shared = self.shared.iter().map(|kind| (Unknown { kind: *kind, place: None }, column(first, *kind)));
        let kind = |other: &Option<OtherUnit>| in_figures(other.map_or(0, |other| other.kind));
        let others = self.others.iter().any(Option::is_some).then(|| {
            let unknown = Unknown { kind: UnknownKind::Neighbours, place: None };
            (unknown, self.others.iter().map(kind).collect())
        });
        let local = self.inputs.iter().enumerate().flat_map(|(place, rows)| {
            let [bottom, weeds] = self.unknown.get(place).copied().unwrap_or_default();
            let drawn =
                move |of: fn(&DrawnPlace) -> f64| self.places.get(place).into_iter().flatten().map(of).collect();
            self.local.iter().map(move |kind| {
                let values: Vec<f64> = match kind {
                    // What it is made of counts for more than how strongly that answers.
                    UnknownKind::Bottom if bottom => drawn(|place| class_number(place.bottom)),
                    UnknownKind::Plants if weeds => drawn(|place| f64::from(u8::from(place.canopy.is_some()))),
                    kind => column(rows, *kind),
                };
                (Unknown { kind: *kind, place: Some(PlaceIndex(place)) }, values)
            })
        });
        shared.chain(others).chain(local).unzip()
    }
}

/// What figures mean of which nobody says it, for a sensor at least.
fn unclear(input: &RunInput) -> impl Iterator<Item = UnknownKind> {
    let options = || input.sensors.iter().flat_map(|sensor| &sensor.options);
    let level = options().any(|option| !option.width_level_known).then_some(UnknownKind::WidthLevel);
    let power = options().any(|option| matches!(option.source, Source::Power { kind: None, .. }));
    level.into_iter().chain(power.then_some(UnknownKind::PowerKind))
}

fn inputs(
    [beam, source, threshold, lure, fish]: &[f64; 5],
    (interval, display): (f64, f64),
    (ring_down, conventions): (f64, Conventions),
    ([bottom, plants, depth, along, across], gas): ([f64; 5], Gas),
    rng: &mut ChaCha8Rng,
) -> Inputs {
    let mut normal = || StandardNormal.sample(rng);
    let (ice, reflection) = (normal(), normal());
    let turned = StandardUniform.sample(rng);
    Inputs {
        common: Common { lure: *lure, fish: *fish, bottom, plants, depth, gas, ice, reflection, turned, conventions },
        beam: *beam,
        source: *source,
        threshold: *threshold,
        tilt: [along, across],
        interval,
        display,
        ring_down,
    }
}

/// What was drawn of an unknown.
fn value(inputs: &Inputs, kind: UnknownKind) -> f64 {
    let common = &inputs.common;
    match kind {
        UnknownKind::Beamwidth => inputs.beam,
        UnknownKind::SourceLevel => inputs.source,
        UnknownKind::Threshold => inputs.threshold,
        UnknownKind::Lure => common.lure,
        UnknownKind::Fish => common.fish,
        UnknownKind::Bottom => common.bottom,
        UnknownKind::Plants => common.plants,
        UnknownKind::Depth => common.depth,
        UnknownKind::Tilt => libm::hypot(inputs.tilt[0], inputs.tilt[1]),
        UnknownKind::Gas => f64::from(u8::from(common.gas == Gas::Yes)),
        UnknownKind::Bounce => common.ice + common.reflection,
        UnknownKind::Heading => common.turned,
        UnknownKind::Interval => inputs.interval,
        UnknownKind::Confirmation => inputs.display,
        UnknownKind::WidthLevel => common.conventions.values()[0],
        UnknownKind::PowerKind => common.conventions.values()[1],
        // Drawn by itself.
        UnknownKind::Neighbours => 0.0,
    }
}

/// Classes in numbers, to tell them apart.
fn class_number(class: BottomClass) -> f64 {
    in_figures(BottomClass::ALL.iter().position(|known| *known == class).unwrap_or_default())
}
