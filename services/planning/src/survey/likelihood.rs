//! The likelihood of a survey: probabilities of what was read, hole by hole.

use acoustics::units::{Db, Metres};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, StandardUniform};

use super::beam::Beam;
use super::input::{Noise, Scene};
use domain::{SurveyOutcome, SurveyReading};

/// Index of the floor of the pattern.
pub(super) const SIDE: usize = 3;
/// Index of the tilt across the line, which one line does not show.
pub(super) const ACROSS: usize = 4;
/// Between these values each figure is looked for: beamwidth and tilts in degrees, shift and floor in dB.
pub(super) const BOUNDS: [(f64, f64); Parameters::COUNT] =
    [(2.0, 90.0), (-25.0, 25.0), (-40.0, 40.0), (-50.0, -6.0), (-25.0, 25.0)];
/// A level beside the main lobe that readings are asked about when it is decided whether they can show it, dB.
const SIDE_ASKED: f64 = -13.0;
/// Readings that have to be able to show it.
const LEAST_SIDE_READINGS: usize = 4;
/// Where a hole may lie, in errors of its place: a trapezoidal rule, whose error falls off exponentially where the integrand
/// is smooth and dies away at both ends (L. N. Trefethen and J. A. C. Weideman, SIAM Review 56, 385–458 (2014),
/// <https://doi.org/10.1137/130932132>).
const PLACES: [f64; 9] = [-3.0, -2.25, -1.5, -0.75, 0.0, 0.75, 1.5, 2.25, 3.0];
/// A product of probabilities under this is taken over into logarithms.
const SMALL: f64 = 1.0e-150;
/// Beyond so many scales the detection curve is taken as level, so that no probability is nothing.
const FARTHEST: f64 = 300.0;

/// The unknowns: beamwidth and tilt in degrees, shift and floor in dB, tilt across the line in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parameters(pub(super) [f64; Self::COUNT]);

impl Parameters {
    pub(super) const COUNT: usize = 5;

    pub(super) fn with(mut self, index: usize, value: f64) -> Self {
        if let Some(slot) = self.0.get_mut(index) {
            *slot = value;
        }
        self
    }

    pub(super) fn at(&self, index: usize) -> f64 {
        self.0.get(index).copied().unwrap_or(f64::NAN)
    }

    pub(super) fn inside(&self) -> bool {
        self.0.iter().zip(BOUNDS).all(|(value, (low, high))| (low..=high).contains(value))
    }
}

/// Where a target may hang: its direction from the transducer and the least gain that shows it on the axis of a unit as stated.
#[derive(Debug, Clone, Copy)]
struct Place {
    along: f64,
    down: f64,
    on_axis: f64,
}

/// What a reading says of the least gain that would have shown the target.
#[derive(Debug, Clone, Copy)]
enum Bounds {
    /// It is not over this one: seen, or seen at once.
    UpTo(f64),
    /// It is over this one: not seen, or never.
    Over(f64),
    /// It is between two marks of the dial.
    Between { low: f64, high: f64 },
}

/// One reading in numbers.
#[derive(Debug, Clone, Copy)]
struct Row {
    /// Which of the survey's readings it is.
    reading: usize,
    /// Distance along the line and depth, m.
    x: f64,
    z: f64,
    /// Angle of the target from the vertical, radians, positive towards positive offsets.
    angle: f64,
    /// By the places of its hole: all the same where places have no error.
    places: [Place; PLACES.len()],
    outcome: SurveyOutcome,
    bounds: Bounds,
    /// e to the power of what lies between its marks, in scales.
    ratio: f64,
}

impl Row {
    fn on_axis(&self) -> f64 {
        self.places.get(PLACES.len() / 2).map_or(f64::NAN, |place| place.on_axis)
    }

    /// The highest gain that the reading is about.
    fn gain(&self) -> f64 {
        match self.bounds {
            Bounds::UpTo(gain) | Bounds::Over(gain) | Bounds::Between { high: gain, .. } => gain,
        }
    }

    fn with(self, outcome: SurveyOutcome, scene: &Scene, scale: f64) -> Self {
        let bounds = bounds(outcome, scene);
        let ratio = match bounds {
            Bounds::Between { low, high } => libm::exp((high - low) / scale),
            Bounds::UpTo(_) | Bounds::Over(_) => 1.0,
        };
        Self { outcome, bounds, ratio, ..self }
    }

