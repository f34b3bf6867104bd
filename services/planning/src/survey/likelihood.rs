//! The likelihood of a survey, its maximum and its profiles.

use acoustics::units::{Db, Metres};
use argmin::core::{CostFunction, Executor, State};
use argmin::solver::neldermead::NelderMead;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardUniform};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::beam::Beam;
use super::input::Scene;
use super::types::Estimate;
use domain::{SurveyOutcome, SurveyReading};

/// Index of the level beside the main lobe.
pub(super) const SIDE: usize = 3;
/// Between these values each figure is looked for: beamwidth and tilt in degrees, shift and level beside the lobe in dB.
const BOUNDS: [(f64, f64); Parameters::COUNT] = [(2.0, 90.0), (-25.0, 25.0), (-40.0, 40.0), (-50.0, -6.0)];
/// Edges of the first simplex.
const EDGES: [f64; Parameters::COUNT] = [2.0, 1.0, 2.0, 4.0];
/// A simplex of so little spread of the likelihood has arrived.
const ARRIVED: f64 = 1.0e-7;
/// Most steps of one search.
const MOST_STEPS: u64 = 600;
/// Ends of intervals are found to this step, or to this difference of the root of the drop.
const END_STEP: f64 = 1.0e-3;
const END_DROP: f64 = 1.0e-3;
const MOST_ROOT_STEPS: u32 = 40;
/// A level beside the main lobe that readings are asked about when it is decided whether they can show it, dB.
const SIDE_ASKED: f64 = -13.0;
/// Readings that have to be able to show it.
const LEAST_SIDE_READINGS: usize = 4;

/// The unknowns: beamwidth and tilt in degrees, shift and level beside the main lobe in dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parameters(pub(super) [f64; Self::COUNT]);

impl Parameters {
    pub(super) const COUNT: usize = 4;

    pub(super) fn with(mut self, index: usize, value: f64) -> Self {
        if let Some(slot) = self.0.get_mut(index) {
            *slot = value;
        }
        self
    }

    fn inside(&self) -> bool {
        self.0.iter().zip(BOUNDS).all(|(value, (low, high))| (low..=high).contains(value))
    }
}

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

/// How far the log-likelihood may drop inside an interval: half the quantile of χ² with one degree of freedom.
pub(super) fn profile_drop(interval: f64) -> f64 {
    ChiSquared::new(1.0).map_or(f64::NAN, |chi| 0.5 * chi.inverse_cdf(interval))
}

/// One reading in numbers.
#[derive(Debug, Clone, Copy)]
struct Row {
    /// Angle of the target from the vertical, radians, positive towards positive offsets.
    angle: f64,
    /// Least gain that shows the target on the axis of a unit as stated.
    on_axis: f64,
    outcome: SurveyOutcome,
}

/// Readings to fit a beam to.
pub(super) struct Problem<'a> {
    scene: &'a Scene,
    rows: Vec<Row>,
    scale: f64,
}

impl<'a> Problem<'a> {
    pub(super) fn new(scene: &'a Scene, readings: &[SurveyReading], scale: f64) -> Self {
        let row = |reading: &SurveyReading| {
            let (x, z) = (reading.offset.get(), reading.depth.get());
            let range = Metres::new(libm::hypot(x, z));
            Row {
                angle: libm::atan2(x, z),
                on_axis: scene.sounding.least_gain(range, Db::new(0.0)).get(),
                outcome: reading.outcome,
            }
        };
        Self { scene, rows: readings.iter().map(row).collect(), scale }
    }

