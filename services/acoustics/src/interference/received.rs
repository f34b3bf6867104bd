//! Everything that one unit receives from its neighbours, added up for any threshold.

use std::sync::LazyLock;

use super::scatter::{CURVE_POINTS, Curve, ScatterTable, duration};
use super::{BOUNCES, any_mark};
use crate::units::{Db, DbPerMetre, Level, Metres, MetresPerSecond, Seconds, SourceLevel};

/// Durations of a curve, in units of d/c.
static DURATIONS: LazyLock<Curve> = LazyLock::new(|| std::array::from_fn(duration));

/// One neighbour as it is heard by a unit.
#[derive(Debug, Clone, Copy)]
pub struct Link<'a> {
    /// Shape of the bottom scatter between the two.
    pub table: &'a ScatterTable,
    /// What the table's scatter lacks to the bottom at hand (0 when it was built for it).
    pub bottom_shift: Db,
    /// Distance between the two.
    pub spacing: Metres,
    /// Depth under both.
    pub depth: Metres,
    /// Mean sound speed.
    pub speed: MetresPerSecond,
    /// Absorption at the neighbour's frequency.
    pub absorption: DbPerMetre,
    /// Source level of the neighbour.
    pub source: SourceLevel,
    /// Pulse of the neighbour.
    pub pulse: Seconds,
    /// Ping interval of the neighbour.
    pub interval: Seconds,
    /// Loss of the neighbour's pulse in the unit's band; 0 for the same option.
    pub band_loss: Db,
    /// Level along the direct path; none where it is blocked.
    pub direct: Option<Level>,
    /// Loss of one more bounce: ice underside and bottom together.
    pub bounce_loss: Db,
}

/// One path of one neighbour: levels against duration, in absolute terms.
#[derive(Debug, Clone)]
struct Path {
    /// Which neighbour.
    neighbour: usize,
    /// Falling levels, dB re 1 µPa.
    levels: Curve,
    /// Seconds for a duration of one.
    seconds: f64,
}

/// What one unit receives. Reused from spot to spot: `clear` keeps the memory.
#[derive(Debug, Clone, Default)]
pub struct Received {
    paths: Vec<Path>,
    neighbours: Vec<Neighbour>,
}

#[derive(Debug, Clone, Copy)]
struct Neighbour {
    interval: f64,
    direct: Option<(f64, f64)>,
}

impl Received {
    /// Nobody around.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets the neighbours, keeps the memory.
    pub fn clear(&mut self) {
        self.paths.clear();
        self.neighbours.clear();
    }

    /// Whether there is a neighbour at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.neighbours.is_empty()
    }

    /// Adds a neighbour.
    pub fn add(&mut self, link: &Link<'_>) {
        let neighbour = self.neighbours.len();
        self.neighbours.push(Neighbour {
            interval: link.interval.get(),
            direct: link.direct.map(|level| ((level - link.band_loss).get(), link.pulse.get())),
        });
        for bounce in 1..=BOUNCES {
            let times = f64::from(bounce);
            // m bounces look like one bounce off a bottom m times as deep, with the losses of the bounces between.
            let depth = link.depth.get() * times;
            let spacing = link.spacing.get() / depth;
            let mut levels = [0.0; CURVE_POINTS];
            link.table.curve(spacing, link.speed.get() * link.pulse.get() / depth, &mut levels);
            let first_path = 2.0 * libm::sqrt(1.0 + 0.25 * spacing * spacing) * depth;
            let shift = link.source.get() + link.bottom_shift.get()
                - link.band_loss.get()
                - 20.0 * libm::log10(depth)
                - link.absorption.get() * first_path
                - (times - 1.0) * link.bounce_loss.get();
            for level in &mut levels {
                *level += shift;
            }
            self.paths.push(Path { neighbour, levels, seconds: depth / link.speed.get() });
        }
    }

    /// Adds the same neighbour again as it was added last (another unit at the same spacing).
    pub fn repeat_last(&mut self) {
        let Some(last) = self.neighbours.last().copied() else { return };
        let neighbour = self.neighbours.len();
        self.neighbours.push(last);
        for i in self.paths.len() - BOUNCES as usize..self.paths.len() {
            if let Some(path) = self.paths.get(i) {
                let path = Path { neighbour, ..path.clone() };
                self.paths.push(path);
            }
        }
    }

    /// Time after one ping of a neighbour during which its level passes a threshold.
    #[must_use]
    pub fn time_above(&self, neighbour: usize, threshold: Level) -> Seconds {
        let Some(n) = self.neighbours.get(neighbour) else { return Seconds::new(0.0) };
        let first = neighbour * BOUNCES as usize;
        let scattered: f64 = self
            .paths
            .iter()
            .skip(first)
            .take(BOUNCES as usize)
            .filter(|p| p.neighbour == neighbour)
            .map(|p| p.seconds * duration_above(&p.levels, threshold.get()))
            .sum();
        Seconds::new(scattered + direct_time(n, threshold.get()))
    }

    /// Probability that a range cell shows a foreign mark in one ping, at a threshold.
    #[must_use]
    pub fn mark_probability(&self, threshold: Level) -> f64 {
        any_mark(
            self.neighbours.iter().enumerate().map(|(i, n)| (self.time_above(i, threshold), Seconds::new(n.interval))),
        )
    }

    /// The lowest threshold at which the mark probability stays within a tolerance, to 0.01 dB. Lower thresholds pass it: the probability
    /// falls as the threshold rises. None without neighbours.
    #[must_use]
    pub fn critical_level(&self, tolerance: f64) -> Option<Level> {
        let peak = self.neighbours.iter().filter_map(|n| n.direct.map(|d| d.0));
        let high = self.paths.iter().filter_map(|p| p.levels.first().copied()).chain(peak).reduce(f64::max)?;
        let (mut low, mut high) = (high - SEARCH_SPAN, high + 0.01);
        if self.mark_probability(Level::new(low)) <= tolerance {
            return Some(Level::new(low));
        }
        while high - low > 0.01 {
            let middle = 0.5 * (low + high);
            if self.mark_probability(Level::new(middle)) <= tolerance { high = middle } else { low = middle }
        }
        Some(Level::new(high))
    }
}

/// How far under the strongest arrival the critical level is looked for, dB: more than any dial covers.
const SEARCH_SPAN: f64 = 160.0;

fn direct_time(n: &Neighbour, threshold: f64) -> f64 {
    n.direct.map_or(0.0, |(level, pulse)| if level > threshold { pulse } else { 0.0 })
}

/// Duration for which a falling curve passes a threshold, in units of d/c.
fn duration_above(levels: &Curve, threshold: f64) -> f64 {
    let right = levels.partition_point(|level| *level > threshold);
    match (right.checked_sub(1), levels.get(right)) {
        (None, _) => 0.0,
        (Some(last), None) => DURATIONS.get(last).copied().unwrap_or(0.0),
        (Some(left), Some(at_right)) => {
            let (Some(at_left), Some(t0), Some(t1)) = (levels.get(left), DURATIONS.get(left), DURATIONS.get(right))
            else {
                return 0.0;
            };
            t0 + (t1 - t0) * (at_left - threshold) / (at_left - at_right)
        }
    }
}