    /// Probability of the reading where the target shows half of the time at the gain `middle`.
    fn probability(&self, middle: f64, scale: f64) -> f64 {
        let e = libm::exp(((middle - self.gain()) / scale).clamp(-FARTHEST, FARTHEST));
        match self.bounds {
            Bounds::UpTo(_) => 1.0 / (1.0 + e),
            Bounds::Over(_) => e / (1.0 + e),
            Bounds::Between { .. } => e * (self.ratio - 1.0) / ((1.0 + e) * (1.0 + e * self.ratio)),
        }
    }
}

fn bounds(outcome: SurveyOutcome, scene: &Scene) -> Bounds {
    match outcome {
        SurveyOutcome::Seen(gain) => Bounds::UpTo(gain.get()),
        SurveyOutcome::NotSeen(gain) => Bounds::Over(gain.get()),
        SurveyOutcome::AtOnce => Bounds::UpTo(scene.lowest().get()),
        SurveyOutcome::Never => Bounds::Over(scene.highest().get()),
        SurveyOutcome::LeastGain(gain) => match scene.one_step_under(gain) {
            Some(low) => Bounds::Between { low: low.get(), high: gain.get() },
            None => Bounds::UpTo(gain.get()),
        },
    }
}

/// Readings to fit a beam to, by hole.
pub(super) struct Problem<'a> {
    scene: &'a Scene,
    noise: Noise,
    holes: Vec<Vec<Row>>,
    /// Sum of the weights of the places of a hole, in logarithms.
    weights: f64,
}

impl<'a> Problem<'a> {
    pub(super) fn new(scene: &'a Scene, readings: &[SurveyReading], noise: Noise) -> Self {
        let mut holes: Vec<(f64, Vec<Row>)> = Vec::new();
        for (index, reading) in readings.iter().enumerate() {
            let (x, z) = (reading.offset.get(), reading.depth.get());
            let places = PLACES.map(|errors| place(scene, x + errors * noise.position, z));
            let blank = Row {
                reading: index,
                x,
                z,
                angle: libm::atan2(x, z),
                places,
                outcome: reading.outcome,
                bounds: Bounds::UpTo(0.0),
                ratio: 1.0,
            };
            let row = blank.with(reading.outcome, scene, noise.scale);
            match holes.iter_mut().find(|(offset, _)| *offset == x) {
                Some((_, rows)) => rows.push(row),
                None => holes.push((x, vec![row])),
            }
        }
        let weights = libm::log(PLACES.iter().map(|errors| libm::exp(-0.5 * errors * errors)).sum());
        Self { scene, noise, weights, holes: holes.into_iter().map(|(_, rows)| rows).collect() }
    }

