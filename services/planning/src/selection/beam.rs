//! A beam pattern compiled into tables: level against angle, and the edge of the main lobe against level.
//!
//! A target at depth z and angle θ lies at slant range z/cos θ, so that spreading costs another 40 lg(1/cos θ). The
//! tables of edges hold that loss too: an edge is the largest angle, connected to the axis, at which a target *of that
//! depth* keeps the wanted level. It stays below 90° however high the gain, where a range-blind edge would not. (The
//! absorption over the longer path is left out: α·z·(1/cos θ − 1) is under 0.3 dB in the main lobe of any beam here.)

use std::f64::consts::FRAC_PI_2;

use acoustics::pattern::Pattern;
use acoustics::units::{Angle, HalfAngle};

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
    /// Compiles a pattern.
    pub(crate) fn compile(pattern: &Pattern) -> Self {
        let azimuths: Vec<f64> = if pattern.is_round() {
            vec![0.0]
        } else {
            (0..AZIMUTHS).map(|k| (f64::from(k) + 0.5) / f64::from(AZIMUTHS) * FRAC_PI_2).collect()
        };
        let level =
            |theta: f64, azimuth: f64| pattern.level_towards(HalfAngle::new(theta), Angle::new(azimuth)).get().min(0.0);
        let step = FRAC_PI_2 / f64::from(ANGLE_STEPS);
        let (mut best, mut worst) = (Vec::new(), Vec::new());
        for index in 0..=ANGLE_STEPS {
            let theta = f64::from(index) * step;
            let over = azimuths.iter().map(|azimuth| level(theta, *azimuth));
            best.push(over.clone().fold(f64::NEG_INFINITY, f64::max));
            worst.push(over.fold(f64::INFINITY, f64::min));
        }
        let mut edges = Vec::new();
        for azimuth in &azimuths {
            let fine: Vec<f64> = (0..FINE_STEPS).map(|index| level(fine_angle(index), *azimuth)).collect();
            add_edges(&mut edges, &fine, azimuths.len());
        }
        for edge in &mut edges {
            edge.mean = libm::sqrt(edge.mean);
        }
        Self { best, worst, edges }
    }

    /// One-way level at an angle from the axis in the best azimuth, dB.
    pub(crate) fn best_level(&self, theta: f64) -> f64 {
        interpolate(&self.best, theta * f64::from(ANGLE_STEPS) / FRAC_PI_2)
    }

    /// One-way level at an angle from the axis in the worst azimuth, dB.
    pub(crate) fn worst_level(&self, theta: f64) -> f64 {
        interpolate(&self.worst, theta * f64::from(ANGLE_STEPS) / FRAC_PI_2)
    }

    /// As [`Beam::edge`], of the round beam with the same area.
    pub(crate) fn mean_edge(&self, level: f64) -> f64 {
        if level >= 0.0 {
            return 0.0;
        }
        let (index, share) = split(libm::sqrt(-level) * ROOT_STEPS, self.edges.len());
        let at = |i: usize| self.edges.get(i).map_or(0.0, |edge| edge.mean);
        at(index) + share * (at(index + 1) - at(index))
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

/// A length as a number.
pub(crate) fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// Angle of a point of the fine grid; the last one stops just short of 90°.
fn fine_angle(index: u32) -> f64 {
    f64::from(index) * FRAC_PI_2 / f64::from(FINE_STEPS)
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
    let index = libm::floor(place).clamp(0.0, count(length.saturating_sub(2)));
    (whole(index), (place - index).clamp(0.0, 1.0))
}

/// The index of a whole number that is not negative; a negative one becomes 0.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers clamp to the length of a table; the cast saturates at 0"
)]
pub(crate) fn whole(number: f64) -> usize {
    number as usize
}

/// A value of a table of even steps, linear between; the end values beyond it.
pub(crate) fn interpolate(table: &[f64], place: f64) -> f64 {
    let (index, share) = split(place, table.len());
    let at = |i: usize| table.get(i).copied().unwrap_or(f64::NEG_INFINITY);
    at(index) + share * (at(index + 1) - at(index))
}
