//! What neighbours do at one depth over one bottom: how loud, how often, and what draws change of it.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardUniform};

use acoustics::ModelError;
use acoustics::absorption::francois_garrison;
use acoustics::bottom::BottomClass;
use acoustics::interference::{BottomScatter, Link, Pair, Received, ScatterTable, direct_level};
use acoustics::units::{Db, GramsPerKilogram, Level, Metres, SourceLevel};

use super::super::beam;
use super::super::option::PreparedOption;
use super::super::shift::TURNS;
use super::around::{Neighbours, SPEED, TEMPERATURE, Talker, Unknowns, WATT_LEVEL};

/// Fractions of interference marks at the nodes of a curve: 0, then from 10⁻⁵ to 1, evenly in the logarithm.
pub(super) const FRACTIONS: u32 = 42;
/// Decades from the least fraction to 1.
pub(super) const DECADES: f64 = 5.0;
/// Level steps from which a curve is read off, dB, and how far under the peak they go: deeper than any dial reaches.
const LEVEL_STEP: f64 = 1.0;
const LEVEL_STEPS: u32 = 150;

/// One depth.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    /// Level that each fraction of the fraction axis passes; falling.
    pub(super) levels: [f64; FRACTIONS as usize],
    /// Lowest threshold at which the tolerance is kept.
    pub(super) critical: f64,
    /// The hole that is worst placed.
    pub(super) hole: usize,
    /// What draws change; none where nothing is drawn.
    pub(super) drawn: Option<Box<Drawn>>,
    /// What the critical level changes with the loss of a bounce, by [`BOUNCES`]; empty where no loss differs.
    pub(super) bounces: Vec<f64>,
    /// Absorption in the water of the tables, dB/m.
    pub(super) absorption: f64,
}

/// What the critical level changes, dB.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    /// Where neighbours hang and lie as drawn.
    pub(super) turns: [f64; TURNS],
    /// With marks that two pings of three confirm.
    pub(super) confirming: f64,
}

/// What bounces may lose more or less than tabulated, dB: finer near nothing, where nearly all draws are.
pub(super) const BOUNCES: [f64; 11] = [-36.0, -24.0, -16.0, -8.0, -4.0, -2.0, 0.0, 2.0, 4.0, 8.0, 16.0];

/// The class whose scattering has the shape of this one's: clay and softer bottoms stand under silt by the difference of
/// their reflection losses, at every angle and frequency.
pub(crate) fn shape_of(class: BottomClass) -> BottomClass {
    class.max(BottomClass::Silt)
}

/// Two units in one of the ways in which they may hang, and what answers for the bottom between them.
pub(super) enum Hung {
    /// Over a level bottom, where spacing over depth says all: one table for all depths and bounces.
    Level(ScatterTable),
    /// Over a slope.
    Sloping(Pair),
}

impl Hung {
    pub(super) fn over(pair: Pair, slope: f64) -> Self {
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

impl Node {
    pub(super) fn new(
        neighbours: &Neighbours,
        (gear, talker): (&PreparedOption, &Talker<'_>),
        bottom: BottomClass,
        ways: &[(Hung, f64)],
        depth: Metres,
    ) -> Result<Self, ModelError> {
        let absorption =
            francois_garrison(talker.gear.frequency, TEMPERATURE, GramsPerKilogram::new(0.0), depth * 0.5, 7.5)?;
        let sent = talker.gear;
        let source = SourceLevel::new(sent.source + if sent.from_power { WATT_LEVEL } else { 0.0 });
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
                    pulse: talker.pulse,
                    confirmer: &talker.confirmer,
                    band_loss: talker.loss,
                    direct: (!neighbours.recessed).then(direct),
                    bounce_loss: sent.ice_loss + bottom.reflection_loss(),
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
    pub(super) fn bounced(&self, more: f64) -> f64 {
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
    pub(super) fn level_of(&self, fraction: f64) -> f64 {
        let place = (libm::log10(fraction.clamp(1.0e-12, 1.0)) / DECADES + 1.0) * f64::from(FRACTIONS - 2) + 1.0;
        beam::interpolate(&self.levels, place.max(0.0))
    }
}

/// The k-th fraction of the axis.
pub(super) fn fraction_at(k: u32) -> f64 {
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
