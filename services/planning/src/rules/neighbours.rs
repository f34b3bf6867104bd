//! Neighbours of any option around a unit of any option: the highest gain that they leave.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use acoustics::bottom::BistaticScatter;
use acoustics::interference::{Confirmer, Link, Received, ScatterTable, TableBytes, Timing, direct_level};
use acoustics::units::{DbPerMetre, Level, Metres, MetresPerSecond, SourceLevel};

use super::mixture::Mixture;
use super::site::{Band, Sample};
use crate::PlanningError;
use crate::generic::CLASS_LEVEL_SPREAD;
use crate::neighbourhood::Neighbourhood;
use crate::selection::{Case, Prepared, PreparedOption, confirmer, shape_of, ways};
use domain::{BottomClass, Cancel, Confirmation, Fault, FaultReason, Point, Shelter};

/// How finely a gain is found, dB.
const STEP: f64 = 0.01;
/// Jitter of the ping interval that is proposed along with confirmation: wide enough that marks of tens of milliseconds move on.
const PROPOSED_JITTER: f64 = 0.05;
/// What the scatter tables of one computation may take: beyond it those go that were used longest ago, and are built anew when they are asked for again. A table
/// takes some 3 MB, and 200 options that all differ would have 40,000 of them.
const TABLE_BYTES: usize = 64 * 1024 * 1024;
/// A shelter with its holes, as its units see each other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LaidOutShelter {
    pub(super) holes: Vec<Point>,
    pub(super) neighbourhood: Neighbourhood,
    pub(super) recessed: bool,
}

impl LaidOutShelter {
    pub(super) fn new(shelter: &Shelter, holes: Vec<Point>) -> Self {
        let neighbourhood = Neighbourhood::new(&holes);
        Self { holes, neighbourhood, recessed: shelter.transducers_recessed }
    }

    pub(super) fn people(&self) -> u32 {
        u32::try_from(self.holes.len()).unwrap_or(u32::MAX)
    }
}

/// The hole in the middle of the densest packing of that many: a triangular lattice.
pub(super) fn densest(people: u32, spacing: f64) -> Neighbourhood {
    Neighbourhood::around(lattice(people, spacing))
}

/// Distances from a point of a triangular lattice to its nearest others.
fn lattice(people: u32, spacing: f64) -> Vec<f64> {
    let reach = 6_i32;
    let mut found = Vec::new();
    for a in -reach..=reach {
        for b in -reach..=reach {
            if (a, b) != (0, 0) {
                found.push(spacing * libm::sqrt(f64::from(a * a + a * b + b * b)));
            }
        }
    }
    found.sort_by(f64::total_cmp);
    found.truncate(usize::try_from(people.saturating_sub(1)).unwrap_or_default());
    found
}

/// The highest gain that neighbours leave, and where they are worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    pub(super) gain: f64,
    pub(super) depth: Metres,
    pub(super) bottom: BottomClass,
    pub(super) sample: Sample,
}

/// What a scatter table depends on: the lesser and the greater of two patterns, and how the bottom scatters. What one sends and the
/// other hears is the same the other way round.
type TableKey = (usize, usize, usize);

/// What units of any two options do to each other; scatter tables are built when a pair is first asked for, and shared by all options
/// whose patterns are alike.
pub(super) struct Neighbours<'a> {
    ground: &'a Prepared,
    tolerance: f64,
    /// From this option on units are not listed, and louder than stated by the spread of their class as far as others are concerned.
    listed: usize,
    /// By option: the first option with the same pattern.
    patterns: Vec<usize>,
    /// How a bottom scatters at an option's frequency, as a place among all the ways that occur.
    scatter_of: BTreeMap<(usize, BottomClass), usize>,
    scatters: Vec<BistaticScatter>,
    tables: Mutex<Tables>,
    /// How displays confirm marks, by the first option with that display and the first with that timing.
    confirmers: Mutex<BTreeMap<(usize, usize), Arc<Confirmer>>>,
    /// Asked before each sample: a gain over a whole band takes too long for who has left.
    cancel: &'a Cancel,
}

