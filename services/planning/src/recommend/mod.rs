//! Which sensor to buy, and how sure that is.
//!
//! A *sensor* is what one buys, an *option* one of its beams; choosing among the options of a sensor is turning a switch.
//! For each place and use a sensor is worth the best score among its options that work, or among all where none does. Sensors are ordered by R, the weight of the
//! places where every use works, then by U, the weighted mean of what they are worth. Recommended is the cheapest of those with the
//! same R as the first and a U within 0.02 of the best among these.
//!
//! Where there are draws, R and U are means over them, and two R within 0.05 are the same (256 draws tell a share to 3 of 100); without, they are of the recorded figures. The
//! recorded figures alone do not choose where there are draws, other than decisions.md has it: a place at the edge of working made one
//! sensor the only one that worked and was recommended, with 27 draws of 100 for it and 73 for another. What is printed beside the choice are the
//! same means, so that page and choice agree. How sure the choice is says the share of the draws in which the sensor has the largest R and a
//! U within 0.02 of the best.

mod check;
mod decide;
mod draws;
mod setting_words;
mod settle;
mod types;
mod words;
mod worth;

pub use decide::{AS_GOOD, CLEARLY, FIRM, MOST_NAMED, SAME, decide, total};
pub(crate) use setting_words::no_room;
pub use setting_words::{highest, room_text, start, watch_out};
pub use types::{
    Advice, Beside, CandidateIndex, Choice, Cost, Criterion, Decision, Firmness, Hindrance, LIKELY, Nowhere, Pair,
    PlaceAdvice, PlaceIndex, Recommendation, Settling, Step, Total, Unknown, UnknownKind, Use, Whereabouts, Worth,
    Worths,
};
pub use words::{Told, hindrance, words};

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::PlanningError;
use crate::fleet::money;
use crate::selection::{OtherUnit, Perturbation, Prepared, usual_units};
use domain::selection::{Finding, RunInput};
use domain::setting::{Highest, setting};
use domain::{Cancel, HolePlan, Spot};
use draws::Draws;
use worth::{Drawn, Judge, Judged, at_floor};

/// Most evaluations of an option at a place that one recommendation takes, all draws and uses together.
pub const MAX_EVALUATIONS: usize = 8_000_000;

/// How far a recommendation has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// Tables of beams and neighbours are built.
    Tables,
    /// Draws are taken.
    Draws {
        /// Draws done.
        done: usize,
        /// Draws in all.
        of: usize,
    },
}

/// For callers that show no progress.
pub const QUIET: &(dyn Fn(Progress) + Sync) = &|_| ();

