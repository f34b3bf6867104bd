//! What a survey should do: where to drill, what to lower, what to note, and what it will be able to tell.

use acoustics::units::{Celsius, Db, Metres, WidthLevel};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::FitSettings;
use super::input::{self, Noise, Scene};
use super::likelihood::{ACROSS, Problem, SIDE};
use super::words::precision;
use crate::PlanningError;
use domain::wording::number;
use domain::{Fault, FaultReason, Id, Sensor, SurveyOutcome, SurveyReading, Target, defaults};
use domain::{Part, Sentence};

/// How far the line reaches over the half width of the beam at −10 dB.
const REACH: f64 = 1.3;
/// Least distance between the centres of two holes of a line, m: 30 cm of ice between holes of the usual size.
const LEAST_SPACING: f64 = 0.5;
/// Distances are given in steps of a twentieth of a metre, which a tape shows.
const STEPS_PER_METRE: f64 = 20.0;
/// Most depths, and the least distance between two.
const MOST_DEPTHS: u32 = 6;
const DEPTH_STEP: f64 = 0.5;
/// The target stays that far over the bottom, so that its mark stands free.
const OVER_BOTTOM: f64 = 0.3;
/// Surveys that a promise is made from, and how many of them lie under its interval of 90 %.
const ROUNDS: u32 = 100;
const LOW: usize = 5;

/// What to do.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySheet {
    /// Distances of the holes from the transducer's, along the line.
    pub offsets: Vec<Metres>,
    /// Depths to lower the target to.
    pub depths: Vec<Metres>,
    /// What to expect, by depth, then hole.
    pub cells: Vec<DraftCell>,
    /// What to do, in order, cautions first.
    pub steps: Vec<Sentence>,
    /// What such a survey can and cannot tell.
    pub can_tell: Vec<Sentence>,
}

/// One hole and one depth.
#[derive(Debug, Clone, PartialEq)]
pub struct DraftCell {
    /// Distance of the hole.
    pub offset: Metres,
    /// Depth of the target.
    pub depth: Metres,
    /// Gain from which on a unit as stated shows the target.
    pub expected_gain: Db,
    /// The same on the dial; none outside of it.
    pub expected_dial: Option<String>,
}

/// The sheet of a survey in water of some depth.
///
/// # Errors
/// Every fault of the input at once: an unknown option, a target that is no reference, a depth or a number of holes out of range.
pub fn sheet(
    sensor: &Sensor,
    option: &Id,
    target: &Target,
    depth: Metres,
    holes: u32,
) -> Result<SurveySheet, PlanningError> {
    let mut faults = range_faults(depth, holes);
    let known = input::named(sensor, option, target).map_err(|mut found| faults.append(&mut found));
    let (Ok(known), true) = (known, faults.is_empty()) else { return Err(PlanningError::Faults(faults)) };
    let scene = Scene::new(known, target, depth, defaults::BOTTOM_TEMPERATURE)
        .map_err(|fault| PlanningError::Faults(vec![Fault { field: "depth_m".to_owned(), ..fault }]))?;
    let offsets = offsets(&scene, depth, holes);
    let depths = depths(depth);
    let cells: Vec<DraftCell> =
        depths.iter().flat_map(|depth| offsets.iter().map(|offset| cell(sensor, &scene, *offset, *depth))).collect();
    let can_tell = can_tell(&scene, sensor, &cells);
    Ok(SurveySheet { steps: steps(&offsets, defaults::BOTTOM_TEMPERATURE), offsets, depths, cells, can_tell })
}

fn range_faults(depth: Metres, holes: u32) -> Vec<Fault> {
    let mut faults = Vec::new();
    if !(2.0..=200.0).contains(&depth.get()) {
        let text = format!("depth_m is {}; accepted: 2 to 200 m; give the depth of the water", depth.get());
        faults.push(Fault::new("depth_m", FaultReason::OutOfRange, text));
    }
    if !(3..=40).contains(&holes) {
        let text = format!("holes is {holes}; accepted: 3 to 40; leave it out for 12");
        faults.push(Fault::new("holes", FaultReason::OutOfRange, text));
    }
    faults
}

/// Holes on both sides of the transducer's own, evenly, as wide as the beam's skirt asks and never closer than the ice allows.
fn offsets(scene: &Scene, depth: Metres, holes: u32) -> Vec<Metres> {
    let half = 0.5 * scene.sounding.pattern().width(WidthLevel::Minus10).get();
    let reach = REACH * depth.get() * libm::tan(half.min(1.3));
    let gaps = f64::from(holes - 1);
    let spacing = libm::ceil((2.0 * reach / gaps).max(LEAST_SPACING) * STEPS_PER_METRE - 1.0e-9) / STEPS_PER_METRE;
    let left = i64::from((holes - 1) / 2);
    let place = |index: i64| f64::from(i32::try_from(index - left).unwrap_or(0)) * spacing;
    // Rounded, so that sums of steps do not carry their error along.
    (0..i64::from(holes))
        .map(|index| Metres::new(libm::round(place(index) * STEPS_PER_METRE) / STEPS_PER_METRE))
        .collect()
}

