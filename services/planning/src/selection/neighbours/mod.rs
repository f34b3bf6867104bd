//! Neighbours in a shelter: how loud they come through at a spot, tabulated over depth once per option and bottom class.
//!
//! The tables of the physics answer for any threshold, but adding up all paths of all neighbours takes longer than
//! everything else of an evaluation. What is needed of it is how the fraction of interference marks falls with the threshold
//! at one depth, and that changes slowly with depth. So it is computed at the nodes of a fixed axis of depths and
//! interpolated in the logarithm of depth. The axis is the same for every run: a spot's figures do not depend on which
//! other spots are in the run. Where a bottom slopes the same is done for slopes on an axis of the option's own, with steps that its beam can tell
//! apart.
//!
//! How a shelter stands on a slope, and how oblong beams are turned, is not known: every neighbour counts in whichever way is heard for longest.

mod around;
mod axis;
pub mod kept;
mod node;

use std::sync::Arc;

use rayon::prelude::*;

use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::units::Metres;

use super::beam;
use super::hanging::ways;
use super::option::PreparedOption;
use super::shift::{Display, Turned};
use super::spot::PreparedSpot;
use super::stopped::Stopped;
use axis::{DEPTH_NODES, DEPTH_RATIO, FIRST_DEPTH, axis_place, stride};
use domain::Cancel;
use node::{DECADES, FRACTIONS, Hung, Node, fraction_at};

pub(crate) use around::{Neighbours, Talker, Unknowns, WATT_LEVEL};
pub(crate) use axis::Needed;
pub(crate) use node::shape_of;

/// How the fraction of interference marks depends on the threshold at the depths of a run, for one option over one bottom class.
#[derive(Debug, Clone)]
pub(crate) struct Clearance {
    /// Fraction of range cells that may show interference marks.
    tolerance: f64,
    /// From slope to slope, radians.
    step: f64,
    /// By slope, then node of the axis of depths; none where no spot of the run needs it.
    rows: Vec<Row>,
}

type Row = Vec<Option<Arc<Node>>>;

/// What the neighbours does to one unit, at one spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct NeighbourLevels<'a> {
    /// Between two depths on the level, and on the next steeper slope.
    level: Option<Between<'a>>,
    steeper: Option<(Between<'a>, f64)>,
    /// What this spot's levels differ from the tables'.
    shift: f64,
    /// How much rarer marks are than tabulated.
    rarer: f64,
    /// Lowest threshold that keeps the tolerance, dB re 1 µPa.
    pub(crate) critical: f64,
}

/// Two nodes, and how far from the first to the second.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Between<'a> {
    nodes: [&'a Node; 2],
    share: f64,
}

impl Between<'_> {
    fn mix(&self, of: impl Fn(&Node) -> f64) -> f64 {
        let [a, b] = self.nodes.map(of);
        a + self.share * (b - a)
    }
}

/// 20 lg of what a beam is widened by; nothing for the beam as stated, which is by far the most frequent.
pub(in crate::selection) fn widening(beam_scale: f64) -> f64 {
    if beam_scale == 1.0 { 0.0 } else { 20.0 * libm::log10(beam_scale) }
}

/// From slope to slope, as a part of the half angle of the narrower plane of a beam: the main lobe, which falls as the square of its angle, is then
/// within 0.3 dB between two of them.
const SLOPE_STEP: f64 = 0.4;

