//! Builds everything that a batch shares.

use acoustics::ModelError;
use acoustics::ice::THICKNESSES;
use acoustics::units::{Angle, Hertz, Metres};
use rayon::prelude::*;

use super::kernel::Rules;
use super::neighbours::{Clearance, Needed, Neighbours, Talker, Unknowns, shape_of};
use super::option::PreparedOption;
use super::others::{self, PreparedOthers, Sender};
use super::relief::Body;
use super::spot::{PreparedSpot, water};
use super::stopped::Stopped;
use crate::unknown_place::bottoms;
use crate::{PlanningError, layout};
use domain::selection::{Others, RunInput, option_path};
use domain::{BeamOption, BottomClass, Cancel, Cancelled, Canopy, Fault, FaultReason, Sensor, Spot};

/// How far a drawn depth or slope, beam width included, may leave the recorded one, as a ratio: four times its spread and more.
const DRAW_REACH: f64 = 1.4;

/// How far a drawn tilt reaches, radians: four times its spread about both axes, 12° and a little.
const DRAWN_TILT: f64 = 0.22;

/// Lean whose cost an explanation tells, radians: a hand's breadth on a rod of a metre.
pub(crate) const LEAN_ASKED: f64 = 0.087_266_462_599_716_48;

/// A run with all its tables.
///
/// Memory: some 70 KiB an option for beams and bottoms, 1 KiB a spot, and in neighbours up to 42 KiB for each pair of option
/// and bottom class.
#[derive(Debug, Clone)]
pub struct Prepared {
    pub(crate) input: RunInput,
    pub(crate) rules: Rules,
    pub(crate) gears: Vec<PreparedOption>,
    pub(crate) places: Vec<PreparedSpot>,
    /// How many different frequencies there are, and which one each option has.
    pub(crate) frequencies: usize,
    pub(crate) frequency_of: Vec<usize>,
    /// Absorption, dB/m, by spot and frequency.
    pub(crate) absorptions: Vec<f64>,
    /// Volume strength of the plants by spot, dB.
    pub(crate) plants: Vec<Option<f64>>,
    /// What stands on the bottom, by spot.
    pub(crate) reliefs: Vec<Vec<Body>>,
    /// The bottom classes that occur, and which one each spot has.
    pub(crate) classes: Vec<BottomClass>,
    pub(crate) class_of: Vec<usize>,
    /// Which thickness of ice each spot has, where one is recorded.
    pub(crate) ice_of: Vec<Option<usize>>,
    pub(crate) neighbours: Option<Neighbours>,
    /// By option and class; empty when alone.
    pub(crate) clearances: Vec<Clearance>,
    /// Neighbours with other units; none where they have the same.
    pub(crate) others: Option<PreparedOthers>,
    /// Place of each option in the order of the options' resource names.
    pub(crate) tie_order: Vec<u32>,
}