/// Recommends a sensor of a run.
///
/// # Errors
/// Faults of the run or of the choice, all at once; or the work is cancelled.
pub fn recommend(
    input: &RunInput,
    choice: &Choice,
    cancel: &Cancel,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Recommendation, PlanningError> {
    let faults = choice.check(input, input.spots.len());
    if !faults.is_empty() {
        return Err(PlanningError::Faults(faults));
    }
    progress(Progress::Tables);
    let prepared = Prepared::new(input, cancel)?;
    let spots: Vec<usize> = (0..input.spots.len()).collect();
    recommend_prepared(&prepared, &spots, choice, cancel, progress)
}

/// As [`recommend`], with the tables of the run as they are, for some of its spots; the choice has a weight for each of these.
///
/// # Errors
/// As [`recommend`].
pub fn recommend_prepared(
    prepared: &Prepared,
    spots: &[usize],
    choice: &Choice,
    cancel: &Cancel,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Recommendation, PlanningError> {
    let input = prepared.input();
    let faults = choice.check(input, spots.len());
    if !faults.is_empty() {
        return Err(PlanningError::Faults(faults));
    }
    let (uses, weights) = (choice.shares(input), choice.shares_of_places(spots.len()));
    let judge = Judge::new(prepared, &uses, spots);
    let judged: Vec<Vec<Judged>> = (0..spots.len())
        .into_par_iter()
        .map(|place| cancel.check().map(|()| judge.nominal(place)))
        .collect::<Result<_, _>>()?;
    let count = affordable_draws(input, spots.len() * uses.len());
    let sites: Vec<&Spot> = spots.iter().filter_map(|spot| input.spots.get(*spot)).collect();
    let drawn = Draws::new(count, &sites, input);
    let (done, of) = (AtomicUsize::new(0), usize::try_from(count).unwrap_or(0));
    let Drawn { totals: draws, expected } = judge.totals(&drawn, count, &weights, cancel, &|more| {
        let done = done.fetch_add(more, Ordering::Relaxed) + more;
        progress(Progress::Draws { done, of });
    })?;
    let (unknowns, values) = drawn.unknowns();
    let sensors = 0..input.sensors.len();
    let nominal: Vec<Vec<Worth>> =
        sensors.map(|s| judged.iter().filter_map(|row| row.get(s)).map(|j| j.worth).collect()).collect();
    let recorded = || nominal.iter().map(|row| row.iter().copied().map(Total::from).collect()).collect();
    let expected = if count == 0 { recorded() } else { expected };
    let worths = Worths {
        costs: choice.costs(input),
        weights,
        nominal,
        expected,
        draws,
        unknowns: values,
        budget: choice.budget.as_ref().map(money::nanos),
    };
    let decision = decide(&worths);
    let places = decision.advice.sensor().map_or_else(Vec::new, |sensor| settings(&judge, (&judged, &worths), sensor));
    let nowhere = nowhere(&judge, (&judged, &worths), &decision, cancel)?;
    Ok(Recommendation { decision, worths, uses, places, nowhere, unknowns, draws: count })
}

/// As many draws as asked for, or as many as the bound on evaluations allows.
fn affordable_draws(input: &RunInput, places_and_uses: usize) -> u32 {
    let each = (input.options.len() * places_and_uses).max(1);
    input.settings.draws.min(u32::try_from(MAX_EVALUATIONS / each).unwrap_or(u32::MAX))
}

/// How a sensor is set at each place for each use.
fn settings(
    judge: &Judge<'_>,
    (judged, worths): (&[Vec<Judged>], &Worths),
    sensor: CandidateIndex,
) -> Vec<PlaceAdvice> {
    let mut advice = Vec::new();
    let input = judge.prepared.input();
    let usual = usual_units(input);
    let owned = input.options.iter().enumerate().filter(|(_, option)| option.sensor == sensor.0);
    let options: Vec<usize> = owned.map(|(option, _)| option).collect();
    for (place, row) in judged.iter().enumerate() {
        let Some(judged) = row.get(sensor.0) else { continue };
        let likely = worths.expected.get(sensor.0).and_then(|row| row.get(place)).is_some_and(|t| t.likely_works());
        for (use_index, option) in judged.options.iter().enumerate() {
            let Some(option) = *option else { continue };
            let at = (PlaceIndex(place), use_index, option);
            let Some(row) = set_at(judge, at, Perturbation::NONE) else { continue };
            // No setting holds beside every neighbour that there may be, and yet it works beside most: then beside as many as possible, half at least.
            let beside_most = (likely && !row.hindrances.is_empty())
                .then(|| options.iter().filter_map(|option| beside_most(judge, (at.0, at.1, *option), &usual)))
                .and_then(|rows| rows.max_by(|(a, _), (b, _)| a.total_cmp(b)));
            advice.push(beside_most.map_or(row, |(_, row)| row));
        }
    }
    advice
}

/// How an option is used at a place for a use, in the recorded figures or beside neighbours of some kind.
fn set_at(
    judge: &Judge<'_>,
    (place, use_index, option): (PlaceIndex, usize, usize),
    shift: Perturbation,
) -> Option<PlaceAdvice> {
    let (spot, rules) = (judge.spot(place.0)?, judge.rules(use_index)?);
    let figures = judge.prepared.case(spot, option)?.evaluate(rules, &shift);
    let finding = Finding { spot: place.0, ..judge.prepared.finding(spot, option, &figures, 1)? };
    let criteria = [Criterion::Coverage, Criterion::Clutter, Criterion::Resolution, Criterion::Interference];
    let mut floored = at_floor(&figures, &rules.weighing);
    // Where neighbours show before any setting it is printed as *not here*, however little is missing.
    let owner = judge.prepared.option(option).map(|(owner, _)| owner);
    let [.., neighbours] = &mut floored;
    *neighbours |= owner.is_some_and(|owner| setting(owner, &finding.gains).highest == Highest::NotHere);
    let floored = criteria.into_iter().zip(floored).filter(|(_, floored)| *floored);
    let failures = finding.failures.iter().copied().map(Hindrance::Failure);
    let hindrances = failures.chain(floored.map(|(criterion, _)| Hindrance::AtFloor(criterion))).collect();
    Some(PlaceAdvice { place, use_index, finding, hindrances, beside: Beside::All })
}

/// The same beside as many of the usual units as it works beside, with what share of them that is.
fn beside_most(
    judge: &Judge<'_>,
    at: (PlaceIndex, usize, usize),
    usual: &[(OtherUnit, f64)],
) -> Option<(f64, PlaceAdvice)> {
    let beside = |unit: OtherUnit| set_at(judge, at, Perturbation { other: Some(unit), ..Perturbation::NONE });
    let rows = usual.iter().filter_map(|(unit, weight)| Some((beside(*unit)?, *weight)));
    let working: Vec<(PlaceAdvice, f64)> = rows.filter(|(row, _)| row.hindrances.is_empty()).collect();
    let share: f64 = working.iter().map(|(_, weight)| weight).sum();
    let clear = |row: &PlaceAdvice| row.finding.gains.clear.map_or(f64::INFINITY, acoustics::units::Db::get);
    // What holds beside the loudest of them holds beside the rest.
    let (row, _) = working.into_iter().min_by(|(a, _), (b, _)| clear(a).total_cmp(&clear(b)))?;
    (share >= LIKELY).then_some((share, PlaceAdvice { beside: Beside::Share(share), ..row }))
}

/// Places where nothing that can be had works, and with how many people something would.
fn nowhere(
    judge: &Judge<'_>,
    (judged, worths): (&[Vec<Judged>], &Worths),
    decision: &Decision,
    cancel: &Cancel,
) -> Result<Vec<Nowhere>, PlanningError> {
    let mut found = Vec::new();
    for place in 0..worths.weights.len() {
        let works_here = |row: &Vec<Total>| row.get(place).is_some_and(|total| total.likely_works());
        let works = worths.expected.iter().zip(&decision.affordable).any(|(row, had)| *had && works_here(row));
        if works || !decision.affordable.iter().any(|had| *had) {
            continue;
        }
        let people = fewer_people(judge, place, &decision.affordable, cancel)?;
        let at = |sensor: usize| worths.expected.get(sensor).and_then(|row| row.get(place));
        let had = (0..worths.expected.len()).rev().filter(|sensor| decision.affordable.get(*sensor) == Some(&true));
        let nearest = had
            .filter_map(|sensor| Some((sensor, at(sensor)?)))
            .max_by(|(_, a), (_, b)| a.works.total_cmp(&b.works).then(a.value.total_cmp(&b.value)));
        let nearest = nearest.map(|(sensor, _)| {
            let here = |advice: &PlaceAdvice| advice.place.0 == place;
            let hindered = settings(judge, (judged, worths), CandidateIndex(sensor));
            (
                CandidateIndex(sensor),
                hindered.into_iter().filter(here).find_map(|advice| advice.hindrances.first().copied()),
            )
        });
        let price = |sensor: usize| match worths.costs.get(sensor) {
            Some(Cost::Price(price)) => Some(*price),
            Some(Cost::Owned | Cost::Unpriced) | None => None,
        };
        let beyond = (0..worths.expected.len()).filter(|sensor| decision.affordable.get(*sensor) == Some(&false));
        let would = beyond
            .filter(|sensor| at(*sensor).is_some_and(|total| total.likely_works()))
            .filter_map(|sensor| Some((price(sensor)?, sensor)))
            .min()
            .map(|(_, sensor)| CandidateIndex(sensor));
        found.push(Nowhere { place: PlaceIndex(place), people, nearest, would });
    }
    Ok(found)
}

/// The largest party of the shelter with whom something works at a place; halved towards it, as fewer people never hurt.
fn fewer_people(
    judge: &Judge<'_>,
    place: usize,
    affordable: &[bool],
    cancel: &Cancel,
) -> Result<Option<u32>, PlanningError> {
    let input = judge.prepared.input();
    let spot = judge.spot(place).and_then(|spot| input.spots.get(spot));
    let (Some(shelter), Some(spot)) = (&input.shelter, spot) else { return Ok(None) };
    let HolePlan::Party(party) = shelter.holes else { return Ok(None) };
    let works_with = |people: u32| -> Result<bool, PlanningError> {
        let mut fewer = RunInput { spots: vec![spot.clone()], ..input.clone() };
        fewer.options.retain(|option| affordable.get(option.sensor) == Some(&true));
        fewer.settings.draws = 0;
        if let Some(shelter) = &mut fewer.shelter {
            shelter.holes = HolePlan::Party(people);
        }
        let prepared = Prepared::new(&fewer, cancel)?;
        let alone = Judge::new(&prepared, judge.uses, &[0]);
        Ok(alone.nominal(0).iter().any(|judged| judged.worth.works))
    };
    if party < 2 || !works_with(1)? {
        return Ok(None);
    }
    let (mut good, mut bad) = (1, party);
    while bad - good > 1 {
        let middle = u32::midpoint(good, bad);
        if works_with(middle)? { good = middle } else { bad = middle }
    }
    Ok(Some(good))
}

/// An amount in billionths as money.
#[must_use]
pub fn amount(nanos: i128, currency: &str) -> domain::Money {
    money::money(nanos, Some(currency))
}
