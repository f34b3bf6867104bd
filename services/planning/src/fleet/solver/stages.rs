//! The aims, one after the other.

use domain::{Cancel, Cancelled};

use super::local;
use super::model::{Aim, Model, Reached};
use super::number::{ceil_signed, float, floor};
use super::problem::{Calendar, Job, Level, Problem, Solution, Worth};
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
        if self.problem.order(&worth, &self.worth).is_gt() {
            (self.given, self.worth) = (given.to_vec(), worth);
        }
    }

    /// What a later program may not undo of the levels before one, or of all of them.
    fn reached(&self, until: Option<Level>) -> Reached {
        let levels = self.problem.levels().iter().take_while(|level| Some(**level) != until);
        Reached { levels: levels.map(|level| (*level, self.worth.at(*level))).collect(), burden: None }
    }
}

/// Solves a problem.
pub(in crate::fleet) fn solve(problem: &Problem, cancel: &Cancel) -> Result<Solution, Cancelled> {
    let calendar = Calendar::new(problem);
    let model = Model::new(problem, &calendar);
    let given = vec![None; problem.jobs.len()];
    let burden = problem.change.unwrap_or_default() * i128::from(problem.kept());
    let worth = Worth { levels: [0; 4], cost: 0, burden, score: 0.0 };
    let mut best = Best { problem, calendar: &calendar, given, worth };
    for given in local::greedy(problem, &calendar) {
        best.offer(&given);
    }
    let mut met_is_proven = true;
    for level in problem.levels() {
        met_is_proven &= most(&mut best, &model, *level, cancel)?;
    }
    let least = cheapest(&mut best, &model, cancel)?;
    let cost_is_proven = least >= best.worth.burden;
    let score_is_proven = best_score(&mut best, &model, cancel)? && met_is_proven && cost_is_proven;
    let peaks = problem.peaks(&calendar, &best.given);
    let bought = problem.stocks.iter().zip(peaks);
    let bought =
        bought.map(|(stock, peak)| u32::try_from(peak.saturating_sub(u64::from(stock.ready))).unwrap_or(u32::MAX));
    let changes = best.worth.burden - best.worth.cost;
    Ok(Solution {
        bought: bought.collect(),
        cost: best.worth.cost,
        least_cost: (least - changes).clamp(0, best.worth.cost),
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

/// Reaches as much of a level as can be; whether that is proven.
fn most(best: &mut Best<'_>, model: &Model<'_>, level: Level, cancel: &Cancel) -> Result<bool, Cancelled> {
    let greatest = |job: &Job| job.choices.iter().map(|choice| u64::from(job.gain(level, choice.sensor))).max();
    let all: u64 = best.problem.jobs.iter().filter_map(greatest).sum();
    if best.worth.at(level) == all {
        return Ok(true);
    }
    if model.size() > MOST_COLUMNS {
        return Ok(false);
    }
    let columns = model.columns(Aim::Most(level), &best.reached(Some(level)));
    let proven = |best: &Best<'_>, bound: f64| bound.is_finite() && floor(bound) <= i128::from(best.worth.at(level));
    if columns.program.relaxed().is_some_and(|relaxed| proven(best, relaxed.bound)) {
        return Ok(true);
    }
    let start = model.values(&columns, &best.given);
    let found = columns.program.search(start.as_deref(), effort(model, WORK, 0.0), cancel)?;
    if let Some(values) = &found.values {
        best.offer(&model.assignment(&columns, values));
    }
    Ok(proven(best, found.bound))
}

/// Lowers the burden with as much reached; what it cannot be under.
fn cheapest(best: &mut Best<'_>, model: &Model<'_>, cancel: &Cancel) -> Result<i128, Cancelled> {
    let (problem, calendar) = (best.problem, best.calendar);
    if best.worth.burden == 0 {
        return Ok(0);
    }
    // Without what is kept nothing is worth more than the cost; with it the local search leaves in place what stays.
    let lowered = |given: &[Option<usize>]| -> Result<Option<Vec<Option<usize>>>, Cancelled> {
        let frozen = problem.frozen(given);
        let mut state = State::of(&frozen, calendar, given);
        if state.cost().is_none() {
            return Ok(None);
        }
        local::cheapen(&mut state, cancel)?;
        Ok(Some(state.given))
    };
    if let Some(given) = lowered(&best.given)? {
        best.offer(&given);
    }
    cancel.check()?;
    if model.size() > MOST_COLUMNS {
        return Ok(0);
    }
    let columns = model.columns(Aim::Burden, &best.reached(None));
    let kept = problem.change.unwrap_or_default() * i128::from(problem.kept());
    // The program counts what is spared against what changing all of them would be worth.
    let least = |bound: f64| kept + ceil_signed(-bound) * model.unit;
    let relaxed = columns.program.relaxed();
    if let Some(values) = relaxed.as_ref().and_then(|relaxed| relaxed.values.as_ref())
        && let Some(given) = lowered(&model.assignment(&columns, values))?
    {
        best.offer(&given);
    }
    let bound = relaxed.map_or(0, |relaxed| least(relaxed.bound)).max(0);
    if float(best.worth.burden - bound) <= problem.gap * float(best.worth.burden) {
        return Ok(bound);
    }
    let start = model.values(&columns, &best.given);
    let found = columns.program.search(start.as_deref(), effort(model, WORK, problem.gap), cancel)?;
    if let Some(values) = &found.values {
        best.offer(&model.assignment(&columns, values));
    }
    if found.proves(float((kept - best.worth.burden) / model.unit)) {
        return Ok(best.worth.burden);
    }
    Ok(bound.max(least(found.bound)))
}

/// Raises the score with as much reached for as little; whether no better one is possible.
fn best_score(best: &mut Best<'_>, model: &Model<'_>, cancel: &Cancel) -> Result<bool, Cancelled> {
    let frozen = best.problem.frozen(&best.given);
    let mut state = State::of(&frozen, best.calendar, &best.given);
    local::improve(&mut state);
    best.offer(&state.given);
    if model.size() > MOST_COLUMNS {
        return Ok(false);
    }
    let reached = Reached { burden: Some(best.worth.burden), ..best.reached(None) };
    let columns = model.columns(Aim::Score, &reached);
    if let Some(values) = columns.program.relaxed().and_then(|relaxed| relaxed.values) {
        let given = model.assignment(&columns, &values);
        let frozen = best.problem.frozen(&given);
        let mut near = State::of(&frozen, best.calendar, &given);
        if local::repair(&mut near, &local::limits(&state), &mut local::work(best.problem), cancel)? {
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
