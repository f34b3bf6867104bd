//! Everything that one unit receives from its neighbours, added up for any threshold.

use std::sync::Arc;

use super::confirmation::{Confirmer, Mark, PATHS};
use super::curve::Curve;
use super::pair::BottomScatter;
use super::{BOUNCES, any_mark};
use crate::units::{Db, DbPerMetre, Level, Metres, MetresPerSecond, Seconds, SourceLevel};

/// One neighbour as it is heard by a unit.
#[derive(Debug, Clone, Copy)]
pub struct Link<'a> {
    /// Shape of the bottom scatter between the two.
    pub scatter: &'a dyn BottomScatter,
    /// What that scatter lacks to the bottom at hand (0 when it was built for it).
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
    /// Of every neighbour, one behind the other.
    ways: Vec<Way>,
    neighbours: Vec<Neighbour>,
    /// Which neighbours are there; one of whom there are several stands there as often.
    present: Vec<Present>,
}

/// One way in which a neighbour may hang or lie: what is heard of it then.
#[derive(Debug, Clone)]
struct Way {
    paths: [Path; BOUNCES as usize],
    /// Level and mark of the direct path.
    direct: Option<(f64, Mark)>,
}

#[derive(Debug, Clone)]
struct Neighbour {
    confirmer: Arc<Confirmer>,
    /// Its ways.
    first: usize,
    count: usize,
}

/// A neighbour that is there: in one way, or in whichever is heard for longest.
#[derive(Debug, Clone, Copy)]
struct Present {
    neighbour: usize,
    way: Option<usize>,
}

impl Received {
    /// Nobody around.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets the neighbours, keeps the memory.
    pub fn clear(&mut self) {
        self.ways.clear();
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
        let known = present.iter().filter(|index| **index < self.neighbours.len());
        self.present.extend(known.map(|neighbour| Present { neighbour: *neighbour, way: None }));
    }

    /// The same, each neighbour in one of its ways.
    pub fn gather_ways(&mut self, present: impl IntoIterator<Item = (usize, usize)>) {
        self.present.clear();
        let known =
            present.into_iter().filter(|(index, way)| self.neighbours.get(*index).is_some_and(|n| *way < n.count));
        self.present.extend(known.map(|(neighbour, way)| Present { neighbour, way: Some(way) }));
    }

    /// Adds a neighbour, who is there.
    pub fn add(&mut self, link: &Link<'_>) {
        self.present.push(Present { neighbour: self.neighbours.len(), way: None });
        self.neighbours.push(Neighbour { confirmer: Arc::clone(link.confirmer), first: self.ways.len(), count: 1 });
        self.ways.push(Way::new(link));
    }

    /// Another way in which the neighbour added last may hang or lie. Unless told otherwise it counts in whichever is heard for longest.
    pub fn or(&mut self, link: &Link<'_>) {
        if let Some(last) = self.neighbours.last_mut() {
            last.count += 1;
            self.ways.push(Way::new(link));
        }
    }

    /// Takes so much more of every bounce after the first, in all neighbours.
    pub fn lose(&mut self, more: Db) {
        for way in &mut self.ways {
            for (times, path) in (0_u32..).zip(&mut way.paths) {
                path.curve.peak -= f64::from(times) * more.get();
            }
        }
    }

    /// Another confirmation for all neighbours.
    pub fn confirm(&mut self, confirmer: &Arc<Confirmer>) {
        for neighbour in &mut self.neighbours {
            neighbour.confirmer = Arc::clone(confirmer);
        }
    }

    /// Time after one ping of a neighbour during which its level passes a threshold.
    #[must_use]
    pub fn time_above(&self, neighbour: usize, threshold: Level) -> Seconds {
        Seconds::new(length(&self.marks(neighbour, threshold)))
    }

    /// The marks of a neighbour: one for each path, the direct one last, in the way that is heard for longest.
    #[must_use]
    pub fn marks(&self, neighbour: usize, threshold: Level) -> [Mark; PATHS] {
        self.heard(Present { neighbour, way: None }, threshold)
    }

    fn heard(&self, present: Present, threshold: Level) -> [Mark; PATHS] {
        let Some(neighbour) = self.neighbours.get(present.neighbour) else { return [Mark::default(); PATHS] };
        let ways = self.ways.iter().skip(neighbour.first).take(neighbour.count);
        let chosen = |(place, _): &(usize, &Way)| present.way.is_none_or(|way| way == *place);
        let heard = ways.enumerate().filter(chosen).map(|(_, way)| way.marks(threshold));
        heard.reduce(|a, b| if length(&b) > length(&a) { b } else { a }).unwrap_or_default()
    }

