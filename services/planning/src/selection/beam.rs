//! A beam pattern compiled into tables: level against angle, and the edge of the main lobe against level.
//!
//! A target at depth z and angle θ lies at slant range z/cos θ, so that spreading costs another 40 lg(1/cos θ). The
//! tables of edges hold that loss too: an edge is the largest angle, connected to the axis, at which a target *of that
//! depth* keeps the wanted level. It stays below 90° however high the gain, where a range-blind edge would not. (The
//! absorption over the longer path is left out: α·z·(1/cos θ − 1) is under 0.3 dB in the main lobe of any beam here.)

use std::f64::consts::{FRAC_PI_2, TAU};

/// Steps of the forward table over 0 to 90°.
const ANGLE_STEPS: u32 = 2_048;
/// Steps of the fine grid from which edges are found.
const FINE_STEPS: u32 = 8_192;
/// Steps of the edge table per unit of √(−level): an edge grows as that root near the axis, so the table is smooth there.
const ROOT_STEPS: f64 = 64.0;
/// Lowest one-way level of the edge table, dB; under the lowest floor that a pattern may have, slant loss included.
const LOWEST: f64 = -121.0;
/// Azimuths over a quarter turn for a beam that is not round.
const AZIMUTHS: u32 = 16;

/// One compiled pattern.
#[derive(Debug, Clone)]
pub(crate) struct Beam {
    /// One-way level in the best and the worst azimuth, dB, at even steps of the angle.
    best: Vec<f64>,
    worst: Vec<f64>,
    /// Edges at even steps of √(−level).
    edges: Vec<Edge>,
    /// Equivalent two-way beam angle, dB re 1 sr.
    pub(crate) psi_db: f64,
    /// Directivity index, dB.
    pub(crate) directivity_db: f64,
    /// One-way level of the first minimum of the pattern: below it the edge is no longer that of the main lobe alone.
    pub(crate) round: bool,
}

/// The edge of the region around the axis in which a level is kept, as the tangent of its angle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Edge {
    /// Of the round beam with the same area.
    pub(crate) mean: f64,
    /// In the azimuth where it is nearest.
    pub(crate) least: f64,
    /// In the azimuth where it is farthest.
    pub(crate) most: f64,
}

impl Beam {
    /// Compiles a pattern: `level(θ, azimuth)` is one-way, dB relative to the axis, and never above 0. A round one does not
    /// depend on the azimuth.
    pub(crate) fn compile(round: bool, level: impl Fn(f64, f64) -> f64) -> Self {
        let azimuths: Vec<f64> = if round {
            vec![0.0]
        } else {
            (0..AZIMUTHS).map(|k| (f64::from(k) + 0.5) / f64::from(AZIMUTHS) * FRAC_PI_2).collect()
        };
        let step = FRAC_PI_2 / f64::from(ANGLE_STEPS);
        let (mut best, mut worst) = (Vec::new(), Vec::new());
        for index in 0..=ANGLE_STEPS {
            let theta = f64::from(index) * step;
            let over = azimuths.iter().map(|azimuth| level(theta, *azimuth).min(0.0));
            best.push(over.clone().fold(f64::NEG_INFINITY, f64::max));
            worst.push(over.fold(f64::INFINITY, f64::min));
        }
        let mut edges = Vec::new();
        let mut psi = 0.0;
        let mut power = 0.0;
        for azimuth in &azimuths {
            let fine = fine_levels(|theta| level(theta, *azimuth).min(0.0));
            add_edges(&mut edges, &fine, azimuths.len());
            let share = 1.0 / count(azimuths.len());
            psi += share * solid_angle(&fine, 2.0);
            power += share * solid_angle(&fine, 1.0);
        }
        for edge in &mut edges {
            edge.mean = libm::sqrt(edge.mean);
        }
        let directivity_db = 10.0 * libm::log10(2.0 * TAU / power);
        Self { best, worst, edges, psi_db: 10.0 * libm::log10(psi), directivity_db, round }
    }

    /// One-way level at an angle from the axis in the best azimuth, dB.
    pub(crate) fn best_level(&self, theta: f64) -> f64 {
        interpolate(&self.best, theta * f64::from(ANGLE_STEPS) / FRAC_PI_2)
    }

