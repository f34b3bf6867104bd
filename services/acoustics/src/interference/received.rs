//! Everything that one unit receives from its neighbours, added up for any threshold.

use std::sync::Arc;

use super::confirmation::{Confirmer, Mark, PATHS};
use super::curve::Curve;
use super::scatter::ScatterTable;
use super::{BOUNCES, any_mark};
use crate::units::{Db, DbPerMetre, Level, Metres, MetresPerSecond, Seconds, SourceLevel};

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
    /// How the unit's display confirms marks of this neighbour; holds the neighbour's interval.
    pub confirmer: &'a Arc<Confirmer>,
    /// Loss of the neighbour's pulse in the unit's band; 0 for the same option.
    pub band_loss: Db,
    /// Level along the direct path; none where it is blocked.
    pub direct: Option<Level>,
    /// Loss of one more bounce: ice underside and bottom together.
    pub bounce_loss: Db,
}

/// One path of one neighbour, in absolute terms.
#[derive(Debug, Clone)]
struct Path {
    /// For how long each level is passed, dB re 1 µPa.
    curve: Curve,
    /// Seconds for a duration of one.
    seconds: f64,
    /// Time to the first arrival.
    delay: f64,
}

/// What one unit receives. Reused from spot to spot: `clear` keeps the memory.
#[derive(Debug, Clone, Default)]
pub struct Received {
    /// So many paths for each neighbour as there are bounces.
    paths: Vec<Path>,
    neighbours: Vec<Neighbour>,
    /// Which neighbours are there; one of whom there are several stands there as often.
    present: Vec<usize>,
}

