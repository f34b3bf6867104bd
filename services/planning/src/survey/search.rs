//! The maximum of a survey's likelihood, and its profiles.

use super::likelihood::{BOUNDS, Parameters, Problem, SIDE};
use super::types::Estimate;
use argmin::core::{CostFunction, Executor, State};
use argmin::solver::neldermead::NelderMead;

/// Edges of the first simplex, and what a first step may be.
const EDGES: [f64; Parameters::COUNT] = [2.0, 1.0, 2.0, 4.0, 1.0];
/// Steps of the differences that slopes are taken from.
const DIFFERENCES: [f64; Parameters::COUNT] = [0.01, 0.01, 0.01, 0.02, 0.01];
/// A simplex of so little spread of the likelihood has arrived.
const ARRIVED: f64 = 1.0e-7;
/// Most steps of one search.
const MOST_STEPS: u64 = 600;
/// A climb that expects to gain no more than this has arrived.
const SUMMIT: f64 = 1.0e-6;
const MOST_CLIMB_STEPS: u32 = 40;
const MOST_HALVINGS: u32 = 10;
/// Ends of intervals are found to this step, or to this difference of the root of the drop.
const END_STEP: f64 = 1.0e-3;
const END_DROP: f64 = 1.0e-3;
const MOST_ROOT_STEPS: u32 = 40;

/// Where the likelihood is greatest.
#[derive(Debug, Clone, Copy)]
pub(super) struct Optimum {
    pub(super) parameters: Parameters,
    pub(super) log_likelihood: f64,
    pub(super) side_is_fitted: bool,
}

impl Optimum {
    /// How many figures were fitted.
    pub(super) fn free(&self) -> usize {
        self.free_indices().len()
    }

    pub(super) fn free_indices(&self) -> &'static [usize] {
        if self.side_is_fitted { &[0, 1, 2, 3] } else { &[0, 1, 2] }
    }
}

/// What a climb learns of the curvature: the inverse of the second derivatives, row by row.
type Curvature = Vec<Vec<f64>>;