impl Prepared {
    /// Checks a run and builds its tables, on all threads of the current pool.
    ///
    /// # Errors
    /// Every fault of the input at once, those included that only the models find; a shelter whose holes do not fit; or the
    /// work is cancelled.
    pub fn new(input: &RunInput, cancel: &Cancel) -> Result<Self, PlanningError> {
        let faults = input.check();
        if !faults.is_empty() {
            return Err(PlanningError::Faults(faults));
        }
        let neighbours = match &input.shelter {
            Some(shelter) => {
                let holes = layout::holes(shelter, cancel)?;
                Neighbours::new(shelter, holes, &input.settings, unknowns(input))
            }
            None => None,
        };
        let drawn = input.settings.draws > 0;
        let mut classes: Vec<BottomClass> =
            input.spots.iter().flat_map(|spot| bottoms(spot).take(if drawn { usize::MAX } else { 1 })).collect();
        classes.sort_unstable();
        classes.dedup();
        let (ices, ice_of) = ices(input);
        let mut faults = Vec::new();
        let options: Vec<(&Sensor, &BeamOption)> = chosen(input).collect();
        let steepest = steepest(input);
        let gears: Vec<Result<PreparedOption, ModelError>> = options
            .par_iter()
            .map(|(sensor, option)| {
                cancel.check()?;
                Stopped::aside(PreparedOption::new(input, sensor, option, &classes, &ices, steepest, cancel))
            })
            .collect::<Result<_, Cancelled>>()?;
        let gears = keep(gears, &mut faults, |index| option_field(input, index));
        let (places, absorptions, frequency_of, frequencies) = sites(input, &options, &mut faults);
        if !faults.is_empty() {
            return Err(PlanningError::Faults(faults));
        }
        let kinds = others::kinds(input);
        let clearances = match &neighbours {
            Some(neighbours) if kinds.is_empty() => {
                let same: Vec<Vec<Talker<'_>>> = gears.iter().map(|gear| vec![Talker::same(gear)]).collect();
                clearances(input, neighbours, (&gears, &same, &classes), if drawn { DRAW_REACH } else { 1.0 }, cancel)?
            }
            Some(_) | None => Vec::new(),
        };
        let others = match &neighbours {
            Some(neighbours) if !kinds.is_empty() => {
                let talkers = compiled(input, &kinds, (&ices, steepest), cancel)?;
                Some(with_others(input, neighbours, (&gears, talkers, &classes), (&places, &ice_of), cancel)?)
            }
            Some(_) | None => None,
        };
        let class_of = input.spots.iter().map(|spot| classes.binary_search(&spot.bottom).unwrap_or_default()).collect();
        Ok(Self {
            rules: Rules {
                weighing: input.settings.goal.weighing(),
                lure_margin: input.settings.lure_margin.get(),
                strong_mark: input.settings.strong_mark.get(),
            },
            tie_order: tie_order(&options),
            plants: input.spots.iter().map(|spot| plant_strength(spot.canopy)).collect(),
            reliefs: input
                .spots
                .iter()
                .map(|spot| spot.relief.iter().map(|item| Body::new(item, spot.depth)).collect())
                .collect(),
            input: input.clone(),
            gears,
            places,
            frequencies,
            frequency_of,
            absorptions,
            classes,
            class_of,
            ice_of,
            neighbours,
            clearances,
            others,
        })
    }

    /// Sensor and option behind an index of the run.
    pub(crate) fn option(&self, index: usize) -> Option<(&Sensor, &BeamOption)> {
        chosen(&self.input).nth(index)
    }
}

/// The options of a run in the order asked for. The input is checked: every reference is good.
fn chosen(input: &RunInput) -> impl Iterator<Item = (&Sensor, &BeamOption)> {
    input.options.iter().filter_map(|reference| {
        let sensor = input.sensors.get(reference.sensor)?;
        Some((sensor, sensor.options.get(reference.option)?))
    })
}

pub(super) fn plant_strength(canopy: Option<Canopy>) -> Option<f64> {
    canopy.map(|canopy| canopy.volume_strength.unwrap_or_else(|| canopy.density.volume_strength()).get())
}

/// The greatest angle between an axis and the normal of a bottom in a run, draws included.
fn steepest(input: &RunInput) -> Angle {
    let slope = input.spots.iter().map(|spot| spot.slope.get()).fold(0.0, f64::max);
    let drawn = if input.settings.draws > 0 { DRAWN_TILT } else { 0.0 };
    Angle::new(slope + input.settings.lean.angle.get() + drawn.max(LEAN_ASKED))
}

/// What neighbours' tables have to be read for besides the figures of the run.
fn unknowns(input: &RunInput) -> Unknowns {
    if input.settings.draws > 0 {
        Unknowns::Drawn
    } else if input.spots.iter().any(|spot| spot.ice_thickness.is_some()) {
        Unknowns::Ice
    } else {
        Unknowns::None
    }
}

/// The thicknesses of ice that are recorded, and which one each spot has; thinner ice than the model has counts as its thinnest.
fn ices(input: &RunInput) -> (Vec<Metres>, Vec<Option<usize>>) {
    let thickness = |spot: &Spot| spot.ice_thickness.map(|ice| ice.get().clamp(THICKNESSES.0, THICKNESSES.1));
    let mut ices: Vec<f64> = input.spots.iter().filter_map(thickness).collect();
    ices.sort_by(f64::total_cmp);
    ices.dedup();
    let of = input.spots.iter().map(|spot| ices.iter().position(|ice| Some(*ice) == thickness(spot))).collect();
    (ices.into_iter().map(Metres::new).collect(), of)
}

