//! The echo of a plane bottom, integrated over the plane: how strong it is at its peak, and how much of the water over it its echo takes.
//!
//! A beam whose axis makes the angle β (tilt) with the plane's normal, at the distance h from the plane. A ring of incidence i about the
//! normal answers at the range h/cos i. With dA/r⁴ = h⁻² sin i cos i di dφ the echo of all that a pulse covers at once is
//!
//! E = h⁻² ∫ S_b(i) W(i, β) sin i cos i di over sec i from 1 + u to 1 + u + ΔR/h, W(i, β) = ∫ b²(i, φ; β) dφ,
//!
//! b the one-way intensity of the pattern, ΔR the range cell. Slope and lean are one thing here: both tilt the axis against the plane.
//! At β = 0 the integral is the textbook's smaller of ψ d² and π d c τ where one of the two is much the smaller, and up to 2 dB under it
//! where they are alike.

use std::f64::consts::PI;
use std::sync::LazyLock;

use crate::bottom::{self, BottomClass};
use crate::error::ModelError;
use crate::pattern::Pattern;
use crate::units::{Angle, Db, Hertz};

/// Rings of incidence, evenly over 0 to [`WIDEST`].
const RINGS: u32 = 150;
/// Greatest incidence that counts, radians; the beam's side and back level makes less than a thousandth of an echo beyond.
const WIDEST: f64 = 75.0 * PI / 180.0;
/// Least grazing angle of the scattering tables, degrees; farther out its value holds.
const LEAST_GRAZING_DEG: f64 = 30.0;
/// Directions around a ring, over a half turn, crowded towards the axis.
const AROUND: u32 = 64;
/// Points of the table of peaks a decade of ΔR/h, and its first decade.
const WINDOWS_PER_DECADE: f64 = 8.0;
const FIRST_WINDOW: f64 = -5.0;
const WINDOWS: u32 = 48;

/// What a beam puts on the rings of a plane: W(i, β) by tilt and ring.
#[derive(Debug, Clone)]
pub struct BeamOnPlane {
    step: f64,
    rows: Vec<Vec<f64>>,
}

/// The echo of one bottom class under one beam.
#[derive(Debug, Clone)]
pub struct PlaneEcho {
    /// Step of the tilt, radians.
    step: f64,
    /// By tilt and ring: h² E of everything nearer than the ring's outer edge.
    nearer: Vec<Vec<f64>>,
    /// By tilt and logarithm of ΔR/h: 10 lg (h² E) at its peak.
    peaks: Vec<Vec<f64>>,
}

impl BeamOnPlane {
    /// Integrates a pattern around the rings, for tilts up to `steepest`. Of a beam that is not round the mean over headings counts.
    #[must_use]
    pub fn new(pattern: &Pattern, steepest: Angle) -> Self {
        let plane = pattern.mean_plane();
        let step =
            (0.5 * libm::asin(plane.reference_sine().min(1.0))).clamp(0.5_f64.to_radians(), 2.5_f64.to_radians());
        let mut rows = Vec::new();
        let mut tilt = 0.0;
        loop {
            let (sine, cosine) = (libm::sin(tilt), libm::cos(tilt));
            rows.push((0..RINGS).map(|ring| around(middle(ring), (sine, cosine), |s| plane.power(s))).collect());
            if tilt >= steepest.get() {
                return Self { step, rows };
            }
            tilt += step;
        }
    }
}

/// ∫ b² dφ around the ring of an incidence, for an axis of the given sine and cosine of tilt.
fn around(incidence: f64, (sine, cosine): (f64, f64), power: impl Fn(f64) -> f64) -> f64 {
    let (si, ci) = (libm::sin(incidence), libm::cos(incidence));
    if sine == 0.0 {
        let b = power(si);
        return 2.0 * PI * b * b;
    }
    let mut sum = 0.0;
    for k in 0..AROUND {
        // φ = π s²: near the azimuth of the axis a narrow beam needs fine steps.
        let s = (f64::from(k) + 0.5) / f64::from(AROUND);
        let cos_angle = ci * cosine + si * sine * libm::cos(PI * s * s);
        let b = if cos_angle <= 0.0 { 0.0 } else { power(libm::sqrt((1.0 - cos_angle * cos_angle).max(0.0))) };
        sum += b * b * 2.0 * PI * s;
    }
    2.0 * sum / f64::from(AROUND)
}

/// Inner edge of a ring, radians.
fn edge(ring: u32) -> f64 {
    WIDEST * f64::from(ring) / f64::from(RINGS)
}

/// Middle of a ring, radians.
fn middle(ring: u32) -> f64 {
    WIDEST * (f64::from(ring) + 0.5) / f64::from(RINGS)
}

/// How much farther than the plane's own distance each ring's inner edge is, as a part of it, and the last one's outer edge: sec i − 1.
static BEYOND: LazyLock<Vec<f64>> = LazyLock::new(|| (0..=RINGS).map(|k| 1.0 / libm::cos(edge(k)) - 1.0).collect());

impl PlaneEcho {
    /// The echo of a class at a frequency.
    ///
    /// # Errors
    /// As [`bottom::strength`].
    pub fn new(beam: &BeamOnPlane, class: BottomClass, frequency: Hertz) -> Result<Self, ModelError> {
        let scatter: Vec<f64> = (0..RINGS)
            .zip(BEYOND.windows(2))
            .map(|(ring, edges)| {
                let grazing = (90.0 - middle(ring).to_degrees()).max(LEAST_GRAZING_DEG);
                let strength = bottom::strength(class, frequency, Angle::from_degrees(grazing))?;
                let cosine = libm::cos(middle(ring));
                // dE = S W cos³i du, u = sec i − 1.
                let span = if let [inner, outer] = edges { outer - inner } else { 0.0 };
                Ok(libm::pow(10.0, strength.get() / 10.0) * cosine * cosine * cosine * span)
            })
            .collect::<Result<_, ModelError>>()?;
        let nearer: Vec<Vec<f64>> = beam
            .rows
            .iter()
            .map(|row| {
                let mut sum = 0.0;
                row.iter()
                    .zip(&scatter)
                    .map(|(weight, scatter)| {
                        sum += weight * scatter;
                        sum
                    })
                    .collect()
            })
            .collect();
        let peaks = nearer.iter().map(|row| peaks(row)).collect();
        Ok(Self { step: beam.step, nearer, peaks })
    }

