//! One plane of a pattern as tables over q = sin θ / sin θ₀, θ₀ the reference half angle.

use crate::units::Db;

/// Table steps per reference half angle; the parabola of the main lobe is then off by less than 0.001 dB between points.
const STEPS_PER_EDGE: f64 = 64.0;
/// Finer steps when looking for crossings of the main lobe.
const FINE: usize = 8;
/// Points of the inverse table; it runs over √drop, in which the main lobe is nearly a straight line.
const EDGE_POINTS: usize = 1024;
/// Largest angle that counts as an edge: nearer to the horizontal a flat-ice, flat-bottom picture no longer means anything.
const WIDEST_EDGE_SINE: f64 = 0.984_807_753_012_208; // sin 80°

/// A sampled plane of a one-way pattern.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    sine: f64,
    /// Steps of the tables for a sine of 1.
    steps: f64,
    levels: Box<[f64]>,
    power: Box<[f64]>,
    edges: Box<[f64]>,
    edge_scale: f64,
    floor: f64,
}

impl Plane {
    /// Samples an amplitude pattern of q whose reference half angle has the given sine.
    pub(crate) fn sample(amplitude: &impl Fn(f64) -> f64, sine: f64, floor: Db) -> Self {
        let floor = floor.get();
        let level = |q: f64| (20.0 * libm::log10(amplitude(q).abs().max(1e-12))).max(floor);
        let count = steps(STEPS_PER_EDGE / sine) + 2;
        let levels: Box<[f64]> = (0..count).map(|i| level(real(i) / STEPS_PER_EDGE)).collect();
        let power = levels.iter().map(|l| libm::pow(10.0, l / 10.0)).collect();
        let edge_scale = real(EDGE_POINTS - 1) / libm::sqrt(-floor);
        let edges = edges(&level, count, edge_scale);
        Self { sine, steps: STEPS_PER_EDGE / sine, levels, power, edges, edge_scale, floor }
    }

    /// Sine of the reference half angle.
    #[must_use]
    pub fn reference_sine(&self) -> f64 {
        self.sine
    }

    /// One-way level in dB at sin θ, for a beam widened by `scale` (1 for the beam as stated).
    #[must_use]
    pub fn level(&self, sine: f64, scale: f64) -> f64 {
        lookup(&self.levels, sine * STEPS_PER_EDGE / (self.sine * scale), self.floor)
    }

    /// One-way intensity relative to the axis at sin θ.
    #[must_use]
    pub fn power(&self, sine: f64) -> f64 {
        lookup(&self.power, sine * self.steps, 0.0)
    }

    /// Sine of the largest angle connected to the axis at which the level is at least −`drop` dB; 0 for a negative drop, at most sin 80°.
    #[must_use]
    pub fn edge_sine(&self, drop: f64, scale: f64) -> f64 {
        if drop < 0.0 {
            return 0.0;
        }
        let q = lookup(&self.edges, libm::sqrt(drop) * self.edge_scale, f64::INFINITY);
        (q * self.sine * scale).min(WIDEST_EDGE_SINE)
    }

    /// Sine and level of the first side lobe's peak, if there is one over the floor.
    pub(crate) fn first_side_lobe(&self) -> Option<(f64, f64)> {
        let dip = self.first_dip()?;
        let mut best = (dip, f64::NEG_INFINITY);
        for (i, level) in self.levels.iter().enumerate().skip(dip) {
            if *level > best.1 {
                best = (i, *level);
            } else if *level < best.1 {
                break;
            }
        }
        (best.1 > self.floor).then(|| (self.sine_of(best.0), best.1))
    }

    /// Sine of the first dip of the pattern.
    pub(crate) fn first_dip_sine(&self) -> Option<f64> {
        self.first_dip().map(|i| self.sine_of(i))
    }

    fn first_dip(&self) -> Option<usize> {
        let rise = self.levels.windows(2).position(|w| matches!(w, [a, b] if b > a))?;
        // A null that reaches the floor is flat: its middle is the null.
        let floor_run = self.levels.iter().take(rise + 1).rev().take_while(|l| **l <= self.floor).count();
        Some(rise - floor_run.saturating_sub(1) / 2)
    }

    /// Intervals of sin θ beyond the main lobe in which the level is at least −`drop`.
    pub(crate) fn side_lobe_sines(&self, drop: f64) -> Vec<(f64, f64)> {
        let edge = self.edge_sine(drop, 1.0);
        let mut found: Vec<(f64, f64)> = Vec::new();
        let mut open = None;
        for (i, level) in self.levels.iter().enumerate() {
            let sine = self.sine_of(i);
            let beyond = sine > edge + 1.0 / STEPS_PER_EDGE * self.sine;
            match (open, beyond && *level >= -drop && sine <= WIDEST_EDGE_SINE) {
                (None, true) => open = Some(sine),
                (Some(from), false) => {
                    found.push((from, self.sine_of(i - 1)));
                    open = None;
                }
                _ => {}
            }
        }
        if let Some(from) = open {
            found.push((from, WIDEST_EDGE_SINE));
        }
        found
    }

    fn sine_of(&self, index: usize) -> f64 {
        (real(index) / STEPS_PER_EDGE * self.sine).min(1.0)
    }
}

/// For each √drop of the inverse table the first q at which the pattern has fallen that far; infinite when it never does.
fn edges(level: &impl Fn(f64) -> f64, count: usize, edge_scale: f64) -> Box<[f64]> {
    let mut edges = Vec::with_capacity(EDGE_POINTS);
    let fine = STEPS_PER_EDGE * real(FINE);
    let (mut i, mut before, mut after) = (1, level(0.0), level(1.0 / fine));
    for point in 0..EDGE_POINTS {
        let root = real(point) / edge_scale;
        let target = -root * root;
        while after > target && i < count * FINE {
            i += 1;
            before = after;
            after = level(real(i) / fine);
        }
        let crossed = after <= target && before > after;
        let part = if crossed { ((before - target) / (before - after)).clamp(0.0, 1.0) } else { 1.0 };
        edges.push(if after <= target { (real(i - 1) + part) / fine } else { f64::INFINITY });
    }
    // The first point would sit at the table's first step; the axis itself is the edge for no drop at all.
    if let Some(first) = edges.first_mut() {
        *first = 0.0;
    }
    edges.into_boxed_slice()
}

/// Linear interpolation at a position counted in table steps; `beyond` past the end.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the position is not negative and is compared with the table's length before it is used"
)]
fn lookup(table: &[f64], position: f64, beyond: f64) -> f64 {
    let index = position as usize;
    match (table.get(index), table.get(index + 1)) {
        (Some(a), Some(b)) => a + (b - a) * (position - real(index)),
        _ => beyond,
    }
}

/// A count as a real number; counts here are far below 2⁵².
#[allow(clippy::cast_precision_loss, reason = "table indices are far below 2^52")]
fn real(count: usize) -> f64 {
    count as f64
}

/// Whole steps in a positive length.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the narrowest beam (1 degree) needs 4,600 steps"
)]
fn steps(length: f64) -> usize {
    length as usize
}