/// Tables that are kept.
#[derive(Default)]
struct Tables {
    /// By pair: a table for each way in which the two may hang, and when they were used last.
    latest: BTreeMap<TableKey, (Arc<[ScatterTable]>, u64)>,
    uses: u64,
    bytes: TableBytes,
}

impl Tables {
    fn get(&mut self, key: TableKey) -> Option<Arc<[ScatterTable]>> {
        self.make_room();
        self.uses += 1;
        let (tables, used) = self.latest.get_mut(&key)?;
        *used = self.uses;
        Some(Arc::clone(tables))
    }

    /// Lets go of what was used longest ago, a quarter of the budget at once. What another thread works with goes when that is done.
    fn make_room(&mut self) {
        let mut excess = self.bytes.get().saturating_sub(TABLE_BYTES);
        if excess > 0 {
            excess += TABLE_BYTES / 4;
        }
        while excess > 0
            && let Some(oldest) = self.latest.iter().min_by_key(|(_, (_, used))| *used).map(|(key, _)| *key)
            && let Some((tables, _)) = self.latest.remove(&oldest)
        {
            excess = excess.saturating_sub(tables.iter().map(ScatterTable::bytes).sum());
        }
    }
}

impl<'a> Neighbours<'a> {
    /// Over prepared stand-in spots.
    ///
    /// # Errors
    /// Every option that leaves what the models cover.
    pub(super) fn new(
        ground: &'a Prepared,
        listed: usize,
        tolerance: f64,
        cancel: &'a Cancel,
    ) -> Result<Self, PlanningError> {
        let mut faults = Vec::new();
        let (mut scatters, mut scatter_of) = (Vec::new(), BTreeMap::new());
        let gears: Vec<&PreparedOption> = (0..ground.option_count()).filter_map(|option| ground.gear(option)).collect();
        for (option, gear) in gears.iter().enumerate() {
            for shape in ground.bottoms().iter().map(|bottom| shape_of(*bottom)) {
                match BistaticScatter::new(shape, gear.frequency) {
                    Ok(scatter) => {
                        let place = scatters.iter().position(|known| *known == scatter).unwrap_or(scatters.len());
                        if place == scatters.len() {
                            scatters.push(scatter);
                        }
                        scatter_of.insert((option, shape), place);
                    }
                    Err(error) => {
                        let text = format!("options[{option}] leaves what the models cover: {error}; leave it out");
                        faults.push(Fault::new(format!("options[{option}]"), FaultReason::OutOfRange, text));
                    }
                }
            }
        }
        let first =
            |gear: &PreparedOption| gears.iter().position(|other| other.pattern == gear.pattern).unwrap_or_default();
        let patterns = gears.iter().map(|gear| first(gear)).collect();
        let (tables, confirmers) = (Mutex::default(), Mutex::default());
        let made = Self { ground, listed, tolerance, patterns, scatter_of, scatters, tables, confirmers, cancel };
        if faults.is_empty() { Ok(made) } else { Err(PlanningError::Faults(faults)) }
    }

    pub(super) fn gear(&self, option: usize) -> Option<&PreparedOption> {
        self.ground.gear(option)
    }

    fn tables(&self, listener: usize, talker: usize, shape: BottomClass) -> Option<Arc<[ScatterTable]>> {
        let (a, b) = (*self.patterns.get(listener)?, *self.patterns.get(talker)?);
        let scatter = *self.scatter_of.get(&(talker, shape))?;
        let key = (a.min(b), a.max(b), scatter);
        if let Some(known) = self.lock().get(key) {
            return Some(known);
        }
        let (low, high) = (self.gear(key.0)?, self.gear(key.1)?);
        let level = (0.0, 0.0);
        let ways = ways([&low.pattern, &high.pattern], *self.scatters.get(scatter)?, level);
        let mut tables = self.lock();
        let bytes = tables.bytes.clone();
        // Cells are built on first use, so that empty tables cost little under the lock.
        let built = || ways.into_iter().map(|(pair, _)| ScatterTable::counted(pair, &bytes)).collect();
        let now = tables.uses;
        Some(Arc::clone(&tables.latest.entry(key).or_insert_with(|| (built(), now)).0))
    }

