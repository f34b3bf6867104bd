//! Bistatic bottom scatter between two units as a table of level against duration.

use std::f64::consts::PI;
use std::sync::{Arc, OnceLock};

use super::axis::{Axis, real};
use super::curve::{CURVE_POINTS, Curve, Ring, curve_of, single};
use crate::bottom::BistaticScatter;
use crate::pattern::Plane;

/// Spacings of a table over the depth: even within so many reference half angles (as sines) of the narrower beam, whose lobes they have
/// to follow, or of the facets of a soft bottom if these are narrower; ever farther apart beyond, up to eight depths.
const EVEN_SPACINGS: f64 = 4.0;
const FACETS: f64 = 0.1;
/// The step, as a part of where they begin to spread.
const SPACING_STEP: f64 = 0.0165;
const WIDEST_SPACING: f64 = 8.0;
/// Pulse lengths cτ over the depth.
const PULSES: usize = 64;
const PULSE_RANGE: (f64, f64) = (3e-4, 3.0);
/// Ellipses of equal path length.
const RINGS: usize = 160;
/// Half minor axis of the outermost ellipse over the depth (tan 80°); they stand evenly within the second figure and ever farther apart
/// beyond it.
const RING_MAX: f64 = 5.67;
const RING_BEND: f64 = 0.15;
/// Points along half of an ellipse (the other half mirrors it): the middle rule gains digits fast on a closed curve, and
/// wants more points only where the units are far apart for their depth.
const FEW_POINTS: u32 = 8;
const MANY_POINTS: u32 = 64;
/// Shape of the bottom scatter between a transmitter and a receiver, built cell by cell on first use.
///
/// Down to 40 dB under the peak within 0.5 dB of direct integration, but where two narrow beams first hear each other through their nulls
/// (0.3 % of the points of a thousand random cases; the tests hold 64 others and print how the differences are distributed).
///
/// Bounded: at most 330 × 64 curves of 226 figures of four bytes, 19 MiB when every cell has been used; a batch uses a few hundred of them.
#[derive(Debug)]
pub struct ScatterTable {
    transmitter: Arc<Plane>,
    receiver: Arc<Plane>,
    scatter: BistaticScatter,
    spacings: Axis,
    pulses: Axis,
    rows: Box<[OnceLock<Row>]>,
}

/// One spacing: what arrives along which path length, and the curves of the pulse lengths asked for so far.
#[derive(Debug)]
struct Row {
    rings: Vec<Ring>,
    curves: Box<[OnceLock<Box<Curve>>]>,
}

impl ScatterTable {
    /// A table for two beams over a bottom.
    #[must_use]
    pub fn new(transmitter: Arc<Plane>, receiver: Arc<Plane>, scatter: BistaticScatter) -> Self {
        let even = EVEN_SPACINGS * transmitter.reference_sine().min(receiver.reference_sine()).min(FACETS);
        let spacings = Axis::stepping(even, WIDEST_SPACING, SPACING_STEP);
        Self {
            transmitter,
            receiver,
            scatter,
            rows: (0..spacings.points).map(|_| OnceLock::new()).collect(),
            spacings,
            // In proportion everywhere: levels go with the logarithm of a short pulse.
            pulses: Axis::new(0.01 * PULSE_RANGE.0, PULSE_RANGE, PULSES),
        }
    }

    /// The curve at a spacing and a pulse length, both over the depth: cubic in the spacing and linear in the pulse, as what a longer pulse
    /// adds to a duration is its own length.
    ///
    /// Outside 0 to 8 depths of spacing and 0.0003 to 3 of pulse length the nearest edge of the table is used: beyond eight depths nothing
    /// is left to scatter.
    pub fn curve(&self, spacing: f64, pulse: f64, out: &mut Curve) {
        let (row, row_weights) = self.spacings.around(spacing);
        let (column, [part_of_level, part_of_time]) = self.pulses.between(pulse);
        *out = Curve { peak: 0.0, durations: [0.0; CURVE_POINTS] };
        for (row, weight) in (row..).zip(row_weights) {
            let (Some(short), Some(long)) = (self.cell(row, column), self.cell(row, column + 1)) else { continue };
            out.peak += weight * (short.peak + part_of_level * (long.peak - short.peak));
            let (of_short, of_long) = (single(weight * (1.0 - part_of_time)), single(weight * part_of_time));
            let both = short.durations.iter().zip(&long.durations);
            for (sum, (short, long)) in out.durations.iter_mut().zip(both) {
                *sum += of_short * short + of_long * long;
            }
        }
        // A cubic may overshoot where a duration hardly grows.
        let mut longest: f32 = 0.0;
        for duration in &mut out.durations {
            longest = longest.max(*duration);
            *duration = longest;
        }
    }

    fn cell(&self, row: usize, column: usize) -> Option<&Curve> {
        let row = self.rows.get(row)?.get_or_init(|| Row {
            rings: self.rings(self.spacings.at(row)),
            curves: (0..PULSES).map(|_| OnceLock::new()).collect(),
        });
        Some(row.curves.get(column)?.get_or_init(|| Box::new(curve_of(&row.rings, self.pulses.at(column)))))
    }

