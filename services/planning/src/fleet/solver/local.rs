//! Good answers without proof: a greedy start, and a search that lowers the limits of the sensors one unit at a time and
//! moves bookings until they are kept again.
//!
//! The search is the *min-conflicts* heuristic (Minton, Johnston, Philips and Laird 1992, Artificial Intelligence 58,
//! 161–205, doi:10.1016/0004-3702(92)90007-K) with a tabu list (Glover 1989, ORSA Journal on Computing 1, 190–206,
//! doi:10.1287/ijoc.1.3.190). It has no randomness: ties go to the first.

use std::cmp::Reverse;

use domain::{Cancel, Cancelled};

use super::problem::{Calendar, Problem};
use super::state::State;

/// How many moves a job that was moved stays away from where it was.
const TENURE: u32 = 12;
/// Looks at jobs in one search, in all: larger problems get fewer moves.
const WORK: u64 = 400_000_000;
/// Rounds of trading places.
const ROUNDS: u32 = 20;
/// Moves of one repair in vain after which it is given up.
const PATIENCE: u32 = 2_000;

/// A trade that gains less is none: rounding could have it both ways.
const LEAST_GAIN: f64 = 1.0e-9;
/// Orders in which jobs are given out greedily.
const ORDERS: u8 = 4;

/// Greedy assignments in some orders, each from what is to be kept and from nothing.
pub(super) fn greedy(problem: &Problem, calendar: &Calendar) -> Vec<Vec<Option<usize>>> {
    let kept = held(problem, calendar);
    let starts = if problem.kept() > 0 { vec![kept, State::empty(problem, calendar)] } else { vec![kept] };
    let orders = (0..ORDERS).flat_map(|order| starts.iter().map(move |start| (order, start)));
    orders.map(|(order, start)| in_order(start.clone(), order).given).collect()
}

/// What everybody keeps as far as there is enough: first what is out, then what was promised.
fn held<'a>(problem: &'a Problem, calendar: &'a Calendar) -> State<'a> {
    let mut state = State::empty(problem, calendar);
    let mut jobs: Vec<usize> = (0..problem.jobs.len()).collect();
    let tie = |job: &usize| problem.jobs.get(*job).and_then(|job| job.kept).map(|kept| kept.tie);
    jobs.sort_by_key(|job| Reverse(tie(job)));
    for job in jobs {
        let Some(record) = problem.jobs.get(job) else { continue };
        let Some(kept) = record.kept else { continue };
        let serves = record.choices.iter().any(|choice| choice.sensor == kept.sensor);
        if serves && joins(&state, job, kept.sensor) {
            afford(&mut state, job, kept.sensor);
        }
    }
    state
}

/// Whether nobody of a job's party has another sensor.
fn joins(state: &State<'_>, job: usize, sensor: usize) -> bool {
    let party = |job: usize| state.problem.jobs.get(job).and_then(|job| job.party);
    let Some(own) = party(job) else { return true };
    let others = state.given.iter().enumerate().filter(|(other, _)| party(*other) == Some(own));
    others.filter_map(|(_, given)| *given).all(|given| given == sensor)
}

/// Gives a job a sensor where units can be had and the budget bears it.
fn afford(state: &mut State<'_>, job: usize, sensor: usize) {
    let Some(more) = state.surcharge(job, sensor) else { return };
    let paid = state.cost().unwrap_or_default();
    if state.problem.budget.is_none_or(|budget| paid + more <= budget) {
        state.give(job, Some(sensor));
    }
}