    /// One-way level at an angle from the axis in the worst azimuth, dB.
    pub(crate) fn worst_level(&self, theta: f64) -> f64 {
        interpolate(&self.worst, theta * f64::from(ANGLE_STEPS) / FRAC_PI_2)
    }

    /// Edge of the region around the axis in which targets of one depth keep this one-way level; zero above the axis level.
    pub(crate) fn edge(&self, level: f64) -> Edge {
        if level >= 0.0 {
            return Edge::default();
        }
        let place = libm::sqrt(-level) * ROOT_STEPS;
        let pick = |part: fn(&Edge) -> f64| {
            let (index, share) = split(place, self.edges.len());
            let at = |i: usize| self.edges.get(i).map_or(0.0, part);
            at(index) + share * (at(index + 1) - at(index))
        };
        Edge { mean: pick(|e| e.mean), least: pick(|e| e.least), most: pick(|e| e.most) }
    }
}

fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// Levels on the fine grid, from the axis outwards; the last point stops just short of 90°.
fn fine_levels(level: impl Fn(f64) -> f64) -> Vec<f64> {
    (0..FINE_STEPS).map(|index| level(fine_angle(index))).collect()
}

fn fine_angle(index: u32) -> f64 {
    f64::from(index) * FRAC_PI_2 / f64::from(FINE_STEPS)
}

/// ∫ b^n dΩ over the half space for a pattern that is round about the axis, by Simpson's rule.
fn solid_angle(fine: &[f64], power: f64) -> f64 {
    let step = FRAC_PI_2 / f64::from(FINE_STEPS);
    let value = |(index, level): (u32, &f64)| libm::pow(10.0, 0.1 * power * level) * libm::sin(fine_angle(index));
    // The grid has an even number of steps; the missing last point, at 90°, counts as the one before it.
    let mut sum = 0.0;
    let mut last = 0.0;
    for (index, level) in (0..).zip(fine) {
        last = value((index, level));
        let weight = if index == 0 { 1.0 } else if index % 2 == 1 { 4.0 } else { 2.0 };
        sum += weight * last;
    }
    TAU * (sum + last) * step / 3.0
}

/// Adds one azimuth to the table of edges; `mean` holds the mean of the square until the end.
fn add_edges(edges: &mut Vec<Edge>, fine: &[f64], azimuths: usize) {
    let first = edges.is_empty();
    let share = 1.0 / count(azimuths);
    let mut index = 0_u32;
    let mut inside = (0.0, 0.0);
    let mut row = 0_usize;
    loop {
        let root = count(row) / ROOT_STEPS;
        let wanted = -root * root;
        if wanted < LOWEST {
            break;
        }
        // Walk outwards while the level at the same depth is kept.
        let mut outside = None;
        while let Some(level) = usize::try_from(index).ok().and_then(|i| fine.get(i)) {
            let theta = fine_angle(index);
            let here = level + 20.0 * libm::log10(libm::cos(theta));
            if here < wanted {
                outside = Some((theta, here));
                break;
            }
            inside = (theta, here);
            index += 1;
        }
        let theta = match outside {
            Some((theta, here)) if inside.1 > here => {
                inside.0 + (theta - inside.0) * ((inside.1 - wanted) / (inside.1 - here)).clamp(0.0, 1.0)
            }
            _ => inside.0,
        };
        let tangent = libm::tan(theta);
        if first {
            edges.push(Edge { mean: share * tangent * tangent, least: tangent, most: tangent });
        } else if let Some(edge) = edges.get_mut(row) {
            edge.mean += share * tangent * tangent;
            edge.least = edge.least.min(tangent);
            edge.most = edge.most.max(tangent);
        }
        row += 1;
    }
}

/// Index and share of a place in a table of even steps, kept inside it.
fn split(place: f64, length: usize) -> (usize, f64) {
    let last = count(length.saturating_sub(2));
    let index = libm::floor(place).clamp(0.0, last);
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number from 0 to the length of a table"
    )]
    let whole = index as usize;
    (whole, (place - index).clamp(0.0, 1.0))
}

fn interpolate(table: &[f64], place: f64) -> f64 {
    let (index, share) = split(place, table.len());
    let at = |i: usize| table.get(i).copied().unwrap_or(f64::NEG_INFINITY);
    at(index) + share * (at(index + 1) - at(index))
}
