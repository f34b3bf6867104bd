//! Neighbours in a shelter: how loud they come through at a spot, tabulated over depth once per option and bottom class.
//!
//! The tables of the physics answer for any threshold, but adding up all paths of all neighbours takes longer than
//! everything else of an evaluation. What is needed of it is how the fraction of interference marks falls with the threshold
//! at one depth, and that changes slowly with depth. So it is computed at the nodes of a fixed axis of depths and
//! interpolated in the logarithm of depth. The axis is the same for every run: a spot's figures do not depend on which
//! other spots are in the run. Where a bottom slopes the same is done for slopes on an axis of the option's own, with steps that its beam can tell
//! apart.
//!
//! How a shelter stands on a slope, and how oblong beams are turned, nobody says: every neighbour counts in whichever way is heard for longest.

use std::sync::{Arc, LazyLock};

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardUniform};
use rayon::prelude::*;

use acoustics::ModelError;
use acoustics::absorption::francois_garrison;
use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::interference::{BottomScatter, Link, Pair, Received, ScatterTable, direct_level};
use acoustics::units::{Celsius, Db, GramsPerKilogram, Level, Metres, MetresPerSecond, SourceLevel};

use super::hanging::ways;
use super::kernel::{Display, TURNS, Turned};
use super::memo::{Fingerprint, Memo};
use super::option::PreparedOption;
use super::prepare::Stopped;
use super::spot::PreparedSpot;
use crate::neighbourhood::Neighbourhood;
use domain::selection::Settings;
use domain::{Cancel, Point, Shelter};

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
/// What of a run differs from the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Unknowns {
    /// Nothing.
    None,
    /// The ice, which is of recorded thickness.
    Ice,
    /// All that is drawn.
    Drawn,
}

/// The holes of a shelter as each of their units sees the others.
#[derive(Debug, Clone)]
pub(crate) struct Neighbours {
    pub(crate) holes: Vec<Point>,
    pub(crate) neighbourhood: Neighbourhood,
    recessed: bool,
    /// How far the judged unit leans, radians.
    lean: f64,
    unknowns: Unknowns,
    /// Fraction of range cells that may show interference marks.
    tolerance: f64,
}

impl Neighbours {
    /// The neighbours of a shelter whose holes are known; none for a single hole.
    pub(crate) fn new(shelter: &Shelter, holes: Vec<Point>, settings: &Settings, unknowns: Unknowns) -> Option<Self> {
        if holes.len() < 2 {
            return None;
        }
        let neighbourhood = Neighbourhood::new(&holes);
        Some(Self {
            holes,
            neighbourhood,
            recessed: shelter.transducers_recessed,
            lean: 0.0,
            unknowns,
            tolerance: settings.interference_tolerance,
        })
    }
}

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

/// Nodes of all runs, less than a KiB each.
static NODES: Memo<Node> = Memo::new(20_000);

/// One depth.
#[derive(Debug, Clone, PartialEq)]
struct Node {
    /// Level that each fraction of the fraction axis passes; falling.
    levels: [f64; FRACTIONS as usize],
    /// Lowest threshold at which the tolerance is kept.
    critical: f64,
    /// The hole that is worst placed.
    hole: usize,
    /// What draws change; none where nothing is drawn.
    drawn: Option<Box<Drawn>>,
    /// What the critical level changes with the loss of a bounce, by [`BOUNCES`]; empty where no loss differs.
    bounces: Vec<f64>,
    /// Absorption in the water of the tables, dB/m.
    absorption: f64,
}

/// What the critical level changes, dB.
#[derive(Debug, Clone, PartialEq)]
struct Drawn {
    /// Where neighbours hang and lie as drawn.
    turns: [f64; TURNS],
    /// With marks that two pings of three confirm.
    confirming: f64,
}

/// What bounces may lose more or less than tabulated, dB: finer near nothing, where nearly all draws are.
const BOUNCES: [f64; 11] = [-36.0, -24.0, -16.0, -8.0, -4.0, -2.0, 0.0, 2.0, 4.0, 8.0, 16.0];

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

impl Neighbours {
    /// Of everything that a node depends on but bottom, slope and depth.
    fn fingerprint(&self, gear: &Fingerprint) -> Fingerprint {
        let around = &self.neighbourhood;
        let views = around.views.iter().fold(gear.clone(), |so_far, view| so_far.with((view.hole, &view.neighbours)));
        views
            .with((self.recessed, self.unknowns))
            .figures(around.distances.iter().copied())
            .figures([self.lean, self.tolerance])
    }
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

/// Nodes of the axis of depths.
type NeededNodes = [bool; DEPTH_NODES as usize];

/// Which depths a class needs: on the level, and for each slope that occurs, radians.
#[derive(Debug, Clone)]
pub(crate) struct Needed {
    /// How far draws may leave the depth, as a ratio.
    reach: f64,
    spots: Vec<(f64, NeededNodes)>,
}

impl Needed {
    /// Nothing yet.
    pub(crate) fn new(reach: f64) -> Self {
        Self { reach, spots: Vec::new() }
    }