impl Problem<'_> {
    /// Where the search begins: the best few of a coarse grid, so that no far-off ridge is missed.
    pub(super) fn starts(&self, sides: &[f64]) -> Vec<Parameters> {
        let stated = self.stated();
        let mut grid = Vec::new();
        for factor in [0.5, 0.75, 1.0, 1.4, 2.0] {
            for tilt in [-9.0, -4.5, 0.0, 4.5, 9.0] {
                for shift in [-15.0, -7.5, 0.0, 7.5, 15.0] {
                    let start = stated.with(0, stated.0[0] * factor).with(1, tilt).with(2, shift);
                    let starts = sides.iter().map(|side| start.with(SIDE, *side)).filter(Parameters::inside);
                    grid.extend(starts.map(|start| (self.log_likelihood(&start), start)));
                }
            }
        }
        grid.sort_by(|a, b| b.0.total_cmp(&a.0));
        grid.into_iter().take(3).map(|(_, start)| start).collect()
    }

    /// The maximum over some of the parameters, the others held.
    pub(super) fn maximise(&self, start: &Parameters, free: &[usize]) -> Optimum {
        self.climb(start, free, &mut Curvature::new())
    }

    /// The maximum by a quasi-Newton climb, which hands its curvature on; by a simplex where the climb gets stuck, as it may at
    /// the kinks where a lobe meets the floor.
    ///
    /// C. G. Broyden, IMA Journal of Applied Mathematics 6, 222–231 (1970), <https://doi.org/10.1093/imamat/6.3.222>.
    fn climb(&self, start: &Parameters, free: &[usize], inverse: &mut Curvature) -> Optimum {
        let mut here = *start;
        let mut height = self.value(&here);
        let (mut slope, curvature) = self.slope(&here, height, free);
        if inverse.len() != free.len() {
            *inverse = diagonal(&curvature, free);
        }
        for _ in 0..MOST_CLIMB_STEPS {
            let direction = times(inverse, &slope);
            let gain = dot(&direction, &slope);
            if !gain.is_finite() || gain < 0.0 {
                break;
            }
            if gain < SUMMIT {
                return Optimum { parameters: here, log_likelihood: height, side_is_fitted: free.contains(&SIDE) };
            }
            let Some((step, next, reached)) = self.uphill(&here, height, free, &direction) else { break };
            let (after, _) = self.slope(&next, reached, free);
            let fall: Vec<f64> = slope.iter().zip(&after).map(|(before, after)| before - after).collect();
            learn(inverse, &step, &fall);
            (here, height, slope) = (next, reached, after);
        }
        inverse.clear();
        self.by_simplex(&here, free)
    }

    /// A step that goes up, halved until it does.
    fn uphill(
        &self,
        here: &Parameters,
        height: f64,
        free: &[usize],
        direction: &[f64],
    ) -> Option<(Vec<f64>, Parameters, f64)> {
        // Never farther than an edge of a simplex in any figure.
        let edge = |index: &usize| EDGES.get(*index).copied().unwrap_or(1.0);
        let far = direction.iter().zip(free).map(|(d, index)| d.abs() / edge(index)).fold(0.0, f64::max);
        let mut share = if far > 2.0 { 2.0 / far } else { 1.0 };
        for _ in 0..MOST_HALVINGS {
            let step: Vec<f64> = direction.iter().map(|d| d * share).collect();
            let next = free.iter().zip(&step).fold(*here, |p, (index, by)| p.with(*index, p.at(*index) + by));
            let reached = self.value(&next);
            if reached > height {
                return Some((step, next, reached));
            }
            share *= 0.4;
        }
        None
    }

    /// Slopes and curvatures of the likelihood in each free figure, by central differences.
    fn slope(&self, here: &Parameters, height: f64, free: &[usize]) -> (Vec<f64>, Vec<f64>) {
        let of = |index: &usize| {
            let by = DIFFERENCES.get(*index).copied().unwrap_or(0.01);
            let value = here.at(*index);
            let (up, down) = (self.value(&here.with(*index, value + by)), self.value(&here.with(*index, value - by)));
            ((up - down) / (2.0 * by), (2.0 * height - up - down) / (by * by))
        };
        free.iter().map(of).unzip()
    }

    /// The log-likelihood; a great negative number outside of the bounds.
    fn value(&self, parameters: &Parameters) -> f64 {
        // Instead of infinity: the simplex takes means and spreads of costs.
        if parameters.inside() { self.log_likelihood(parameters) } else { -1.0e12 }
    }

    fn by_simplex(&self, start: &Parameters, free: &[usize]) -> Optimum {
        let cost = Cost { problem: self, held: *start, free };
        let origin: Vec<f64> = free.iter().map(|index| start.at(*index)).collect();
        let mut simplex = vec![origin.clone()];
        for (place, index) in free.iter().enumerate() {
            let mut corner = origin.clone();
            if let (Some(value), Some(edge), Some((_, high))) =
                (corner.get_mut(place), EDGES.get(*index), BOUNDS.get(*index))
            {
                *value += if *value + edge > *high { -edge } else { *edge };
            }
            simplex.push(corner);
        }
        let found = NelderMead::new(simplex).with_sd_tolerance(ARRIVED).ok().and_then(|solver| {
            let run = Executor::new(cost, solver).configure(|state| state.max_iters(MOST_STEPS)).timer(false).run();
            run.ok().and_then(|done| done.state().get_best_param().cloned())
        });
        let parameters = found.map_or(*start, |point| merged(start, free, &point));
        let side_is_fitted = free.contains(&SIDE);
        Optimum { parameters, log_likelihood: self.log_likelihood(&parameters), side_is_fitted }
    }

    /// The interval of one figure: where the root of the drop of its profile has reached these values, downwards and upwards.
    pub(super) fn interval(&self, optimum: &Optimum, index: usize, roots: (f64, f64)) -> Estimate {
        let value = optimum.parameters.at(index);
        if !optimum.free_indices().contains(&index) {
            return Estimate { value, low: value, high: value, at_bound: true };
        }
        let (low, high) = BOUNDS.get(index).copied().unwrap_or((value, value));
        let (low, low_at_bound) = self.end(optimum, index, roots.0, low);
        let (high, high_at_bound) = self.end(optimum, index, roots.1, high);
        Estimate { value, low, high, at_bound: low_at_bound || high_at_bound }
    }

    /// One end of an interval; the bound where the profile never drops so far. The root of the drop is nearly straight in the
    /// figure, so steps that follow it as a line arrive in a few.
    fn end(&self, optimum: &Optimum, index: usize, wanted: f64, bound: f64) -> (f64, bool) {
        let others: Vec<usize> = optimum.free_indices().iter().copied().filter(|free| *free != index).collect();
        let value = optimum.parameters.at(index);
        let mut from = optimum.parameters;
        let mut curvature = Curvature::new();
        // How far the root of the drop is beyond the wanted one, at some value of the figure.
        let mut beyond = |at: f64| {
            let found = self.climb(&from.with(index, at), &others, &mut curvature);
            from = found.parameters;
            libm::sqrt((optimum.log_likelihood - found.log_likelihood).max(0.0)) - wanted
        };
        let direction = if bound < value { -1.0 } else { 1.0 };
        let mut step = 0.1 * EDGES.get(index).copied().unwrap_or(1.0);
        let (mut inside, mut low) = (value, -wanted);
        let (mut outside, mut high) = loop {
            let next = inside + direction * step;
            let last = direction * (next - bound) >= 0.0;
            let at = if last { bound } else { next };
            let found = beyond(at);
            if found >= 0.0 {
                break (at, found);
            } else if last {
                return (bound, true);
            }
            (inside, low) = (at, found);
            step *= 2.0;
        };
        for _ in 0..MOST_ROOT_STEPS {
            if (outside - inside).abs() < END_STEP || high - low < 1.0e-12 {
                break;
            }
            // Never closer than a twentieth to either side, so that both close in.
            let share = (-low / (high - low)).clamp(0.05, 0.95);
            let at = inside + share * (outside - inside);
            let found = beyond(at);
            if found.abs() < END_DROP {
                return (at, false);
            }
            if found >= 0.0 { (outside, high) = (at, found) } else { (inside, low) = (at, found) }
        }
        (0.5 * (inside + outside), false)
    }
}