impl Clearance {
    /// Tabulates, for an option, each of some bottoms that scatter with one shape at the nodes that it needs.
    ///
    /// # Errors
    /// The work is cancelled, which is asked at each node; inside, a frequency that the scattering tables do not cover.
    pub(crate) fn family(
        neighbours: &Neighbours,
        gear: &PreparedOption,
        talker: &Talker<'_>,
        family: &[(BottomClass, &Needed)],
        cancel: &Cancel,
    ) -> Result<Vec<Self>, Stopped> {
        let Some((shape, _)) = family.first() else { return Ok(Vec::new()) };
        let scatter = BistaticScatter::new(shape_of(*shape), talker.gear.frequency)?;
        let step = SLOPE_STEP * libm::asin(gear.pattern.narrowest().reference_sine());
        let known = neighbours.fingerprint(&talker.known(gear));
        let mut lies: Vec<Vec<(Hung, f64)>> = Vec::new();
        let mut built = Vec::with_capacity(family.len());
        for (bottom, needed) in family {
            let mut rows = Vec::new();
            for (row, needed) in (0_u32..).zip(needed.rows(step)) {
                let slope = step * f64::from(row);
                if lies.len() <= rows.len() {
                    let ways = ways([&talker.gear.pattern, &gear.pattern], scatter, (slope, neighbours.lean));
                    lies.push(ways.into_iter().map(|(pair, part)| (Hung::over(pair, slope), part)).collect());
                }
                let ways = lies.get(rows.len()).map_or(&[] as &[_], Vec::as_slice);
                let node = |(index, needed): (u32, bool)| -> Result<Option<Arc<Node>>, Stopped> {
                    if !needed {
                        return Ok(None);
                    }
                    cancel.check()?;
                    let key = known.clone().with((*bottom, row, index)).key();
                    let depth = Metres::new(FIRST_DEPTH * libm::pow(DEPTH_RATIO, f64::from(index)));
                    Ok(Some(kept::node(key, || Node::new(neighbours, (gear, talker), *bottom, ways, depth))?))
                };
                let all: Vec<(u32, bool)> = (0_u32..).zip(needed).collect();
                rows.push(all.into_par_iter().with_max_len(1).map(node).collect::<Result<Row, _>>()?);
            }
            built.push(Self { tolerance: neighbours.tolerance, step, rows });
        }
        Ok(built)
    }

    /// What a unit hears at a spot. `source_shift` is what its source level differs from the tables' (a neighbour uses the
    /// same option), `beam_scale` how much wider its beam is drawn, `bottom_shift` how much stronger the bottom.
    pub(crate) fn heard(&self, place: &PreparedSpot, absorption: f64, adjust: Adjust) -> NeighbourLevels<'_> {
        // A beam drawn wider by w at depth d lights the same bottom as the tabulated one at w·d, but from nearer by w. That a slope looks less steep to
        // it is left out: it would take every slope within reach.
        let widening = 2.0 * widening(adjust.beam_scale);
        let position = axis_place(place.depth_spreading + widening);
        let slope = place.slope / self.step;
        let row = if place.slope == 0.0 { 0.0 } else { libm::floor(slope) };
        let Some(level) = self.between(row, position) else {
            return NeighbourLevels { level: None, steeper: None, shift: 0.0, rarer: 1.0, critical: f64::NEG_INFINITY };
        };
        let steeper = if place.slope == 0.0 { None } else { self.between(row + 1.0, position) };
        let mut heard = NeighbourLevels {
            level: Some(level),
            steeper: steeper.map(|next| (next, slope - row)),
            shift: 0.0,
            rarer: 1.0,
            critical: 0.0,
        };
        heard.rarer = adjust.rarer;
        heard.shift = adjust.source_shift + adjust.bottom_shift + widening
            - 2.0 * place.depth * (absorption - level.mix(|node| node.absorption));
        if adjust.bounce != 0.0 {
            heard.shift += heard.mix(|node| node.bounced(adjust.bounce));
        }
        if let Some(Turned(turn)) = adjust.turned {
            heard.shift +=
                heard.mix(|node| node.drawn.as_ref().and_then(|drawn| drawn.turns.get(turn).copied()).unwrap_or(0.0));
        }
        if adjust.display == Display::Confirming {
            heard.shift += heard.mix(|node| node.drawn.as_ref().map_or(0.0, |drawn| drawn.confirming));
        }
        if adjust.rarer != 1.0 {
            // From where the tolerance is met as tabulated to where a share of so much more is.
            let level = |fraction: f64| heard.mix(|node| node.level_of(fraction));
            heard.critical = level(self.tolerance * adjust.rarer) - level(self.tolerance);
        }
        heard.critical += heard.mix(|node| node.critical) + heard.shift;
        heard
    }

    /// The hole that is worst placed at a depth on a slope.
    pub(crate) fn worst_hole(&self, depth: f64, slope: f64) -> usize {
        let row = libm::round(slope / self.step);
        self.node(row, libm::round(axis_place(40.0 * libm::log10(depth)))).map_or(0, |node| node.hole)
    }

    fn between(&self, row: f64, position: f64) -> Option<Between<'_>> {
        let stride = beam::count(stride(beam::whole(row)));
        let index = stride * libm::floor(position / stride).min(libm::floor(f64::from(DEPTH_NODES - 1) / stride) - 1.0);
        let nodes = [self.node(row, index)?, self.node(row, index + stride)?];
        Some(Between { nodes, share: (position - index) / stride })
    }

    /// A node, or the nearest one there is: a draw may leave the depths and slopes that the run's spots need.
    fn node(&self, row: f64, index: f64) -> Option<&Node> {
        let row = beam::whole(row).min(self.rows.len().saturating_sub(1));
        let index = beam::whole(index);
        if let Some(Some(node)) = self.rows.get(row)?.get(index) {
            return Some(node);
        }
        nearest(&self.rows, row, |row| nearest(row, index, |node| node.as_deref()))
    }
}