    fn lock(&self) -> MutexGuard<'_, Tables> {
        self.tables.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The highest gain at which neighbours with the same option stay within tolerance everywhere in a band. None without neighbours,
    /// and once the work is cancelled.
    pub(super) fn highest_gain(
        &self,
        option: usize,
        band: &Band,
        around: &Neighbourhood,
        recessed: bool,
    ) -> Option<Found> {
        let mut received = Received::new();
        let confirmer = &self.gear(option)?.confirmer;
        let least = band.least(|sample| self.least_gain(&mut received, (option, confirmer), sample, around, recessed));
        least.map(|(gain, sample)| Found { gain, depth: Metres::new(sample.depth), bottom: sample.bottom, sample })
    }

    /// The same at one sample.
    pub(super) fn gain_at(&self, option: usize, sample: Sample, hut: &LaidOutShelter) -> Option<f64> {
        let own = &self.gear(option)?.confirmer;
        self.least_gain(&mut Received::new(), (option, own), sample, &hut.neighbourhood, hut.recessed)
    }

    fn least_gain(
        &self,
        received: &mut Received,
        (option, confirmer): (usize, &Arc<Confirmer>),
        sample: Sample,
        around: &Neighbourhood,
        recessed: bool,
    ) -> Option<f64> {
        let threshold = self.gear(option)?.threshold;
        let mut least = f64::INFINITY;
        received.clear();
        self.listen(received, (option, option), confirmer, sample, &around.distances, recessed)?;
        for view in &around.views {
            received.gather(&view.neighbours);
            least = least.min(threshold - received.critical_level(self.tolerance)?.get());
        }
        least.is_finite().then_some(least)
    }

    /// What units of some kinds at some distances do to a unit of `option`. None once the work is cancelled.
    pub(super) fn mixture(
        &self,
        option: usize,
        kinds: &[usize],
        sample: Sample,
        distances: &[f64],
        recessed: bool,
    ) -> Option<Mixture> {
        let mut sums = Vec::with_capacity(kinds.len());
        for kind in kinds {
            let mut sum = Received::new();
            self.hear(&mut sum, (option, *kind), sample, distances, recessed)?;
            sums.push(sum);
        }
        Some(Mixture::new(Arc::clone(&self.gear(option)?.confirmer), sums, distances.len()))
    }

    /// The highest gain of `option` at one sample, at most `most`, when each neighbour has whichever of some kinds shows most; to a hundredth of a
    /// decibel, and none at all where not even `least` fits.
    pub(super) fn mixed_gain(
        &self,
        (option, kinds): (usize, &[usize]),
        sample: Sample,
        hut: &LaidOutShelter,
        range: (f64, f64),
    ) -> Option<f64> {
        let threshold = self.gear(option)?.threshold;
        let Neighbourhood { distances, views } = &hut.neighbourhood;
        let mixture = self.mixture(option, kinds, sample, distances, hut.recessed)?;
        let fits = |gain: f64| {
            let silence = mixture.silence(Level::new(threshold - gain), kinds.len());
            views.iter().all(|view| mixture.drawn(&silence, &view.neighbours, None) <= self.tolerance)
        };
        Some(highest(range, fits))
    }

    pub(super) fn tolerance(&self) -> f64 {
        self.tolerance
    }

    pub(super) fn option_count(&self) -> usize {
        self.patterns.len()
    }

    /// How the display of an option confirms marks of another.
    fn confirmer(&self, option: usize, other: usize) -> Option<Arc<Confirmer>> {
        let (own, foreign) = (self.gear(option)?, self.gear(other)?);
        let like = |index: usize, alike: &dyn Fn(&PreparedOption) -> bool| {
            (0..index).find(|known| self.gear(*known).is_some_and(alike)).unwrap_or(index)
        };
        let key = (
            like(option, &|known| known.timing == own.timing && known.confirmation == own.confirmation),
            like(other, &|known| known.timing == foreign.timing),
        );
        let mut known = self.confirmers.lock().unwrap_or_else(PoisonError::into_inner);
        let made = || Arc::new(confirmer(own.timing, foreign.timing, own.confirmation));
        Some(Arc::clone(known.entry(key).or_insert_with(made)))
    }