type Sites = (Vec<PreparedSpot>, Vec<f64>, Vec<usize>, usize);

/// Spots in numbers, and the absorption of each of them at each frequency.
fn sites(input: &RunInput, options: &[(&Sensor, &BeamOption)], faults: &mut Vec<Fault>) -> Sites {
    let mut frequencies: Vec<f64> = options.iter().map(|(_, option)| option.frequency.value.get()).collect();
    frequencies.sort_by(f64::total_cmp);
    frequencies.dedup();
    let frequency_of = options
        .iter()
        .map(|(_, option)| frequencies.iter().position(|f| *f == option.frequency.value.get()).unwrap_or_default())
        .collect();
    let built: Vec<Result<(PreparedSpot, Vec<f64>), ModelError>> = input
        .spots
        .par_iter()
        .map(|spot| {
            let column = water(spot);
            let absorptions = frequencies
                .iter()
                .map(|frequency| column.absorption(Hertz::new(*frequency)).map(acoustics::units::DbPerMetre::get))
                .collect::<Result<_, _>>()?;
            Ok((PreparedSpot::new(spot, &input.settings)?, absorptions))
        })
        .collect();
    let built = keep(built, faults, |index| format!("spots[{index}]"));
    let (places, absorptions): (Vec<PreparedSpot>, Vec<Vec<f64>>) = built.into_iter().unzip();
    (places, absorptions.into_iter().flatten().collect(), frequency_of, frequencies.len())
}

/// Keeps what worked and turns every error into a fault.
fn keep<T>(results: Vec<Result<T, ModelError>>, faults: &mut Vec<Fault>, field: impl Fn(usize) -> String) -> Vec<T> {
    let mut kept = Vec::with_capacity(results.len());
    for (index, result) in results.into_iter().enumerate() {
        match result {
            Ok(value) => kept.push(value),
            Err(error) => faults.push(fault(&field(index), &error)),
        }
    }
    kept
}

fn fault(field: &str, error: &ModelError) -> Fault {
    let message =
        format!("{field} leaves what the models cover: {error}; correct the figure or leave the record out of the run");
    Fault::new(field, FaultReason::OutOfRange, message)
}

/// The path of an option in the run's records.
fn option_field(input: &RunInput, index: usize) -> String {
    input
        .options
        .get(index)
        .map_or_else(String::new, |reference| format!("sensors[{}].options[{}]", reference.sensor, reference.option))
}