/// What the nearest of some entries has that has anything, the earlier ones first.
fn nearest<'a, T, U>(entries: &'a [T], index: usize, of: impl Fn(&'a T) -> Option<U>) -> Option<U> {
    let (before, after) = entries.split_at_checked((index + 1).min(entries.len()))?;
    before.iter().rev().find_map(&of).or_else(|| after.iter().find_map(&of))
}

/// What a spot or a draw differs from the tables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Adjust {
    pub(crate) source_shift: f64,
    pub(crate) bottom_shift: f64,
    pub(crate) beam_scale: f64,
    /// What a bounce loses more, dB.
    pub(crate) bounce: f64,
    /// How much rarer marks are than those of the tables.
    pub(crate) rarer: f64,
    pub(crate) turned: Option<Turned>,
    pub(crate) display: Display,
}

impl NeighbourLevels<'_> {
    /// A figure of the nodes around this depth and slope.
    fn mix(&self, of: impl Fn(&Node) -> f64 + Copy) -> f64 {
        let level = self.level.map_or(f64::NEG_INFINITY, |level| level.mix(of));
        match self.steeper {
            Some((steeper, share)) => level + share * (steeper.mix(of) - level),
            None => level,
        }
    }

    /// Fraction of range cells in which interference marks are drawn at a threshold.
    pub(crate) fn fraction(&self, threshold: f64) -> f64 {
        self.tabulated(threshold) / self.rarer
    }

    fn tabulated(&self, threshold: f64) -> f64 {
        if self.level.is_none() {
            return 0.0;
        }
        let wanted = threshold - self.shift;
        let level = |k: usize| self.mix(|node| node.levels.get(k).copied().unwrap_or(f64::NEG_INFINITY));
        // Levels fall along the axis: find the first that is not above the threshold.
        let (mut low, mut high) = (0, FRACTIONS as usize);
        while low < high {
            let middle = usize::midpoint(low, high);
            if level(middle) > wanted { low = middle + 1 } else { high = middle }
        }
        let Some(before) = low.checked_sub(1) else { return 0.0 };
        if low >= FRACTIONS as usize {
            return 1.0;
        }
        let (above, below) = (level(before), level(low));
        let share = (above - wanted) / (above - below);
        if before == 0 {
            share * fraction_at(1)
        } else {
            let place = beam::count(before) + share;
            libm::exp(std::f64::consts::LN_10 * DECADES * ((place - 1.0) / f64::from(FRACTIONS - 2) - 1.0))
        }
    }
}
