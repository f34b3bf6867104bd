//! A linear program, whole numbers wanted: the models go through `good_lp` to its solver in pure Rust.
//!
//! The search is bounded by nodes, never by time, so that a program has one answer. What it answers is checked by its
//! callers in whole numbers; only its bound is taken on trust, less what rounding may have done to it.

use domain::{Cancel, Cancelled};
use good_lp::{Expression, ProblemVariables, SolverModel, Variable, microlp, variable};

/// Nodes that are solved between two checks of the cancel token.
const NODES_AT_ONCE: u64 = 4;
/// How far rounding may put a bound on the wrong side, relative to its size.
const BOUND_SLACK: f64 = 1.0e-7;

/// A program to be maximised; all variables are from 0 up to a limit.
#[derive(Debug, Clone, Default)]
pub(super) struct Program {
    /// Objective coefficient and greatest value of each variable.
    pub(super) columns: Vec<(f64, f64)>,
    /// Terms, and what their sum may be at most.
    pub(super) rows: Vec<(Vec<(usize, f64)>, f64)>,
}

/// How far a search goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Relative gap of the objective at which it may stop.
    pub(super) gap: f64,
    /// Most nodes.
    pub(super) nodes: u64,
}

/// What a search found.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// Values of the variables; none where nothing was found.
    pub(super) values: Option<Vec<f64>>,
    /// No solution in whole numbers has a larger objective.
    pub(super) bound: f64,
    /// Whether the search ended with a proof.
    pub(super) complete: bool,
}

impl Program {
    /// Adds a variable and says its index.
    pub(super) fn column(&mut self, objective: f64, most: f64) -> usize {
        self.columns.push((objective, most));
        self.columns.len() - 1
    }

    /// The solution in fractions; none where there is none.
    pub(super) fn relaxed(&self) -> Option<Found> {
        let (model, variables) = self.model(false);
        let solution = model.solve().ok()?;
        let values: Vec<f64> = variables.iter().map(|v| good_lp::Solution::value(&solution, *v)).collect();
        let bound = loosened(solution.into_inner().objective());
        Some(Found { values: Some(values), bound, complete: true })
    }

    /// Branch and bound in whole numbers from a known solution.
    pub(super) fn search(&self, start: Option<&[f64]>, effort: Effort, cancel: &Cancel) -> Result<Found, Cancelled> {
        let (relaxed, _) = self.model(false);
        let Ok(relaxed) = relaxed.solve() else {
            return Ok(Found { values: None, bound: f64::INFINITY, complete: false });
        };
        cancel.check()?;
        let relaxed = relaxed.into_inner();
        let bound = loosened(relaxed.objective());
        let unsolved = Found { values: None, bound, complete: false };
        let (model, _) = self.model(true);
        let whole = model.as_inner();
        let mut options = default_for(|options| whole.solve_with(options));
        options.node_limit = Some(NODES_AT_ONCE);
        options.mip_gap = effort.gap;
        options.warm_start = start.map(|values| relaxed.iter().map(|(v, _)| v).zip(values.iter().copied()).collect());
        let mut outcome = match whole.solve_with(options) {
            Ok(outcome) => outcome,
            Err(_) => return Ok(unsolved),
        };
        let mut nodes = NODES_AT_ONCE;
        while !outcome.is_optimal() && nodes < effort.nodes {
            cancel.check()?;
            if let Some(solution) = outcome.solution()
                && solution.gap().is_some_and(|gap| gap <= effort.gap)
            {
                break;
            }
            let Ok(next) = outcome.resume() else { return Ok(unsolved) };
            outcome = next;
            nodes += NODES_AT_ONCE;
        }
        let complete = outcome.is_optimal();
        let bound = outcome.stats().best_bound.map_or(bound, |found| loosened(found).min(bound));
        let values = outcome.solution().map(|solution| solution.iter().map(|(_, value)| value).collect());
        Ok(Found { values, bound, complete })
    }

    fn model(&self, whole: bool) -> (good_lp::solvers::microlp::MicroLpProblem, Vec<Variable>) {
        let mut known = ProblemVariables::new();
        let variables: Vec<Variable> = self
            .columns
            .iter()
            .map(|(_, most)| known.add(if whole { variable().integer() } else { variable() }.min(0.0).max(*most)))
            .collect();
        let sum = |terms: &mut dyn Iterator<Item = (usize, f64)>| {
            terms.filter_map(|(column, share)| Some(*variables.get(column)? * share)).sum::<Expression>()
        };
        let objective = sum(&mut self.columns.iter().enumerate().map(|(column, (gain, _))| (column, *gain)));
        let mut model = known.maximise(objective).using(microlp);
        for (terms, most) in &self.rows {
            model.add_constraint(sum(&mut terms.iter().copied()).leq(*most));
        }
        (model, variables)
    }
}

/// The defaults of a type that only another crate can name.
fn default_for<O: Default, R>(_: impl FnOnce(O) -> R) -> O {
    O::default()
}

impl Found {
    /// Whether the search ended with a proof, and what was made of its answer in whole numbers is worth what it says.
    pub(super) fn proves(&self, objective: f64) -> bool {
        self.complete && self.bound <= objective + 3.0 * BOUND_SLACK * objective.abs().max(1.0)
    }
}

/// A bound with what rounding may have taken from it given back.
fn loosened(bound: f64) -> f64 {
    bound + BOUND_SLACK * bound.abs().max(1.0)
}