/// What neighbours do, by option and class, at the depths at which the class occurs.
fn clearances(
    input: &RunInput,
    neighbours: &Neighbours,
    (gears, talkers, classes): (&[PreparedOption], &[Vec<Talker<'_>>], &[BottomClass]),
    reach: f64,
    cancel: &Cancel,
) -> Result<Vec<Clearance>, PlanningError> {
    let faulty =
        |option: usize, error: &ModelError| PlanningError::Faults(vec![fault(&option_field(input, option), error)]);
    let needed: Vec<Needed> = classes
        .iter()
        .map(|class| {
            let mut needed = Needed::new(reach);
            for spot in input.spots.iter().filter(|spot| bottoms(spot).any(|bottom| bottom == *class)) {
                needed.mark(spot.slope.get(), spot.depth.get());
            }
            needed
        })
        .collect();
    let all: Vec<(BottomClass, &Needed)> = classes.iter().copied().zip(&needed).collect();
    // Classes stand in order, so those of one shape are neighbours.
    let families: Vec<&[(BottomClass, &Needed)]> =
        all.chunk_by(|(a, _), (b, _)| shape_of(*a) == shape_of(*b)).collect();
    let pairs: Vec<_> = gears
        .iter()
        .zip(talkers)
        .enumerate()
        .flat_map(|(option, (gear, talkers))| {
            families.iter().flat_map(move |family| talkers.iter().map(move |talker| (option, gear, talker, *family)))
        })
        .collect();
    let built: Vec<Vec<Clearance>> = pairs
        .par_iter()
        .map(|(option, gear, talker, family)| {
            cancel.check()?;
            Stopped::aside(Clearance::family(neighbours, gear, talker, family, cancel))?
                .map_err(|error| faulty(*option, &error))
        })
        .collect::<Result<_, _>>()?;
    let kinds = talkers.first().map_or(1, Vec::len).max(1);
    Ok(by_class(built, kinds))
}

/// Tables of families with each kind of neighbour, by class and then kind.
fn by_class(built: Vec<Vec<Clearance>>, kinds: usize) -> Vec<Clearance> {
    let mut all = Vec::new();
    let mut built = built.into_iter();
    loop {
        let mut of_family: Vec<_> = built.by_ref().take(kinds).map(Vec::into_iter).collect();
        if of_family.is_empty() {
            return all;
        }
        while let Some(of_class) = of_family.iter_mut().map(Iterator::next).collect::<Option<Vec<_>>>() {
            all.extend(of_class);
        }
    }
}

/// The units that neighbours may have, ready to be computed with.
fn compiled(
    input: &RunInput,
    kinds: &[Sensor],
    (ices, steepest): (&[Metres], Angle),
    cancel: &Cancel,
) -> Result<Vec<PreparedOption>, PlanningError> {
    let mut faults = Vec::new();
    let built = kinds.iter().flat_map(|sensor| sensor.options.iter().map(move |option| (sensor, option)));
    let built = built.map(|(sensor, option)| {
        Stopped::aside(PreparedOption::new(input, sensor, option, &[], ices, steepest, cancel))
    });
    let built = built.collect::<Result<Vec<_>, Cancelled>>()?;
    let built = keep(built, &mut faults, |index| format!("neighbour_options[{index}]"));
    if faults.is_empty() { Ok(built) } else { Err(PlanningError::Faults(faults)) }
}

/// What neighbours with other units do.
fn with_others(
    input: &RunInput,
    neighbours: &Neighbours,
    (gears, talkers, classes): (&[PreparedOption], Vec<PreparedOption>, &[BottomClass]),
    (places, ice_of): (&[PreparedSpot], &[Option<usize>]),
    cancel: &Cancel,
) -> Result<PreparedOthers, PlanningError> {
    let talker = match input.others {
        Others::Unknown => Talker::of_class,
        Others::Given { .. } | Others::Same => Talker::other,
    };
    let around: Vec<Vec<Talker<'_>>> =
        gears.iter().map(|own| talkers.iter().map(|other| talker(own, other)).collect()).collect();
    // A draw that moves the depth a little moves what they do far less than that they are of one kind or another.
    let tables = |around: &[Vec<Talker<'_>>]| clearances(input, neighbours, (gears, around, classes), 1.0, cancel);
    let same = match input.others {
        Others::Unknown => tables(&gears.iter().map(|gear| vec![Talker::same(gear)]).collect::<Vec<_>>())?,
        Others::Given { .. } | Others::Same => Vec::new(),
    };
    let clearances = tables(&around)?;
    let spots = input.spots.iter().zip(places).zip(ice_of);
    let senders = spots.flat_map(|(at, ice)| talkers.iter().map(move |gear| Sender::new(gear, at, *ice)));
    let mut faults = Vec::new();
    let senders = keep(senders.collect(), &mut faults, |index| format!("spots[{}]", index / talkers.len().max(1)));
    drop(around);
    if faults.is_empty() {
        let met = others::met(input, gears, &talkers);
        let loudest = others::loudest(&met, gears.len(), talkers.len());
        let units = met.len() / gears.len().max(1);
        Ok(PreparedOthers { gears: talkers, senders, clearances, same, met, units, loudest })
    } else {
        Err(PlanningError::Faults(faults))
    }
}

/// Place of each option in the order of the options' resource names.
fn tie_order(options: &[(&Sensor, &BeamOption)]) -> Vec<u32> {
    let names: Vec<String> = options.iter().map(|(sensor, option)| option_path(&sensor.id, &option.id)).collect();
    let mut sorted: Vec<&String> = names.iter().collect();
    sorted.sort_unstable();
    names
        .iter()
        .map(|name| sorted.binary_search(&name).ok().and_then(|place| u32::try_from(place).ok()).unwrap_or_default())
        .collect()
}
