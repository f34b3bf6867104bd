//! Neighbours in a shelter: how loud they come through at a spot, tabulated over depth once per option and bottom class.
//!
//! The tables of the physics answer for any threshold, but adding up all paths of all neighbours takes longer than
//! everything else of an evaluation. What is needed of it is how the fraction of interference marks falls with the threshold
//! at one depth, and that changes slowly with depth. So it is computed at the nodes of a fixed axis of depths and
//! interpolated in the logarithm of depth. The axis is the same for every run: a spot's figures do not depend on which
//! other spots are in the run.

use std::sync::LazyLock;

use acoustics::ModelError;
use acoustics::absorption::francois_garrison;
use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::interference::{Link, Received, ScatterTable, direct_level};
use acoustics::units::{Celsius, Db, GramsPerKilogram, Level, Metres, MetresPerSecond, SourceLevel};

use super::option::PreparedOption;
use super::spot::PreparedSpot;
use crate::neighbourhood::Neighbourhood;
use domain::{Point, Shelter};

/// Water for which the tables stand; other water shifts them by its absorption.
const SPEED: MetresPerSecond = MetresPerSecond::new(1_412.0);
const TEMPERATURE: Celsius = Celsius::new(2.0);
/// Source level of one acoustic watt in that water, dB re 1 µPa m.
pub(crate) const WATT_LEVEL: f64 = 170.5;
/// First depth of the axis, m, and the ratio from node to node: between nodes the tables are within 0.1 dB (tested).
const FIRST_DEPTH: f64 = 0.4;
const DEPTH_RATIO: f64 = 1.06;
/// Their logarithms: every evaluation asks for its place on the axis.
static AXIS_LOGARITHMS: LazyLock<(f64, f64)> = LazyLock::new(|| (libm::log10(FIRST_DEPTH), libm::log10(DEPTH_RATIO)));
/// Nodes of the axis, up to 240 m.
const DEPTH_NODES: u32 = 111;
/// Fractions of interference marks at the nodes of a curve: 0, then from 10⁻⁵ to 1, evenly in the logarithm.
const FRACTIONS: u32 = 42;
/// Decades from the least fraction to 1.
const DECADES: f64 = 5.0;
/// Level steps from which a curve is read off, dB, and how far under the peak they go: deeper than any dial reaches.
const LEVEL_STEP: f64 = 1.0;
const LEVEL_STEPS: u32 = 150;
/// The holes of a shelter as each of their units sees the others.
#[derive(Debug, Clone)]
pub(crate) struct Neighbours {
    pub(crate) holes: Vec<Point>,
    pub(crate) neighbourhood: Neighbourhood,
    recessed: bool,
    /// Fraction of range cells that may show interference marks.
    tolerance: f64,
}

impl Neighbours {
    /// The neighbours of a shelter whose holes are known; none for a single hole.
    pub(crate) fn new(shelter: &Shelter, holes: Vec<Point>, tolerance: f64) -> Option<Self> {
        if holes.len() < 2 {
            return None;
        }
        let neighbourhood = Neighbourhood::new(&holes);
        Some(Self { holes, neighbourhood, recessed: shelter.transducers_recessed, tolerance })
    }
}

/// How the fraction of interference marks depends on the threshold at the depths of a run, for one option over one bottom class.
#[derive(Debug, Clone)]
pub(crate) struct Clearance {
    /// By node of the axis; none where no spot of the run needs it.
    nodes: Vec<Option<Box<Node>>>,
}

/// One depth.
#[derive(Debug, Clone)]
struct Node {
    /// Level that each fraction of the fraction axis passes; falling.
    levels: [f64; FRACTIONS as usize],
    /// Lowest threshold at which the tolerance is kept.
    critical: f64,
    /// The hole that is worst placed.
    hole: usize,
    /// Absorption in the water of the tables, dB/m.
    absorption: f64,
}

/// What the neighbours does to one unit, at one spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct NeighbourLevels<'a> {
    nodes: Option<(&'a [f64; FRACTIONS as usize], &'a [f64; FRACTIONS as usize])>,
    share: f64,
    /// What this spot's levels differ from the tables'.
    shift: f64,
    /// Lowest threshold that keeps the tolerance, dB re 1 µPa.
    pub(crate) critical: f64,
}

/// 20 lg of what a beam is widened by; nothing for the beam as stated, which is by far the most frequent.
pub(super) fn widening(beam_scale: f64) -> f64 {
    if beam_scale == 1.0 { 0.0 } else { 20.0 * libm::log10(beam_scale) }
}