    /// The same places with other outcomes, in the order of the readings.
    pub(super) fn of(&self, outcomes: &[SurveyOutcome]) -> Problem<'a> {
        let again = |row: &Row| {
            let outcome = outcomes.get(row.reading).copied().unwrap_or(row.outcome);
            row.with(outcome, self.scene, self.noise.scale)
        };
        let holes = self.holes.iter().map(|rows| rows.iter().map(again).collect()).collect();
        Problem { scene: self.scene, noise: self.noise, weights: self.weights, holes }
    }

    fn rows(&self) -> impl Iterator<Item = &Row> {
        self.holes.iter().flatten()
    }

    /// A unit exactly as stated.
    pub(super) fn stated(&self) -> Parameters {
        let (low, high) = BOUNDS[0];
        Parameters([self.scene.stated_width.clamp(low, high), 0.0, 0.0, self.floor(), 0.0])
    }

    /// Floor of the pattern where nothing is known of it.
    pub(super) fn floor(&self) -> f64 {
        let (least, most) = BOUNDS[SIDE];
        self.scene.floor.clamp(least, most)
    }

    pub(super) fn log_likelihood(&self, parameters: &Parameters) -> f64 {
        let aim = Aim::new(parameters);
        let scale = self.noise.scale;
        let at = |rows: &[Row], node: usize| {
            let (mut product, mut sum) = (1.0, 0.0);
            for row in rows {
                let Some(place) = row.places.get(node) else { continue };
                product *= row.probability(aim.middle(place), scale);
                if product < SMALL {
                    sum += libm::log(product);
                    product = 1.0;
                }
            }
            sum + libm::log(product)
        };
        if self.noise.position == 0.0 {
            return self.holes.iter().map(|rows| at(rows, PLACES.len() / 2)).sum();
        }
        let of_hole = |rows: &Vec<Row>| {
            let mut logs = [0.0; PLACES.len()];
            for (node, (slot, errors)) in logs.iter_mut().zip(PLACES).enumerate() {
                *slot = at(rows, node) - 0.5 * errors * errors;
            }
            log_sum(&logs) - self.weights
        };
        self.holes.iter().map(of_hole).sum()
    }

    /// Twice what is missing to a model that foretells every reading as well as any could.
    pub(super) fn deviance(&self, log_likelihood: f64) -> f64 {
        let best: f64 = self
            .rows()
            .map(|row| match row.bounds {
                // The middle of the curve between both marks.
                Bounds::Between { low, high } => libm::log(libm::tanh((high - low) / (4.0 * self.noise.scale))),
                Bounds::UpTo(_) | Bounds::Over(_) => 0.0,
            })
            .sum();
        2.0 * (best - log_likelihood)
    }

    /// Whether readings beyond the main lobe could have shown a level beside it.
    pub(super) fn shows_sides(&self, parameters: &Parameters) -> bool {
        let [width, tilt, shift, ..] = parameters.0;
        let edge = Beam::new(width, SIDE_ASKED).edge();
        let shows = |row: &&Row| {
            let beyond = (row.angle - tilt.to_radians()).abs() > edge;
            beyond && row.gain() > row.on_axis() + shift - 2.0 * SIDE_ASKED - self.noise.scale
        };
        self.rows().filter(shows).count() >= LEAST_SIDE_READINGS
    }

    /// Widest angle from the axis that a reading looks at, radians.
    pub(super) fn reach(&self, parameters: &Parameters) -> f64 {
        let tilt = parameters.0[1].to_radians();
        self.rows().map(|row| (row.angle - tilt).abs()).fold(0.0, f64::max)
    }

    /// Outcomes of a beam with these figures at the same holes, depths and gains, in the order of the readings. A reading that
    /// sought the least gain seeks it again: up the dial from its lowest gain.
    pub(super) fn draw(&self, parameters: &Parameters, seed: u64, stream: u64) -> Vec<SurveyOutcome> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        let aim = Aim::new(parameters);
        let uniforms: Vec<f64> = self.rows().map(|_| StandardUniform.sample(&mut rng)).collect();
        let mut drawn = vec![SurveyOutcome::Never; uniforms.len()];
        for rows in &self.holes {
            let errors: f64 = if self.noise.position == 0.0 { 0.0 } else { StandardNormal.sample(&mut rng) };
            for row in rows {
                let there = place(self.scene, row.x + errors * self.noise.position, row.z);
                let uniform = uniforms.get(row.reading).copied().unwrap_or(0.5).clamp(1.0e-12, 1.0 - 1.0e-12);
                let logit = libm::log(uniform / (1.0 - uniform));
                let least = aim.middle(&there) + self.noise.scale * logit;
                if let Some(slot) = drawn.get_mut(row.reading) {
                    *slot = self.shown(row.outcome, least);
                }
            }
        }
        drawn
    }

    /// What is read where the target shows from the gain `least`.
    fn shown(&self, asked: SurveyOutcome, least: f64) -> SurveyOutcome {
        match asked {
            SurveyOutcome::Seen(gain) | SurveyOutcome::NotSeen(gain) => {
                if least < gain.get() {
                    SurveyOutcome::Seen(gain)
                } else {
                    SurveyOutcome::NotSeen(gain)
                }
            }
            SurveyOutcome::LeastGain(_) | SurveyOutcome::AtOnce | SurveyOutcome::Never => {
                self.scene.sought(Db::new(least))
            }
        }
    }
}

/// A beam and where it looks.
struct Aim {
    beam: Beam,
    shift: f64,
    along: f64,
    down: f64,
}

impl Aim {
    fn new(parameters: &Parameters) -> Self {
        let [width, tilt, shift, side, across] = parameters.0;
        let (tilt, in_plane) = (tilt.to_radians(), libm::cos(across.to_radians()));
        let (along, down) = (libm::sin(tilt) * in_plane, libm::cos(tilt) * in_plane);
        Self { beam: Beam::new(width, side), shift, along, down }
    }

    /// Least gain at which a target there shows half of the time.
    fn middle(&self, place: &Place) -> f64 {
        let cosine = self.along * place.along + self.down * place.down;
        let sine = if cosine > 0.0 { libm::sqrt((1.0 - cosine * cosine).max(0.0)) } else { 1.0 };
        place.on_axis + self.shift - 2.0 * self.beam.level_at_sine(sine)
    }
}

fn place(scene: &Scene, x: f64, z: f64) -> Place {
    let range = libm::hypot(x, z);
    let on_axis = scene.sounding.least_gain(Metres::new(range), Db::new(0.0)).get();
    Place { along: x / range, down: z / range, on_axis }
}

/// The logarithm of a sum of which the logarithms are given.
fn log_sum(logs: &[f64; PLACES.len()]) -> f64 {
    let greatest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| libm::exp(log - greatest)).sum();
    greatest + libm::log(sum)
}