    /// For each set of pings (as the bits of its place) the chance that none of them shows a mark of a neighbour. The chances of several neighbours
    /// multiply, and [`Confirmer::drawn`] says what is drawn of all of them.
    #[must_use]
    pub fn silence(&self, neighbour: usize, threshold: Level) -> Vec<f64> {
        let Some(known) = self.neighbours.get(neighbour) else { return Vec::new() };
        let marks = self.marks(neighbour, threshold);
        let mut silence = known.confirmer.silence();
        if length(&marks) > 0.0 {
            known.confirmer.add(&mut silence, &marks);
        }
        silence
    }

    /// Fraction of range cells in which interference marks are drawn at a threshold, after confirmation over pings.
    #[must_use]
    pub fn drawn_fraction(&self, threshold: Level) -> f64 {
        drawn(self.present.iter().map(|present| (self, *present)), threshold)
    }

    /// The same for neighbours picked from several sums, each by the sum that holds it and its place there; all are neighbours of one unit.
    pub fn drawn_by<'a>(neighbours: impl Iterator<Item = (&'a Self, usize)> + Clone, threshold: Level) -> f64 {
        drawn(neighbours.map(|(sum, neighbour)| (sum, Present { neighbour, way: None })), threshold)
    }

    /// The lowest threshold at which the drawn fraction stays within a tolerance, to 0.01 dB. Lower thresholds pass it: the fraction falls
    /// as the threshold rises. None without neighbours.
    #[must_use]
    pub fn critical_level(&self, tolerance: f64) -> Option<Level> {
        let high = self.present.iter().filter_map(|present| self.strongest(present.neighbour)).reduce(f64::max)?;
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
        let neighbour = self.neighbours.get(neighbour)?;
        let ways = self.ways.iter().skip(neighbour.first).take(neighbour.count);
        ways.flat_map(|way| way.paths.iter().map(|path| path.curve.peak).chain(way.direct.map(|direct| direct.0)))
            .reduce(f64::max)
    }
}

impl Way {
    fn new(link: &Link<'_>) -> Self {
        let mut bounce = 0;
        let paths = std::array::from_fn(|_| {
            bounce += 1;
            Path::new(link, bounce)
        });
        let direct = link.direct.map(|level| {
            let mark = Mark { delay: link.spacing.get() / link.speed.get(), length: link.pulse.get() };
            ((level - link.band_loss).get(), mark)
        });
        Self { paths, direct }
    }

    /// Marks at a threshold. Where one has not ended when the next begins the time of both belongs to the later one.
    fn marks(&self, threshold: Level) -> [Mark; PATHS] {
        let threshold = threshold.get();
        let mut marks = [Mark::default(); PATHS];
        for (mark, path) in marks.iter_mut().zip(&self.paths) {
            let length = path.seconds * path.curve.duration(path.curve.peak - threshold);
            *mark = Mark { delay: path.delay, length };
        }
        if let (Some((level, mark)), Some(last)) = (self.direct, marks.last_mut())
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
}

impl Path {
    fn new(link: &Link<'_>, bounces: u32) -> Self {
        let times = f64::from(bounces);
        // m bounces look like one bounce off a bottom m times as deep, with the losses of the bounces between.
        let depth = link.depth.get() * times;
        let spacing = link.spacing.get() / depth;
        let mut curve = Curve::SILENT;
        link.scatter.curve(bounces, spacing, link.speed.get() * link.pulse.get() / depth, &mut curve);
        let first_path = link.scatter.first_path(bounces, spacing) * depth;
        curve.peak += link.source.get() + link.bottom_shift.get()
            - link.band_loss.get()
            - 20.0 * libm::log10(depth)
            - link.absorption.get() * first_path
            - (times - 1.0) * link.bounce_loss.get();
        Self { curve, seconds: depth / link.speed.get(), delay: first_path / link.speed.get() }
    }
}

fn length(marks: &[Mark; PATHS]) -> f64 {
    marks.iter().map(|mark| mark.length).sum()
}

fn drawn<'a>(neighbours: impl Iterator<Item = (&'a Received, Present)> + Clone, threshold: Level) -> f64 {
    let known =
        neighbours.filter_map(|(sum, present)| Some((sum, present, &sum.neighbours.get(present.neighbour)?.confirmer)));
    let Some((_, _, first)) = known.clone().next() else { return 0.0 };
    let marks = |sum: &Received, present: Present| sum.heard(present, threshold);
    if first.is_at_once() {
        return any_mark(
            known.map(|(sum, present, confirmer)| (Seconds::new(length(&marks(sum, present))), confirmer.interval())),
        );
    }
    let mut silence = first.silence();
    known.for_each(|(sum, present, confirmer)| confirmer.add(&mut silence, &marks(sum, present)));
    first.drawn(&silence)
}

/// How far under the strongest arrival the critical level is looked for, dB: more than any dial covers.
const SEARCH_SPAN: f64 = 160.0;