    /// What arrives at the path length of each ring.
    fn rings(&self, spacing: f64) -> Vec<Ring> {
        let directions = self.directions(spacing);
        let step = libm::asinh(RING_MAX / RING_BEND) / real(RINGS);
        let mut rings: Vec<Ring> = Vec::with_capacity(RINGS + 1);
        for i in 0..=RINGS {
            // The innermost ring is a point: nearly one stands for it.
            let rho = (RING_BEND * libm::sinh(step * real(i))).max(1e-4);
            let path = path_length(spacing, rho);
            // A ring of width dρ spans a path length of 4ρ/L dρ.
            let density = self.around(spacing, rho, &directions) * path / (4.0 * rho);
            let cumulated = rings
                .last()
                .map_or(0.0, |inner| inner.cumulated + 0.5 * (inner.density + density) * (path - inner.path));
            rings.push(Ring { path, density, cumulated });
        }
        rings
    }

    /// ∫ b_tx b_rx S / (r₁² r₂²) · Jacobian dφ around the ellipse of half minor axis ρ.
    fn around(&self, spacing: f64, rho: f64, directions: &[(f64, f64)]) -> f64 {
        let ellipse = Ellipse::new(spacing, rho);
        let mut sum = 0.0;
        for &(sine, cosine) in directions {
            let (x, y) = (ellipse.major * cosine, rho * sine);
            let jacobian = ellipse.slope * rho * cosine * cosine + ellipse.major * sine * sine;
            sum += self.density(spacing, x, y) * jacobian;
        }
        2.0 * PI * sum / real(directions.len())
    }

    /// Sine and cosine of the points along an ellipse: the same for every ring of a spacing, so they are worked out once. Both sides of
    /// the line between the units are alike, and so are its two ends when the units have the same beam.
    fn directions(&self, spacing: f64) -> Vec<(f64, f64)> {
        let points = points_along(spacing);
        let step = PI / f64::from(points);
        let ends = if Arc::ptr_eq(&self.transmitter, &self.receiver) { points / 2 } else { points };
        (0..ends)
            .map(|i| {
                let phi = (f64::from(i) + 0.5) * step;
                (libm::sin(phi), libm::cos(phi))
            })
            .collect()
    }

    /// b_tx b_rx S / (r₁² r₂²) at a point of the bottom, the transmitter at −s/2 and the receiver at +s/2 on the x axis.
    fn density(&self, spacing: f64, x: f64, y: f64) -> f64 {
        scattered_intensity(&self.transmitter, &self.receiver, &self.scatter, spacing, (x, y))
    }
}

/// Points along half of an ellipse for a spacing over the depth; even, so that half of them are one end.
fn points_along(spacing: f64) -> u32 {
    (FEW_POINTS..MANY_POINTS)
        .step_by(2)
        .find(|points| f64::from(*points) >= 6.0 + 10.0 * spacing)
        .unwrap_or(MANY_POINTS)
}

/// Intensity scattered from unit area at a point of the bottom, all lengths over the depth, the units at ∓s/2 on the x axis.
///
/// b_tx(θ₁) b_rx(θ₂) S(β) / (r₁² r₂²), β the tilt of the bisector of the two directions.
#[must_use]
pub fn scattered_intensity(
    transmitter: &Plane,
    receiver: &Plane,
    scatter: &BistaticScatter,
    spacing: f64,
    (x, y): (f64, f64),
) -> f64 {
    let (dx1, dx2) = (x + 0.5 * spacing, x - 0.5 * spacing);
    let (h1, h2) = (dx1 * dx1 + y * y, dx2 * dx2 + y * y);
    let (r1_squared, r2_squared) = (h1 + 1.0, h2 + 1.0);
    let (r1, r2) = (libm::sqrt(r1_squared), libm::sqrt(r2_squared));
    let cosines = 1.0 / (r1 * r2);
    let beams = transmitter.power(libm::sqrt(h1) * r2 * cosines) * receiver.power(libm::sqrt(h2) * r1 * cosines);
    // The bisector (d₁/r₁ + d₂/r₂) times r₁ r₂: a division costs more than the multiplications that spare it.
    let (across, along, down) = (dx1 * r2 + dx2 * r1, y * (r1 + r2), r1 + r2);
    let tan2_beta = (across * across + along * along) / (down * down);
    beams * scatter.ratio(tan2_beta, cosines) * cosines * cosines
}

/// The ellipse of equal path length on the bottom with half minor axis ρ.
struct Ellipse {
    /// Half major axis.
    major: f64,
    /// Its derivative with ρ.
    slope: f64,
}

impl Ellipse {
    fn new(spacing: f64, rho: f64) -> Self {
        let b = libm::sqrt(rho * rho + 1.0);
        let a = libm::sqrt(b * b + 0.25 * spacing * spacing);
        Self { major: rho * a / b, slope: a / b + rho * rho / (a * b) - a * rho * rho / (b * b * b) }
    }
}

/// Path length transmitter–bottom–receiver over the depth, for the ellipse of half minor axis ρ.
fn path_length(spacing: f64, rho: f64) -> f64 {
    2.0 * libm::sqrt(1.0 + rho * rho + 0.25 * spacing * spacing)
}