/// Up to six depths from a third of the water, or 1 m, to just over the bottom.
fn depths(depth: Metres) -> Vec<Metres> {
    let last = depth.get() - OVER_BOTTOM;
    let first = (depth.get() / 3.0).max(1.0);
    let steps = (1..MOST_DEPTHS).rev().find(|steps| (last - first) / f64::from(*steps) >= DEPTH_STEP).unwrap_or(1);
    let at = |index: u32| first + (last - first) * f64::from(index) / f64::from(steps);
    (0..=steps).map(|index| Metres::new(libm::round(at(index) * 10.0) / 10.0)).collect()
}

fn cell(sensor: &Sensor, scene: &Scene, offset: Metres, depth: Metres) -> DraftCell {
    let range = Metres::new(libm::hypot(offset.get(), depth.get()));
    let angle = libm::atan2(offset.get().abs(), depth.get());
    let level = scene.sounding.pattern().level(acoustics::units::HalfAngle::new(angle));
    let expected_gain = scene.sounding.least_gain(range, level);
    let expected_dial = sensor.dial.dial_reading(expected_gain);
    DraftCell { offset, depth, expected_gain, expected_dial }
}

fn steps(offsets: &[Metres], temperature: Celsius) -> Vec<Sentence> {
    let spacing = offsets.windows(2).find_map(|pair| match pair {
        [a, b] => Some(b.get() - a.get()),
        _ => None,
    });
    let spacing = Part::Length(Metres::new(spacing.unwrap_or(LEAST_SPACING)));
    let taken = Part::Figure(format!("{} °C", number(temperature.get(), 0)));
    vec![
        Sentence::plain("draft-ice"),
        Sentence::new("draft-drill", [("holes", Part::Figure(offsets.len().to_string())), ("spacing", spacing)]),
        Sentence::plain("draft-mark"),
        Sentence::plain("draft-hang"),
        Sentence::new("draft-temperature", [("temperature", taken)]),
        Sentence::plain("draft-lower"),
        Sentence::plain("draft-turn"),
        Sentence::plain("draft-again"),
    ]
}

/// What simulated surveys of that very layout promise, if the target is sought in every box.
fn can_tell(scene: &Scene, sensor: &Sensor, cells: &[DraftCell]) -> Vec<Sentence> {
    let max = sensor.max_gain.value.get();
    let usable = cells.iter().filter(|cell| (0.0..=max).contains(&cell.expected_gain.get())).count();
    let counts = [("usable", usable), ("boxes", cells.len())];
    vec![
        Sentence::new("draft-fills", counts.map(|(name, count)| (name, Part::Figure(count.to_string())))),
        match half_widths(scene, cells) {
            Some([width, tilt, shift]) => Sentence::new("draft-promises", precision(width, tilt, shift)),
            None => Sentence::plain("draft-too-little"),
        },
        Sentence::plain("draft-cannot"),
    ]
}

/// Half of what lies between the 5 % and the 95 % quantiles of beamwidth and tilt, degrees, and shift, dB, over simulated surveys
/// of a unit as stated whose tilt across the line is drawn; none where they do not tell the width.
fn half_widths(scene: &Scene, cells: &[DraftCell]) -> Option<[f64; 3]> {
    let settings = FitSettings::default();
    let noise = Noise { scale: settings.detection_scale.get(), position: settings.position_error.get() };
    let sought = |cell: &DraftCell| SurveyReading {
        offset: cell.offset,
        depth: cell.depth,
        // It only says that the least gain is sought: the draw says what is found.
        outcome: SurveyOutcome::Never,
    };
    let readings: Vec<SurveyReading> = cells.iter().map(sought).collect();
    let problem = Problem::new(scene, &readings, noise);
    let stated = problem.stated();
    let free: &[usize] = if problem.shows_sides(&stated) { &[0, 1, 2, SIDE] } else { &[0, 1, 2] };
    let normal = Normal::new(0.0, settings.tilt_across_deg).ok()?;
    let errors = |round: u32| {
        // Every share of the prior once.
        let across = normal.inverse_cdf((f64::from(round) + 0.5) / f64::from(ROUNDS));
        let drawn = problem.draw(&stated.with(ACROSS, across), settings.seed, u64::from(round));
        let found = problem.of(&drawn).maximise(&stated, free).parameters;
        [0, 1, 2].map(|index| found.at(index) - stated.at(index))
    };
    let all: Vec<[f64; 3]> = (0..ROUNDS).into_par_iter().map(errors).collect();
    let half = |index: usize| {
        let mut one: Vec<f64> = all.iter().filter_map(|errors| errors.get(index).copied()).collect();
        one.sort_by(f64::total_cmp);
        match (one.get(LOW), one.get(one.len().saturating_sub(1 + LOW))) {
            (Some(low), Some(high)) => 0.5 * (high - low),
            _ => f64::NAN,
        }
    };
    let halves = [half(0), half(1), half(2)];
    (halves.iter().all(|half| half.is_finite()) && halves[0] < stated.at(0)).then_some(halves)
}