/// Inverse of the curvatures alone; an edge where a figure shows none.
fn diagonal(curvature: &[f64], free: &[usize]) -> Curvature {
    let inverse = |(place, index): (usize, &usize)| {
        let edge = EDGES.get(*index).copied().unwrap_or(1.0);
        let bent = curvature.get(place).copied().filter(|c| c.is_finite()).unwrap_or(0.0);
        (place, 1.0 / bent.max(1.0 / (edge * edge)))
    };
    let row = |(place, value): (usize, f64)| (0..free.len()).map(|i| if i == place { value } else { 0.0 }).collect();
    free.iter().enumerate().map(inverse).map(row).collect()
}

/// The rank-two update of the inverse, where the step saw the likelihood bend downwards.
fn learn(inverse: &mut Curvature, step: &[f64], fall: &[f64]) {
    let bend = dot(step, fall);
    if bend <= 1.0e-12 {
        return;
    }
    let carried = times(inverse, fall);
    let own = (1.0 + dot(fall, &carried) / bend) / bend;
    for (row, (s, c)) in inverse.iter_mut().zip(step.iter().zip(&carried)) {
        for (slot, (other_s, other_c)) in row.iter_mut().zip(step.iter().zip(&carried)) {
            *slot += own * s * other_s - (c * other_s + s * other_c) / bend;
        }
    }
}

fn times(matrix: &Curvature, vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn merged(held: &Parameters, free: &[usize], point: &[f64]) -> Parameters {
    free.iter().zip(point).fold(*held, |parameters, (index, value)| parameters.with(*index, *value))
}

/// The likelihood with its sign turned, as the optimiser wants it; infinite outside of the bounds.
struct Cost<'a> {
    problem: &'a Problem<'a>,
    held: Parameters,
    free: &'a [usize],
}

impl CostFunction for Cost<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, point: &Self::Param) -> Result<f64, argmin::core::Error> {
        Ok(-self.problem.value(&merged(&self.held, self.free, point)))
    }
}
