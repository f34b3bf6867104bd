//! The aims, one after the other.

use domain::{Cancel, Cancelled};

use super::local;
use super::model::{Aim, Model};
use super::number::{ceil, float, floor};
use super::problem::{Calendar, Problem, Solution, Worth};
use super::program::Effort;
use super::state::State;

/// Work of one search, in variables times nodes: larger programs get fewer nodes. Branching rarely finds a better score in
/// a large program, where the local search is nearly as good as the bound allows; it gets less.
const WORK: u64 = 8_000_000;
const SCORE_WORK: u64 = 2_000_000;
/// Fewest and most nodes of one search.
const NODES: (u64, u64) = (64, 20_000);
/// Programs with more variables are not solved; the local search then answers alone.
const MOST_COLUMNS: usize = 40_000;

/// The plan so far.
struct Best<'a> {
    problem: &'a Problem,
    calendar: &'a Calendar,
    given: Vec<Option<usize>>,
    worth: Worth,
}

impl Best<'_> {
    /// Takes an assignment if it is valid, and better in the order of the aims.
    fn offer(&mut self, given: &[Option<usize>]) {
        let Some(worth) = self.problem.worth(self.calendar, given) else { return };
        let order = worth.met.cmp(&self.worth.met).then(self.worth.cost.cmp(&worth.cost));
        if order.then(worth.score.total_cmp(&self.worth.score)).is_gt() {
            (self.given, self.worth) = (given.to_vec(), worth);
        }
    }
}

/// Solves a problem.
pub(in crate::fleet) fn solve(problem: &Problem, cancel: &Cancel) -> Result<Solution, Cancelled> {
    let calendar = Calendar::new(&problem.jobs);
    let model = Model::new(problem, &calendar);
    let given = vec![None; problem.jobs.len()];
    let mut best = Best { problem, calendar: &calendar, given, worth: Worth { met: 0, cost: 0, score: 0.0 } };
    best.offer(&local::greedy(problem, &calendar).given);
    let met_is_proven = most_met(&mut best, &model, cancel)?;
    let least_cost = cheapest(&mut best, &model, cancel)?;
    let cost_is_proven = least_cost >= best.worth.cost;
    let score_is_proven = best_score(&mut best, &model, cancel)? && met_is_proven && cost_is_proven;
    let peaks = problem.peaks(&calendar, &best.given);
    let bought = problem.stocks.iter().zip(peaks);
    let bought =
        bought.map(|(stock, peak)| u32::try_from(peak.saturating_sub(u64::from(stock.ready))).unwrap_or(u32::MAX));
    Ok(Solution {
        bought: bought.collect(),
        cost: best.worth.cost,
        least_cost: least_cost.min(best.worth.cost),
        given: best.given,
        met_is_proven,
        cost_is_proven,
        score_is_proven,
    })
}

fn effort(model: &Model<'_>, work: u64, gap: f64) -> Effort {
    let size = u64::try_from(model.size()).unwrap_or(u64::MAX).max(1);
    Effort { gap, nodes: (work / size).clamp(NODES.0, NODES.1) }
}

/// Meets as many anglers as can be; whether that is proven.
fn most_met(best: &mut Best<'_>, model: &Model<'_>, cancel: &Cancel) -> Result<bool, Cancelled> {
    let all: u64 =
        best.problem.jobs.iter().filter(|job| !job.choices.is_empty()).map(|job| u64::from(job.anglers)).sum();
    if best.worth.met == all {
        return Ok(true);
    }
    if model.size() > MOST_COLUMNS {
        return Ok(false);
    }
    let columns = model.columns(Aim::Met);
    let start = model.values(&columns, &best.given);
    let found = columns.program.search(start.as_deref(), effort(model, WORK, 0.0), cancel)?;
    if let Some(values) = &found.values {
        best.offer(&model.assignment(&columns, values));
    }
    Ok(found.bound.is_finite() && floor(found.bound) <= i128::from(best.worth.met))
}

/// Lowers the cost with as many met; what it cannot be under.
fn cheapest(best: &mut Best<'_>, model: &Model<'_>, cancel: &Cancel) -> Result<i128, Cancelled> {
    let (problem, calendar) = (best.problem, best.calendar);
    if best.worth.cost == 0 {
        return Ok(0);
    }
    let mut state = State::of(problem, calendar, &best.given);
    local::cheapen(&mut state, cancel)?;
    best.offer(&state.given);
    cancel.check()?;
    if model.size() > MOST_COLUMNS {
        return Ok(0);
    }
    let columns = model.columns(Aim::Cost { met: best.worth.met });
    let least = |bound: f64| ceil(-bound) * model.unit;
    let relaxed = columns.program.relaxed();
    if let Some(values) = relaxed.as_ref().and_then(|relaxed| relaxed.values.as_ref()) {
        let mut state = State::of(problem, calendar, &model.assignment(&columns, values));
        if state.cost().is_some() {
            local::cheapen(&mut state, cancel)?;
            best.offer(&state.given);
        }
    }
    let bound = relaxed.map_or(0, |relaxed| least(relaxed.bound));
    if float(best.worth.cost - bound) <= problem.gap * float(best.worth.cost) {
        return Ok(bound);
    }
    let start = model.values(&columns, &best.given);
    let found = columns.program.search(start.as_deref(), effort(model, WORK, problem.gap), cancel)?;
    if let Some(values) = &found.values {
        best.offer(&model.assignment(&columns, values));
    }
    if found.proves(-float(best.worth.cost / model.unit)) {
        return Ok(best.worth.cost);
    }
    Ok(bound.max(least(found.bound)))
}

/// Raises the score with as many met for as little; whether no better one is possible.
fn best_score(best: &mut Best<'_>, model: &Model<'_>, cancel: &Cancel) -> Result<bool, Cancelled> {
    let mut state = State::of(best.problem, best.calendar, &best.given);
    local::improve(&mut state);
    best.offer(&state.given);
    if model.size() > MOST_COLUMNS {
        return Ok(false);
    }
    let columns = model.columns(Aim::Score { met: best.worth.met, cost: best.worth.cost });
    if let Some(values) = columns.program.relaxed().and_then(|relaxed| relaxed.values) {
        let mut near = State::of(best.problem, best.calendar, &model.assignment(&columns, &values));
        if local::repair(&mut near, &local::limits(&state), &mut local::work(best.problem)) {
            local::improve(&mut near);
            best.offer(&near.given);
        }
    }
    let start = model.values(&columns, &best.given);
    let found = columns.program.search(start.as_deref(), effort(model, SCORE_WORK, 0.0), cancel)?;
    if let Some(values) = &found.values {
        best.offer(&model.assignment(&columns, values));
    }
    Ok(found.proves(best.worth.score))
}