    /// 10 lg (h² E) where the echo is strongest; `window` is lg(ΔR/h).
    #[must_use]
    pub fn peak(&self, tilt: Angle, window: f64) -> Db {
        let place = ((window - FIRST_WINDOW) * WINDOWS_PER_DECADE).clamp(0.0, f64::from(WINDOWS - 1));
        let at = |row: usize| self.peaks.get(row).map_or(f64::NEG_INFINITY, |row| read(row, place));
        let (row, share) = self.row(tilt);
        let first = at(row);
        Db::new(if share == 0.0 { first } else { first + share * (at(row + 1) - first) })
    }

    /// How much of the water over the bottom its echo takes: the length of range, from h out to h (1 + `until`) and as a part of h, in which
    /// the echo of [u, u + ΔR/h] is at least `wanted`, a ratio h² E. `window` is ΔR/h.
    ///
    /// Lengths are added up, so that a side lobe which meets a slope early counts for as much as its echo is long, and the figure grows
    /// evenly as the wanted level falls.
    #[must_use]
    pub fn taken(&self, tilt: Angle, window: f64, wanted: f64, until: f64) -> f64 {
        let (row, share) = self.row(tilt);
        let Some(a) = self.nearer.get(row) else { return 0.0 };
        let b = self.nearer.get(row + 1).unwrap_or(a);
        let total = |k: usize| {
            k.checked_sub(1).map_or(0.0, |k| {
                let (a, b) = (a.get(k).copied().unwrap_or(0.0), b.get(k).copied().unwrap_or(0.0));
                a + share * (b - a)
            })
        };
        let edges = BEYOND.as_slice();
        let beyond = |k: usize| edges.get(k).copied().unwrap_or(f64::INFINITY);
        let last = edges.len() - 1;
        let mut end = 0;
        let mut taken = 0.0;
        let mut before: Option<(f64, f64)> = None;
        for (start, &u) in edges.iter().take(last).enumerate() {
            // The end of the window runs ahead of its start.
            while end < last && beyond(end) < u + window {
                end += 1;
            }
            let (low, high) = (beyond(end.saturating_sub(1)), beyond(end));
            let part = if high > low { ((u + window - low) / (high - low)).clamp(0.0, 1.0) } else { 1.0 };
            let under = total(end.saturating_sub(1));
            let over = under + part * (total(end) - under) - total(start) - wanted;
            if let Some((u0, over0)) = before {
                let (from, to) = kept((u0, over0), (u, over));
                taken += (to.min(until) - from.min(until)).max(0.0);
            }
            if u >= until {
                break;
            }
            before = Some((u, over));
        }
        taken
    }

    /// Row of a tilt and the share of the next.
    fn row(&self, tilt: Angle) -> (usize, f64) {
        if self.nearer.len() < 2 {
            return (0, 0.0);
        }
        split(tilt.get() / self.step, self.nearer.len())
    }
}

/// The part of a span in which a line through its two ends is not under zero.
fn kept((u0, over0): (f64, f64), (u1, over1): (f64, f64)) -> (f64, f64) {
    let crossing = || u0 + (u1 - u0) * over0 / (over0 - over1);
    match (over0 >= 0.0, over1 >= 0.0) {
        (true, true) => (u0, u1),
        (true, false) => (u0, crossing()),
        (false, true) => (crossing(), u1),
        (false, false) => (u0, u0),
    }
}

/// The peak over all starts of the window, for every window of the table, dB.
fn peaks(nearer: &[f64]) -> Vec<f64> {
    let edges = BEYOND.as_slice();
    let total = |u: f64| {
        let after = edges.partition_point(|edge| *edge < u);
        let (Some(low), Some(high)) = (after.checked_sub(1).and_then(|k| edges.get(k)), edges.get(after)) else {
            return if after == 0 { 0.0 } else { nearer.last().copied().unwrap_or(0.0) };
        };
        let under = after.checked_sub(2).and_then(|k| nearer.get(k)).copied().unwrap_or(0.0);
        let over = after.checked_sub(1).and_then(|k| nearer.get(k)).copied().unwrap_or(0.0);
        under + (over - under) * (u - low) / (high - low)
    };
    (0..WINDOWS)
        .map(|k| {
            let window = libm::pow(10.0, FIRST_WINDOW + f64::from(k) / WINDOWS_PER_DECADE);
            let best = edges.iter().map(|start| total(start + window) - total(*start)).fold(1e-30, f64::max);
            10.0 * libm::log10(best)
        })
        .collect()
}

/// A value of a table of even steps, linear between.
fn read(table: &[f64], place: f64) -> f64 {
    let (index, share) = split(place, table.len());
    let at = |i: usize| table.get(i).copied().unwrap_or(f64::NEG_INFINITY);
    at(index) + share * (at(index + 1) - at(index))
}

/// Index and share of a place in a table of even steps, kept inside it.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "the place is kept inside a table of fewer than a thousand rows"
)]
fn split(place: f64, length: usize) -> (usize, f64) {
    let index = libm::floor(place).clamp(0.0, length.saturating_sub(2) as f64);
    (index as usize, (place - index).clamp(0.0, 1.0))
}