    /// The same gain as [`Self::highest_gain`] if the option's marks were confirmed and its pings jittered.
    pub(super) fn confirmed_gain(
        &self,
        option: usize,
        confirmation: Confirmation,
        band: &Band,
        around: &Neighbourhood,
        recessed: bool,
    ) -> Option<f64> {
        let own = self.gear(option)?;
        let jittered = Timing { jitter: own.timing.jitter.max(PROPOSED_JITTER), ..own.timing };
        let confirmer = Arc::new(confirmer(jittered, jittered, confirmation));
        let mut received = Received::new();
        let least = band.least(|sample| self.least_gain(&mut received, (option, &confirmer), sample, around, recessed));
        least.map(|(gain, _)| gain)
    }

    /// Adds neighbours of `other` at some distances to what a unit of `option` receives.
    pub(super) fn hear(
        &self,
        received: &mut Received,
        (option, other): (usize, usize),
        sample: Sample,
        distances: &[f64],
        recessed: bool,
    ) -> Option<()> {
        let confirmer = self.confirmer(option, other)?;
        self.listen(received, (option, other), &confirmer, sample, distances, recessed)
    }

    /// The same with another confirmation.
    fn listen(
        &self,
        received: &mut Received,
        (option, other): (usize, usize),
        confirmer: &Arc<Confirmer>,
        sample: Sample,
        distances: &[f64],
        recessed: bool,
    ) -> Option<()> {
        self.cancel.check().ok()?;
        let (own, foreign) = (self.gear(option)?, self.gear(other)?);
        let tables = self.tables(option, other, shape_of(sample.bottom))?;
        let Case { place, absorption, .. } = self.ground.case(sample.spot, other)?;
        let absorption = DbPerMetre::new(absorption);
        let level = foreign.source + if foreign.from_power { place.watt_level } else { 0.0 };
        let louder = if other < self.listed { 0.0 } else { CLASS_LEVEL_SPREAD.get() };
        let source = SourceLevel::new(level + louder);
        let (loss, pulse) = own.hears(foreign);
        for distance in distances {
            let spacing = Metres::new(*distance);
            for (way, table) in tables.iter().enumerate() {
                let (talker, listener) = (table.pair().talker(), table.pair().listener());
                let link = Link {
                    scatter: table,
                    bottom_shift: shape_of(sample.bottom).reflection_loss() - sample.bottom.reflection_loss(),
                    spacing,
                    depth: Metres::new(sample.depth),
                    speed: MetresPerSecond::new(place.speed),
                    absorption,
                    source,
                    pulse,
                    confirmer,
                    band_loss: loss,
                    direct: (!recessed).then(|| direct_level(source, talker, listener, spacing, absorption)),
                    bounce_loss: foreign.ice_loss + sample.bottom.reflection_loss(),
                };
                if way == 0 { received.add(&link) } else { received.or(&link) }
            }
        }
        Some(())
    }
}

/// The highest gain that fits, from the least to the most, to a hundredth of a decibel; no gain at all where the least does not.
pub(super) fn highest((least, most): (f64, f64), fits: impl Fn(f64) -> bool) -> f64 {
    if fits(most) {
        return most;
    }
    if !fits(least) {
        return f64::NEG_INFINITY;
    }
    let (mut good, mut bad) = (least, most);
    while bad - good > STEP {
        let middle = 0.5 * (good + bad);
        if fits(middle) { good = middle } else { bad = middle }
    }
    good
}

/// Confirmations that are proposed where a sensor offers none or less.
pub(super) fn confirmations() -> [Confirmation; 2] {
    [Confirmation { marks: 2, pings: 3 }, Confirmation { marks: 3, pings: 5 }]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_densest_packing_has_six_neighbours_then_six_more() {
        let around = lattice(20, 2.0);
        assert_eq!(around.len(), 19);
        let at = |index: usize| around[index];
        for index in 0..6 {
            assert!((at(index) - 2.0).abs() < 1.0e-12);
        }
        for index in 6..12 {
            assert!((at(index) - 2.0 * 3.0_f64.sqrt()).abs() < 1.0e-12);
        }
        for index in 12..18 {
            assert!((at(index) - 4.0).abs() < 1.0e-12);
        }
    }
}