/// Place of a depth on the axis, from 40 lg of it.
fn axis_place(depth_spreading: f64) -> f64 {
    let (first, ratio) = *AXIS_LOGARITHMS;
    ((depth_spreading / 40.0 - first) / ratio).clamp(0.0, f64::from(DEPTH_NODES - 1))
}

/// The class whose scattering has the shape of this one's: clay and softer bottoms stand under silt by the difference of
/// their reflection losses, at every angle and frequency.
pub(crate) fn shape_of(class: BottomClass) -> BottomClass {
    class.max(BottomClass::Silt)
}

/// Which nodes of the axis of depths a class needs.
pub(crate) type NeededNodes = [bool; DEPTH_NODES as usize];

/// None yet.
pub(crate) const NO_NODES: NeededNodes = [false; DEPTH_NODES as usize];

/// Which nodes of the axis are needed for depths from `shallowest` to `deepest`, added to those already marked.
pub(crate) fn mark_nodes(needed: &mut NeededNodes, shallowest: f64, deepest: f64) {
    let place = |depth: f64| axis_place(40.0 * libm::log10(depth));
    let (low, high) = (libm::floor(place(shallowest)), libm::floor(place(deepest)) + 1.0);
    for (index, slot) in (0..).zip(needed.iter_mut()) {
        let index = f64::from(index);
        *slot |= low <= index && index <= high;
    }
}

impl Clearance {
    /// Tabulates, for an option, each of some bottoms that scatter with one shape at the nodes that it needs.
    ///
    /// # Errors
    /// A frequency that the scattering tables do not cover.
    pub(crate) fn family(
        neighbours: &Neighbours,
        gear: &PreparedOption,
        family: &[(BottomClass, &NeededNodes)],
    ) -> Result<Vec<Self>, ModelError> {
        let Some((shape, _)) = family.first() else { return Ok(Vec::new()) };
        let scatter = BistaticScatter::new(shape_of(*shape), gear.frequency)?;
        let table = ScatterTable::new(gear.plane.clone(), gear.plane.clone(), scatter);
        let mut received = Received::new();
        let mut built = Vec::with_capacity(family.len());
        for (bottom, needed) in family {
            let mut nodes = Vec::with_capacity(needed.len());
            for (index, needed) in (0..).zip(needed.iter()) {
                let depth = FIRST_DEPTH * libm::pow(DEPTH_RATIO, f64::from(index));
                nodes.push(if *needed {
                    Some(Box::new(Node::new(neighbours, gear, *bottom, &table, Metres::new(depth), &mut received)?))
                } else {
                    None
                });
            }
            built.push(Self { nodes });
        }
        Ok(built)
    }

    /// What a unit hears at a spot. `source_shift` is what its source level differs from the tables' (a neighbour uses the
    /// same option), `beam_scale` how much wider its beam is drawn, `bottom_shift` how much stronger the bottom.
    pub(crate) fn heard(&self, place: &PreparedSpot, absorption: f64, adjust: Adjust) -> NeighbourLevels<'_> {
        // A beam drawn wider by w at depth d lights the same bottom as the tabulated one at w·d, but from nearer by w.
        let widening = 2.0 * widening(adjust.beam_scale);
        let position = axis_place(place.depth_spreading + widening);
        let index = libm::floor(position).min(f64::from(DEPTH_NODES - 2));
        let share = position - index;
        let (Some(a), Some(b)) = (self.node(index), self.node(index + 1.0)) else {
            return NeighbourLevels { nodes: None, share: 0.0, shift: 0.0, critical: f64::NEG_INFINITY };
        };
        let mix = |a: f64, b: f64| a + share * (b - a);
        let shift = adjust.source_shift + adjust.bottom_shift + widening
            - 2.0 * place.depth * (absorption - mix(a.absorption, b.absorption));
        NeighbourLevels {
            nodes: Some((&a.levels, &b.levels)),
            share,
            shift,
            critical: mix(a.critical, b.critical) + shift,
        }
    }

    /// The hole that is worst placed at a depth.
    pub(crate) fn worst_hole(&self, depth: f64) -> usize {
        self.node(libm::round(axis_place(40.0 * libm::log10(depth)))).map_or(0, |node| node.hole)
    }

    /// A node, or the nearest one there is: a draw may leave the depths that the run's spots need.
    fn node(&self, index: f64) -> Option<&Node> {
        let index = super::beam::whole(index);
        if let Some(Some(node)) = self.nodes.get(index) {
            return Some(node);
        }
        let (before, after) = self.nodes.split_at_checked(index)?;
        let below = before.iter().rev().flatten().next();
        below.or_else(|| after.iter().flatten().next()).map(Box::as_ref)
    }
}