    /// Adds a depth on a slope.
    pub(crate) fn mark(&mut self, slope: f64, depth: f64) {
        let place = |depth: f64| axis_place(40.0 * libm::log10(depth));
        let (low, high) = (libm::floor(place(depth / self.reach)), libm::floor(place(depth * self.reach)) + 1.0);
        let known = self.spots.iter().position(|(known, _)| *known == slope).unwrap_or_else(|| {
            self.spots.push((slope, [false; DEPTH_NODES as usize]));
            self.spots.len() - 1
        });
        let Some((_, nodes)) = self.spots.get_mut(known) else { return };
        for (index, slot) in (0..).zip(nodes.iter_mut()) {
            let index = f64::from(index);
            *slot |= low <= index && index <= high;
        }
    }

    /// The nodes of each row of slopes that stand so far apart.
    fn rows(&self, step: f64) -> Vec<NeededNodes> {
        let mut rows: Vec<NeededNodes> = Vec::new();
        for (slope, needed) in &self.spots {
            let first = super::beam::whole(slope / step);
            let last = if *slope == 0.0 { first } else { first + 1 };
            rows.resize(rows.len().max(last + 1), [false; DEPTH_NODES as usize]);
            for (row, slots) in rows.iter_mut().enumerate().take(last + 1).skip(first) {
                let stride = stride(row);
                for (index, slot) in slots.iter_mut().enumerate().step_by(stride) {
                    // The nodes on both sides of each one that is needed.
                    let around = index.saturating_sub(stride - 1)..(index + stride).min(needed.len());
                    *slot |= needed.get(around).is_some_and(|around| around.contains(&true));
                }
            }
        }
        rows
    }
}

/// From node to node of a slope, which costs more than the level. Over the demo's 32 slopes and 23 options it moves clear gains by 0.005 dB in the middle,
/// 0.24 dB in 99 of 100 and 0.9 dB at most, against every node.
const SLOPING_STRIDE: usize = 2;

/// From node to node of the axis of depths that a row has.
const fn stride(row: usize) -> usize {
    if row == 0 { 1 } else { SLOPING_STRIDE }
}

/// From slope to slope, as a part of the half angle of the narrower plane of a beam: the main lobe, which falls as the square of its angle, is then
/// within 0.3 dB between two of them.
const SLOPE_STEP: f64 = 0.4;

/// Two units in one of the ways in which they may hang, and what answers for the bottom between them.
enum Hung {
    /// Over a level bottom, where spacing over depth says all: one table for all depths and bounces.
    Level(ScatterTable),
    /// Over a slope.
    Sloping(Pair),
}

impl Hung {
    fn over(pair: Pair, slope: f64) -> Self {
        if slope == 0.0 { Self::Level(ScatterTable::new(pair)) } else { Self::Sloping(pair) }
    }

    fn pair(&self) -> &Pair {
        match self {
            Self::Level(table) => table.pair(),
            Self::Sloping(pair) => pair,
        }
    }