#[derive(Debug, Clone)]
struct Neighbour {
    confirmer: Arc<Confirmer>,
    /// Level and mark of the direct path.
    direct: Option<(f64, Mark)>,
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
        self.present.clear();
    }

    /// Whether nobody is there.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.present.is_empty()
    }

    /// Says who of the neighbours that were added is there, each by its place in the order of adding and as often as there are such.
    /// What comes from a neighbour is worked out when it is added: this costs next to nothing.
    pub fn gather(&mut self, present: &[usize]) {
        self.present.clear();
        self.present.extend(present.iter().filter(|index| **index < self.neighbours.len()));
    }

    /// Adds a neighbour, who is there.
    pub fn add(&mut self, link: &Link<'_>) {
        self.present.push(self.neighbours.len());
        self.neighbours.push(Neighbour {
            confirmer: Arc::clone(link.confirmer),
            direct: link.direct.map(|level| {
                let mark = Mark { delay: link.spacing.get() / link.speed.get(), length: link.pulse.get() };
                ((level - link.band_loss).get(), mark)
            }),
        });
        for bounce in 1..=BOUNCES {
            let times = f64::from(bounce);
            // m bounces look like one bounce off a bottom m times as deep, with the losses of the bounces between.
            let depth = link.depth.get() * times;
            let spacing = link.spacing.get() / depth;
            let mut curve = Curve::SILENT;
            link.table.curve(spacing, link.speed.get() * link.pulse.get() / depth, &mut curve);
            let first_path = 2.0 * libm::sqrt(1.0 + 0.25 * spacing * spacing) * depth;
            curve.peak += link.source.get() + link.bottom_shift.get()
                - link.band_loss.get()
                - 20.0 * libm::log10(depth)
                - link.absorption.get() * first_path
                - (times - 1.0) * link.bounce_loss.get();
            self.paths.push(Path { curve, seconds: depth / link.speed.get(), delay: first_path / link.speed.get() });
        }
    }

    /// Time after one ping of a neighbour during which its level passes a threshold.
    #[must_use]
    pub fn time_above(&self, neighbour: usize, threshold: Level) -> Seconds {
        Seconds::new(self.marks(neighbour, threshold).iter().map(|mark| mark.length).sum())
    }

    /// The marks of a neighbour: one for each path, the direct one last. Where one has not ended when the next begins the time of both belongs to
    /// the later one.
    #[must_use]
    pub fn marks(&self, neighbour: usize, threshold: Level) -> [Mark; PATHS] {
        let threshold = threshold.get();
        let mut marks = [Mark::default(); PATHS];
        let paths = self.paths.iter().skip(neighbour * BOUNCES as usize).take(BOUNCES as usize);
        for (mark, path) in marks.iter_mut().zip(paths) {
            let length = path.seconds * path.curve.duration(path.curve.peak - threshold);
            *mark = Mark { delay: path.delay, length };
        }
        let direct = self.neighbours.get(neighbour).and_then(|neighbour| neighbour.direct);
        if let (Some((level, mark)), Some(last)) = (direct, marks.last_mut())
            && level > threshold
        {
            *last = mark;
        }
        let mut end: f64 = 0.0;
        // The direct one comes first.
        for index in [PATHS - 1, 0, 1, 2] {
            let next = if index == PATHS - 1 { 0 } else { index + 1 };
            let begins = if next < PATHS - 1 { marks.get(next).map(|mark| mark.delay) } else { None };
            let Some(mark) = marks.get_mut(index) else { continue };
            end = end.max(mark.delay + mark.length);
            mark.length = end.min(begins.unwrap_or(f64::INFINITY)) - mark.delay;
            mark.length = mark.length.max(0.0);
        }
        marks
    }

    /// Fraction of range cells in which interference marks are drawn at a threshold, after confirmation over pings.
    #[must_use]
    pub fn drawn_fraction(&self, threshold: Level) -> f64 {
        Self::drawn_by(self.present.iter().map(|index| (self, *index)), threshold)
    }

    /// The same for neighbours picked from several sums, each by the sum that holds it and its place there; all are neighbours of one unit.
    pub fn drawn_by<'a>(neighbours: impl Iterator<Item = (&'a Self, usize)> + Clone, threshold: Level) -> f64 {
        let known = neighbours.filter_map(|(sum, index)| Some((sum, index, &sum.neighbours.get(index)?.confirmer)));
        let Some((_, _, first)) = known.clone().next() else { return 0.0 };
        if first.is_at_once() {
            return any_mark(
                known.map(|(sum, index, confirmer)| (sum.time_above(index, threshold), confirmer.interval())),
            );
        }
        let mut silence = first.silence();
        known.for_each(|(sum, index, confirmer)| confirmer.add(&mut silence, &sum.marks(index, threshold)));
        first.drawn(&silence)
    }

    /// The lowest threshold at which the drawn fraction stays within a tolerance, to 0.01 dB. Lower thresholds pass it: the fraction falls
    /// as the threshold rises. None without neighbours.
    #[must_use]
    pub fn critical_level(&self, tolerance: f64) -> Option<Level> {
        let high = self.present.iter().filter_map(|index| self.strongest(*index)).reduce(f64::max)?;
        let (mut low, mut high) = (high - SEARCH_SPAN, high + 0.01);
        if self.drawn_fraction(Level::new(low)) <= tolerance {
            return Some(Level::new(low));
        }
        while high - low > 0.01 {
            let middle = 0.5 * (low + high);
            if self.drawn_fraction(Level::new(middle)) <= tolerance { high = middle } else { low = middle }
        }
        Some(Level::new(high))
    }

    /// The strongest that comes from a neighbour over any path.
    fn strongest(&self, neighbour: usize) -> Option<f64> {
        let direct = self.neighbours.get(neighbour)?.direct.map(|direct| direct.0);
        let paths = self.paths.iter().skip(neighbour * BOUNCES as usize).take(BOUNCES as usize);
        paths.map(|path| path.curve.peak).chain(direct).reduce(f64::max)
    }
}

/// How far under the strongest arrival the critical level is looked for, dB: more than any dial covers.
const SEARCH_SPAN: f64 = 160.0;