fn in_order(mut state: State<'_>, order: u8) -> State<'_> {
    let (problem, calendar) = (state.problem, state.calendar);
    let mut jobs: Vec<usize> =
        state.given.iter().enumerate().filter(|(_, own)| own.is_none()).map(|(job, _)| job).collect();
    let key = |job: &usize| {
        let (choices, anglers) = problem.jobs.get(*job).map_or((0, 0), |job| (job.choices.len(), job.anglers));
        let (low, high) = calendar.spans.get(*job).copied().unwrap_or_default();
        let days = high - low + 1;
        match order {
            0 => (choices, Reverse(anglers), Reverse(days)),
            1 => (low, Reverse(anglers), Reverse(choices)),
            2 => (0, Reverse(anglers), Reverse(days)),
            _ => (days, Reverse(0), Reverse(choices)),
        }
    };
    jobs.sort_by_key(key);
    for job in jobs {
        let Some(record) = problem.jobs.get(job) else { continue };
        let cheapest = record
            .choices
            .iter()
            .filter(|choice| joins(&state, job, choice.sensor))
            .filter_map(|choice| Some((state.surcharge(job, choice.sensor)?, choice)))
            .min_by(|(a, x), (b, y)| a.cmp(b).then(y.score.total_cmp(&x.score)));
        if let Some((_, choice)) = cheapest {
            afford(&mut state, job, choice.sensor);
        }
    }
    state
}

/// Lowers the cost of an assignment that meets whom it meets: unit by unit the limits of sensors are lowered, or one is
/// lowered and a cheaper one raised, as long as moving bookings makes it fit again.
pub(super) fn cheapen(state: &mut State<'_>, cancel: &Cancel) -> Result<(), Cancelled> {
    let sensors = state.problem.stocks.len();
    let mut left = work(state.problem);
    let mut improved = true;
    while improved {
        cancel.check()?;
        improved = false;
        let mut swaps: Vec<(i128, usize, Option<usize>)> = Vec::new();
        for dear in 0..sensors {
            let Some(price) = bought(state, dear) else { continue };
            swaps.push((price, dear, None));
            for cheap in 0..sensors {
                if let Some(other) = state.problem.stocks.get(cheap).and_then(|stock| stock.price)
                    && other < price
                    && cheap != dear
                {
                    swaps.push((price - other, dear, Some(cheap)));
                }
            }
        }
        swaps.sort_by_key(|(saved, dear, cheap)| (Reverse(*saved), *dear, *cheap));
        for (_, dear, cheap) in swaps {
            cancel.check()?;
            let mut limits = limits(state);
            if bought(state, dear).is_none() {
                continue;
            }
            if let Some(limit) = limits.get_mut(dear) {
                *limit -= 1;
            }
            if let Some(limit) = cheap.and_then(|cheap| limits.get_mut(cheap)) {
                *limit += 1;
            }
            let before = state.cost();
            let mut trial = state.clone();
            if repair(&mut trial, &limits, &mut left, cancel)? && trial.cost() < before {
                *state = trial;
                improved = true;
            }
        }
    }
    Ok(())
}

/// The price of a unit of a sensor that has some to buy.
fn bought(state: &State<'_>, sensor: usize) -> Option<i128> {
    let stock = state.problem.stocks.get(sensor)?;
    if state.peak(sensor) > stock.ready { stock.price } else { None }
}

/// What may be used of each sensor: what is ready, or what is bought besides.
pub(super) fn limits(state: &State<'_>) -> Vec<u32> {
    state.problem.stocks.iter().enumerate().map(|(sensor, stock)| stock.ready.max(state.peak(sensor))).collect()
}

/// Moves that a search over a problem may make.
pub(super) fn work(problem: &Problem) -> u64 {
    let size = u64::try_from(problem.jobs.len() + problem.stocks.len()).unwrap_or(u64::MAX);
    WORK / size.max(1)
}

/// Moves jobs until no sensor passes its limit; false where that does not come about, or no moves are left.
pub(super) fn repair(
    state: &mut State<'_>,
    limits: &[u32],
    left: &mut u64,
    cancel: &Cancel,
) -> Result<bool, Cancelled> {
    let sensors = limits.len();
    let mut tabu = vec![0_u32; state.given.len() * sensors];
    let (mut excess, mut least, mut moves, mut idle) = (0_i64, 0_i64, 1_u32, 0_u32);
    while let Some((sensor, day)) = state.overload(limits, usize::try_from(moves).unwrap_or_default()) {
        cancel.check()?;
        let mut best: Option<(i64, usize, usize)> = None;
        for job in state.running(sensor, day) {
            let relief = shift(state, limits, job, sensor, true);
            let Some(record) = state.problem.jobs.get(job) else { continue };
            for choice in record.choices.iter().filter(|choice| choice.sensor != sensor) {
                let change = shift(state, limits, job, choice.sensor, false) - relief;
                let barred = tabu.get(job * sensors + choice.sensor).is_some_and(|until| *until > moves);
                let aspires = excess + change < least;
                if (!barred || aspires) && best.is_none_or(|(known, _, _)| change < known) {
                    best = Some((change, job, choice.sensor));
                }
            }
        }
        moves += 1;
        idle += 1;
        if let Some((change, job, to)) = best {
            state.give(job, Some(to));
            if let Some(until) = tabu.get_mut(job * sensors + sensor) {
                *until = moves + TENURE;
            }
            excess += change;
            idle = if excess < least { 0 } else { idle };
        }
        least = least.min(excess);
        *left = left.saturating_sub(1);
        if idle > PATIENCE || *left == 0 {
            return Ok(false);
        }
    }
    Ok(true)
}

/// By how many unit-days the excess of a sensor falls when a job leaves it, or grows when it comes.
fn shift(state: &State<'_>, limits: &[u32], job: usize, sensor: usize, leaves: bool) -> i64 {
    let limit = i64::from(limits.get(sensor).copied().unwrap_or_default());
    let anglers = i64::from(state.anglers(job));
    let excess = |load: i64| (load - limit).max(0);
    state
        .over(sensor, job)
        .iter()
        .map(|load| {
            let load = i64::from(*load);
            if leaves { excess(load) - excess(load - anglers) } else { excess(load + anglers) - excess(load) }
        })
        .sum()
}

/// Raises the score within the limits that an assignment needs: jobs move to what serves them better while there is room,
/// and pairs change places.
pub(super) fn improve(state: &mut State<'_>) {
    let limits = limits(state);
    let (mut improved, mut rounds) = (true, 0);
    while improved && rounds < ROUNDS {
        (improved, rounds) = (false, rounds + 1);
        for job in 0..state.given.len() {
            improved |= rise(state, &limits, job) || trade(state, &limits, job);
        }
    }
}

/// The score of a job with a sensor.
fn score(state: &State<'_>, job: usize, sensor: usize) -> Option<f64> {
    let record = state.problem.jobs.get(job)?;
    let choice = record.choices.iter().find(|choice| choice.sensor == sensor)?;
    Some(f64::from(record.anglers) * choice.score)
}

fn fits(state: &State<'_>, limits: &[u32], job: usize, sensor: usize) -> bool {
    shift(state, limits, job, sensor, false) == 0
}

fn rise(state: &mut State<'_>, limits: &[u32], job: usize) -> bool {
    let Some(own) = state.given.get(job).copied().flatten() else { return false };
    let Some(record) = state.problem.jobs.get(job) else { return false };
    let Some(known) = score(state, job, own) else { return false };
    let better = record
        .choices
        .iter()
        .filter_map(|choice| Some((score(state, job, choice.sensor)?, choice.sensor)))
        .filter(|(worth, sensor)| *worth > known && fits(state, limits, job, *sensor))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let Some((_, to)) = better else { return false };
    state.give(job, Some(to));
    true
}

/// Changes places with the first other job with which both are better served together.
fn trade(state: &mut State<'_>, limits: &[u32], job: usize) -> bool {
    for other in 0..job {
        let (Some(a), Some(b)) = (state.given.get(job).copied().flatten(), state.given.get(other).copied().flatten())
        else {
            continue;
        };
        if a == b {
            continue;
        }
        let gain = |state: &State<'_>| {
            Some(score(state, job, b)? + score(state, other, a)? - score(state, job, a)? - score(state, other, b)?)
        };
        if gain(state).is_none_or(|gain| gain <= LEAST_GAIN) {
            continue;
        }
        state.give(job, None);
        state.give(other, None);
        let first = fits(state, limits, job, b);
        state.give(job, Some(b));
        if first && fits(state, limits, other, a) {
            state.give(other, Some(a));
            return true;
        }
        state.give(job, Some(a));
        state.give(other, Some(b));
    }
    false
}