    fn scatter(&self) -> &dyn BottomScatter {
        match self {
            Self::Level(table) => table,
            Self::Sloping(pair) => pair,
        }
    }
}

impl Clearance {
    /// Tabulates, for an option, each of some bottoms that scatter with one shape at the nodes that it needs.
    ///
    /// # Errors
    /// The work is cancelled, which is asked at each node; inside, a frequency that the scattering tables do not cover.
    pub(crate) fn family(
        neighbours: &Neighbours,
        gear: &PreparedOption,
        family: &[(BottomClass, &Needed)],
        cancel: &Cancel,
    ) -> Result<Vec<Self>, Stopped> {
        let Some((shape, _)) = family.first() else { return Ok(Vec::new()) };
        let scatter = BistaticScatter::new(shape_of(*shape), gear.frequency)?;
        let step = SLOPE_STEP * libm::asin(gear.pattern.narrowest().reference_sine());
        let known = neighbours.fingerprint(&gear.fingerprint);
        let mut lies: Vec<Vec<(Hung, f64)>> = Vec::new();
        let mut built = Vec::with_capacity(family.len());
        for (bottom, needed) in family {
            let mut rows = Vec::new();
            for (row, needed) in (0_u32..).zip(needed.rows(step)) {
                let slope = step * f64::from(row);
                if lies.len() <= rows.len() {
                    let ways = ways([&gear.pattern; 2], scatter, (slope, neighbours.lean));
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
                    Ok(Some(NODES.of(key, || Node::new(neighbours, gear, *bottom, ways, depth))?))
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
        let stride = super::beam::count(stride(super::beam::whole(row)));
        let index = stride * libm::floor(position / stride).min(libm::floor(f64::from(DEPTH_NODES - 1) / stride) - 1.0);
        let nodes = [self.node(row, index)?, self.node(row, index + stride)?];
        Some(Between { nodes, share: (position - index) / stride })
    }

    /// A node, or the nearest one there is: a draw may leave the depths and slopes that the run's spots need.
    fn node(&self, row: f64, index: f64) -> Option<&Node> {
        let row = super::beam::whole(row).min(self.rows.len().saturating_sub(1));
        let index = super::beam::whole(index);
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

impl Node {
    fn new(
        neighbours: &Neighbours,
        gear: &PreparedOption,
        bottom: BottomClass,
        ways: &[(Hung, f64)],
        depth: Metres,
    ) -> Result<Self, ModelError> {
        let absorption = francois_garrison(gear.frequency, TEMPERATURE, GramsPerKilogram::new(0.0), depth * 0.5, 7.5)?;
        let source = SourceLevel::new(gear.source + if gear.from_power { WATT_LEVEL } else { 0.0 });
        let mut worst = Self {
            levels: [f64::NEG_INFINITY; FRACTIONS as usize],
            critical: f64::NEG_INFINITY,
            hole: 0,
            drawn: None,
            bounces: Vec::new(),
            absorption: absorption.get(),
        };
        let mut judged: &[usize] = &[];
        let mut received = Received::new();
        for distance in &neighbours.neighbourhood.distances {
            let spacing = Metres::new(*distance);
            for (way, (hung, _)) in ways.iter().enumerate() {
                let pair = hung.pair();
                let direct = || direct_level(source, pair.talker(), pair.listener(), spacing, absorption);
                let link = Link {
                    scatter: hung.scatter(),
                    bottom_shift: shape_of(bottom).reflection_loss() - bottom.reflection_loss(),
                    spacing,
                    depth,
                    speed: SPEED,
                    absorption,
                    source,
                    pulse: gear.pulse(),
                    confirmer: &gear.confirmer,
                    band_loss: Db::new(0.0),
                    direct: (!neighbours.recessed).then(direct),
                    bounce_loss: gear.ice_loss + bottom.reflection_loss(),
                };
                if way == 0 { received.add(&link) } else { received.or(&link) }
            }
        }
        for view in &neighbours.neighbourhood.views {
            received.gather(&view.neighbours);
            let critical = received.critical_level(neighbours.tolerance).map_or(f64::NEG_INFINITY, Level::get);
            if critical > worst.critical {
                worst.levels = falling_levels(&received);
                worst.critical = critical;
                worst.hole = view.hole;
                judged = &view.neighbours;
            }
        }
        received.gather(judged);
        let level = |received: &Received| {
            received.critical_level(neighbours.tolerance).map_or(f64::NEG_INFINITY, Level::get) - worst.critical
        };
        if neighbours.unknowns != Unknowns::None {
            worst.bounces = BOUNCES
                .iter()
                .map(|more| {
                    received.lose(Db::new(*more));
                    let change = level(&received);
                    received.lose(Db::new(-more));
                    change
                })
                .collect();
        }
        if neighbours.unknowns == Unknowns::Drawn {
            let mut rng = ChaCha8Rng::seed_from_u64(TURN_SEED);
            let turns = std::array::from_fn(|_| {
                if ways.len() < 2 {
                    return 0.0;
                }
                received.gather_ways(judged.iter().map(|neighbour| (*neighbour, any_way(ways, &mut rng))));
                level(&received)
            });
            received.gather(judged);
            received.confirm(&gear.confirming);
            worst.drawn = Some(Box::new(Drawn { turns, confirming: level(&received).min(0.0) }));
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
    /// What a bounce loses more, dB.
    pub(crate) bounce: f64,
    /// How much rarer marks are than those of the tables.
    pub(crate) rarer: f64,
    pub(crate) turned: Option<Turned>,
    pub(crate) display: Display,
}

/// Where the draws of ways start; the same at every node, so that neighbours do not turn from depth to depth.
const TURN_SEED: u64 = 1;

/// One of some ways, as likely as they are.
fn any_way(ways: &[(Hung, f64)], rng: &mut ChaCha8Rng) -> usize {
    let mut left: f64 = StandardUniform.sample(rng);
    ways.iter()
        .position(|(_, part)| {
            left -= part;
            left < 0.0
        })
        .unwrap_or(ways.len() - 1)
}

impl Node {
    /// What the critical level changes where a bounce loses so much more.
    fn bounced(&self, more: f64) -> f64 {
        let after = BOUNCES.partition_point(|loss| *loss < more).clamp(1, BOUNCES.len() - 1);
        let at = |index: usize| Some((*BOUNCES.get(index)?, *self.bounces.get(index)?));
        match (at(after - 1), at(after)) {
            (Some((low, at_low)), Some((high, at_high))) => {
                at_low + ((more - low) / (high - low)).clamp(0.0, 1.0) * (at_high - at_low)
            }
            _ => 0.0,
        }
    }

    /// The level that a fraction passes.
    fn level_of(&self, fraction: f64) -> f64 {
        let place = (libm::log10(fraction.clamp(1.0e-12, 1.0)) / DECADES + 1.0) * f64::from(FRACTIONS - 2) + 1.0;
        super::beam::interpolate(&self.levels, place.max(0.0))
    }
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