impl Node {
    fn new(
        neighbours: &Neighbours,
        gear: &PreparedOption,
        bottom: BottomClass,
        table: &ScatterTable,
        depth: Metres,
        received: &mut Received,
    ) -> Result<Self, ModelError> {
        let absorption = francois_garrison(gear.frequency, TEMPERATURE, GramsPerKilogram::new(0.0), depth * 0.5, 7.5)?;
        let source = SourceLevel::new(gear.source + if gear.from_power { WATT_LEVEL } else { 0.0 });
        let mut worst = Self {
            levels: [f64::NEG_INFINITY; FRACTIONS as usize],
            critical: f64::NEG_INFINITY,
            hole: 0,
            absorption: absorption.get(),
        };
        received.clear();
        for distance in &neighbours.neighbourhood.distances {
            let spacing = Metres::new(*distance);
            received.add(&Link {
                table,
                bottom_shift: shape_of(bottom).reflection_loss() - bottom.reflection_loss(),
                spacing,
                depth,
                speed: SPEED,
                absorption,
                source,
                pulse: gear.pulse(),
                confirmer: &gear.confirmer,
                band_loss: Db::new(0.0),
                direct: (!neighbours.recessed)
                    .then(|| direct_level(source, &gear.plane, &gear.plane, spacing, absorption)),
                bounce_loss: gear.ice_loss + bottom.reflection_loss(),
            });
        }
        for view in &neighbours.neighbourhood.views {
            received.gather(&view.neighbours);
            let critical = received.critical_level(neighbours.tolerance).map_or(f64::NEG_INFINITY, Level::get);
            if critical > worst.critical {
                worst.levels = falling_levels(received);
                worst.critical = critical;
                worst.hole = view.hole;
            }
        }
        Ok(worst)
    }
}

/// What a spot or a draw differs from the tables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Adjust {
    pub(crate) source_shift: f64,
    pub(crate) bottom_shift: f64,
    pub(crate) beam_scale: f64,
}

impl NeighbourLevels<'_> {
    /// Fraction of range cells in which interference marks are drawn at a threshold.
    pub(crate) fn fraction(&self, threshold: f64) -> f64 {
        let Some((a, b)) = self.nodes else { return 0.0 };
        let wanted = threshold - self.shift;
        let level = |k: usize| match (a.get(k), b.get(k)) {
            (Some(a), Some(b)) => a + self.share * (b - a),
            _ => f64::NEG_INFINITY,
        };
        // Levels fall along the axis: find the first that is not above the threshold.
        let (mut low, mut high) = (0, a.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            if level(middle) > wanted { low = middle + 1 } else { high = middle }
        }
        let Some(before) = low.checked_sub(1) else { return 0.0 };
        if low >= a.len() {
            return 1.0;
        }
        let (above, below) = (level(before), level(low));
        let share = (above - wanted) / (above - below);
        if before == 0 {
            share * fraction_at(1)
        } else {
            let place = super::beam::count(before) + share;
            libm::exp(std::f64::consts::LN_10 * DECADES * ((place - 1.0) / f64::from(FRACTIONS - 2) - 1.0))
        }
    }
}

/// The k-th fraction of the axis.
fn fraction_at(k: u32) -> f64 {
    if k == 0 { 0.0 } else { libm::pow(10.0, DECADES * (f64::from(k - 1) / f64::from(FRACTIONS - 2) - 1.0)) }
}

/// The level that each fraction of the axis passes, read off a fine scan of thresholds.
fn falling_levels(received: &Received) -> [f64; FRACTIONS as usize] {
    let peak = received.critical_level(0.0).map_or(f64::NEG_INFINITY, Level::get);
    let scan: Vec<(f64, f64)> = (0..=LEVEL_STEPS)
        .map(|step| {
            let level = peak - LEVEL_STEP * f64::from(step);
            (level, received.drawn_fraction(Level::new(level)))
        })
        .collect();
    let mut levels = [peak; FRACTIONS as usize];
    for (k, slot) in (1..FRACTIONS).zip(levels.iter_mut().skip(1)) {
        let wanted = fraction_at(k);
        let after = scan.partition_point(|(_, p)| *p < wanted);
        *slot = match (after.checked_sub(1).and_then(|i| scan.get(i)), scan.get(after)) {
            (Some((l0, p0)), Some((l1, p1))) => l0 + (l1 - l0) * (wanted - p0) / (p1 - p0).max(f64::MIN_POSITIVE),
            (None, Some((level, _))) => *level,
            // Fractions that are never reached lie further and further under the scan, so that the curve keeps falling.
            _ => peak - LEVEL_STEP * f64::from(LEVEL_STEPS + k),
        };
    }
    levels
}