    /// The same places and gains with other outcomes.
    pub(super) fn of(&self, outcomes: &[SurveyOutcome]) -> Problem<'a> {
        let rows = self.rows.iter().zip(outcomes).map(|(row, outcome)| Row { outcome: *outcome, ..*row });
        Problem { scene: self.scene, rows: rows.collect(), scale: self.scale }
    }

    /// A unit exactly as stated.
    pub(super) fn stated(&self) -> Parameters {
        let (low, high) = BOUNDS[0];
        Parameters([self.scene.stated_width.clamp(low, high), 0.0, 0.0, self.floor()])
    }

    /// Level beside the main lobe where nothing is known of it.
    pub(super) fn floor(&self) -> f64 {
        let (least, most) = BOUNDS[SIDE];
        self.scene.floor.clamp(least, most)
    }

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

    /// Least gain at which the target of a row shows half of the time.
    fn middle(&self, row: &Row, beam: &Beam, parameters: &Parameters) -> f64 {
        let [_, tilt, shift, _] = parameters.0;
        row.on_axis + shift - 2.0 * beam.level(row.angle - tilt.to_radians())
    }

    pub(super) fn log_likelihood(&self, parameters: &Parameters) -> f64 {
        let [width, .., side] = parameters.0;
        let beam = Beam::new(width, side);
        let sum: f64 = self
            .rows
            .iter()
            .map(|row| {
                let excess = (row.outcome.gain().get() - self.middle(row, &beam, parameters)) / self.scale;
                match row.outcome {
                    SurveyOutcome::Seen(_) => log_logistic(excess),
                    SurveyOutcome::NotSeen(_) => log_logistic(-excess),
                    // Density of the logistic distribution, per dB.
                    SurveyOutcome::LeastGain(_) => log_logistic(excess) + log_logistic(-excess) - libm::log(self.scale),
                }
            })
            .sum();
        sum
    }

    /// Twice what is missing to a model that foretells every reading.
    pub(super) fn deviance(&self, log_likelihood: f64) -> f64 {
        let least = |row: &&Row| matches!(row.outcome, SurveyOutcome::LeastGain(_));
        let densities = crate::selection::count(self.rows.iter().filter(least).count());
        2.0 * (densities * -libm::log(4.0 * self.scale) - log_likelihood)
    }

    /// Whether readings beyond the main lobe could have shown a level beside it.
    pub(super) fn shows_sides(&self, parameters: &Parameters) -> bool {
        let [width, tilt, shift, _] = parameters.0;
        let edge = Beam::new(width, SIDE_ASKED).edge();
        let shows = |row: &&Row| {
            let beyond = (row.angle - tilt.to_radians()).abs() > edge;
            beyond && row.outcome.gain().get() > row.on_axis + shift - 2.0 * SIDE_ASKED - self.scale
        };
        self.rows.iter().filter(shows).count() >= LEAST_SIDE_READINGS
    }

    /// Widest angle from the axis that a reading looks at, radians.
    pub(super) fn reach(&self, parameters: &Parameters) -> f64 {
        let tilt = parameters.0[1].to_radians();
        self.rows.iter().map(|row| (row.angle - tilt).abs()).fold(0.0, f64::max)
    }

    /// The maximum over some of the parameters, the others held.
    pub(super) fn maximise(&self, start: &Parameters, free: &[usize]) -> Optimum {
        let cost = Cost { problem: self, held: *start, free };
        let origin: Vec<f64> = free.iter().filter_map(|index| start.0.get(*index).copied()).collect();
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

    /// The interval of one figure: where its profile has dropped that far.
    pub(super) fn interval(&self, optimum: &Optimum, index: usize, drop: f64) -> Estimate {
        let value = optimum.parameters.0.get(index).copied().unwrap_or(f64::NAN);
        if !optimum.free_indices().contains(&index) {
            return Estimate { value, low: value, high: value, at_bound: true };
        }
        let (low, high) = BOUNDS.get(index).copied().unwrap_or((value, value));
        let (low, low_at_bound) = self.end(optimum, index, drop, low);
        let (high, high_at_bound) = self.end(optimum, index, drop, high);
        Estimate { value, low, high, at_bound: low_at_bound || high_at_bound }
    }

    /// One end of an interval; the bound where the profile never drops so far. The root of the drop is nearly straight in the
    /// figure, so steps that follow it as a line arrive in a few.
    fn end(&self, optimum: &Optimum, index: usize, drop: f64, bound: f64) -> (f64, bool) {
        let others: Vec<usize> = optimum.free_indices().iter().copied().filter(|free| *free != index).collect();
        let value = optimum.parameters.0.get(index).copied().unwrap_or(bound);
        let wanted = libm::sqrt(drop);
        let mut from = optimum.parameters;
        // How far the root of the drop is beyond the wanted one, at some value of the figure.
        let mut beyond = |at: f64| {
            let found = self.maximise(&from.with(index, at), &others);
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

    /// Outcomes of a beam with these figures at the same places and gains.
    pub(super) fn draw(&self, parameters: &Parameters, seed: u64, stream: u64) -> Vec<SurveyOutcome> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        let [width, .., side] = parameters.0;
        let beam = Beam::new(width, side);
        let draw = |row: &Row| {
            let uniform: f64 = StandardUniform.sample(&mut rng);
            let middle = self.middle(row, &beam, parameters);
            let gain = row.outcome.gain();
            match row.outcome {
                SurveyOutcome::Seen(_) | SurveyOutcome::NotSeen(_) => {
                    let seen = uniform < libm::exp(log_logistic((gain.get() - middle) / self.scale));
                    if seen { SurveyOutcome::Seen(gain) } else { SurveyOutcome::NotSeen(gain) }
                }
                SurveyOutcome::LeastGain(_) => {
                    let inner = uniform.clamp(1.0e-12, 1.0 - 1.0e-12);
                    let logit = libm::log(inner / (1.0 - inner));
                    SurveyOutcome::LeastGain(Db::new(middle + self.scale * logit))
                }
            }
        };
        self.rows.iter().map(draw).collect()
    }
}

/// ln(1 / (1 + e^−x)), without overflow.
fn log_logistic(x: f64) -> f64 {
    if x > 0.0 { -libm::log1p(libm::exp(-x)) } else { x - libm::log1p(libm::exp(x)) }
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
        let parameters = merged(&self.held, self.free, point);
        if !parameters.inside() {
            // A great number instead of infinity: the optimiser takes means and spreads of costs.
            return Ok(1.0e12);
        }
        Ok(-self.problem.log_likelihood(&parameters))
    }
}
