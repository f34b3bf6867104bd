//! Neighbours of any option around a unit of any option: the highest gain that they leave.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use acoustics::ModelError;
use acoustics::bottom::{BistaticScatter, ICE_UNDERSIDE_LOSS};
use acoustics::interference::{
    Link, Received, ScatterTable, band_loss, direct_level, pings_independent, tolerated_probability,
};
use acoustics::units::{Db, DbPerMetre, Level, Metres, MetresPerSecond, Seconds, SourceLevel};

use super::site::{Band, Sample};
use crate::PlanningError;
use crate::domain::{BottomClass, Confirmation, Fault, FaultReason, Point, Shelter};
use crate::selection::{Case, Gear, Prepared, shape_of};

/// How finely a gain is found, dB.
const STEP: f64 = 0.01;
/// Two spacings nearer than this are one, m: finer than a hole is drilled, coarser than the search for a layout leaves them.
const SAME: f64 = 1.0e-4;

/// A shelter with its holes, as its units see each other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hut {
    pub(super) holes: Vec<Point>,
    /// Distances to the others from each hole, nearest first; holes whose neighbours are equally far stand once.
    pub(super) around: Vec<Vec<f64>>,
    pub(super) recessed: bool,
}

impl Hut {
    pub(super) fn new(shelter: &Shelter, holes: Vec<Point>) -> Self {
        let around = distinct(&holes);
        Self { holes, around, recessed: shelter.transducers_recessed }
    }

    pub(super) fn people(&self) -> u32 {
        u32::try_from(self.holes.len()).unwrap_or(u32::MAX)
    }
}

/// Distances to the others from every hole, but for holes whose neighbours are equally far as those of one before. A farther
/// neighbour is not always the quieter one, as beams have side lobes and nulls, so that no other hole can be left out.
fn distinct(holes: &[Point]) -> Vec<Vec<f64>> {
    let alike = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < SAME);
    let mut found: Vec<Vec<f64>> = Vec::new();
    for mine in (0..holes.len()).map(|hole| distances(holes, hole)).filter(|mine| !mine.is_empty()) {
        if !found.iter().any(|known| alike(known, &mine)) {
            found.push(mine);
        }
    }
    found
}

/// Distances from one hole to all others, nearest first.
fn distances(holes: &[Point], hole: usize) -> Vec<f64> {
    let Some(own) = holes.get(hole) else { return Vec::new() };
    let mut found: Vec<f64> = holes
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != hole)
        .map(|(_, point)| libm::hypot(point.x.get() - own.x.get(), point.y.get() - own.y.get()))
        .collect();
    found.sort_by(f64::total_cmp);
    found
}

/// Distances from the middle of the densest packing of that many holes: a triangular lattice, nearest first.
pub(super) fn densest(people: u32, spacing: f64) -> Vec<f64> {
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

/// Listening option, neighbours' option, and the bottom that their scattering has the shape of.
type TableKey = (usize, usize, BottomClass);

/// What units of any two options do to each other; scatter tables are built when a pair is first asked for, and shared.
pub(super) struct Neighbours<'a> {
    ground: &'a Prepared,
    tolerance: f64,
    tables: Mutex<BTreeMap<TableKey, Arc<ScatterTable>>>,
}

impl<'a> Neighbours<'a> {
    /// Over prepared stand-in spots; the tables of each option with itself are checked at once, so that none fails later.
    pub(super) fn new(ground: &'a Prepared, tolerance: f64) -> Result<Self, PlanningError> {
        let made = Self { ground, tolerance, tables: Mutex::new(BTreeMap::new()) };
        let mut faults = Vec::new();
        for option in 0..ground.option_count() {
            for bottom in ground.bottoms() {
                if let Err(error) = made.table((option, option, shape_of(*bottom))) {
                    let text = format!("options[{option}] leaves what the models cover: {error}; leave it out");
                    faults.push(Fault::new(format!("options[{option}]"), FaultReason::OutOfRange, text));
                }
            }
        }
        if faults.is_empty() { Ok(made) } else { Err(PlanningError::Faults(faults)) }
    }

    pub(super) fn gear(&self, option: usize) -> Option<&Gear> {
        self.ground.gear(option)
    }

    fn table(&self, (listener, talker, shape): TableKey) -> Result<Arc<ScatterTable>, ModelError> {
        // What one sends and the other hears is the same the other way round, at one frequency.
        let alike =
            matches!((self.gear(listener), self.gear(talker)), (Some(a), Some(b)) if a.frequency == b.frequency);
        let key = if alike { (listener.min(talker), listener.max(talker), shape) } else { (listener, talker, shape) };
        let known = self.tables.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        if let Some(table) = known {
            return Ok(table);
        }
        let (listener, talker, shape) = key;
        let (Some(listener), Some(talker)) = (self.gear(listener), self.gear(talker)) else {
            return Err(ModelError::BadTable { model: "scatter between neighbours", needs: "two known options" });
        };
        let scatter = BistaticScatter::new(shape, talker.frequency)?;
        let table = Arc::new(ScatterTable::new(talker.plane.clone(), listener.plane.clone(), scatter));
        let mut tables = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(tables.entry(key).or_insert(table).clone())
    }

    /// The highest gain at which neighbours with the same option stay within tolerance everywhere in a band; `around` are
    /// the distances from each hole to judge. None without neighbours.
    pub(super) fn highest_gain(
        &self,
        option: usize,
        band: &Band,
        around: &[Vec<f64>],
        recessed: bool,
    ) -> Option<Found> {
        let mut received = Received::new();
        let least = band.least(|sample| self.least_gain(&mut received, option, sample, around, recessed));
        least.map(|(gain, sample)| Found { gain, depth: Metres::new(sample.depth), bottom: sample.bottom, sample })
    }

    /// The same at one sample.
    pub(super) fn gain_at(&self, option: usize, sample: Sample, hut: &Hut) -> Option<f64> {
        self.least_gain(&mut Received::new(), option, sample, &hut.around, hut.recessed)
    }

    fn least_gain(
        &self,
        received: &mut Received,
        option: usize,
        sample: Sample,
        around: &[Vec<f64>],
        recessed: bool,
    ) -> Option<f64> {
        let Gear { threshold, tolerated, .. } = *self.gear(option)?;
        let mut least = f64::INFINITY;
        for distances in around.iter().filter(|distances| !distances.is_empty()) {
            self.listen(received, (option, option), sample, distances, recessed)?;
            least = least.min(threshold - received.critical_level(tolerated)?.get());
        }
        least.is_finite().then_some(least)
    }

    /// The highest gain of `option` at one sample, from `start` to `most`, when each neighbour has this option or `other`,
    /// whichever is worse. None where not even `start` is possible.
    pub(super) fn mixed_gain(
        &self,
        (option, other): (usize, usize),
        sample: Sample,
        hut: &Hut,
        (start, most): (f64, f64),
    ) -> Option<f64> {
        let (own, foreign) = (self.gear(option)?, self.gear(other)?);
        let tolerated = self.tolerated(own, foreign);
        let (mut same, mut mixed) = (Received::new(), Received::new());
        let mut least = most;
        for distances in hut.around.iter().filter(|distances| !distances.is_empty()) {
            self.listen(&mut same, (option, option), sample, distances, hut.recessed)?;
            self.listen(&mut mixed, (option, other), sample, distances, hut.recessed)?;
            let share = |received: &Received, neighbour: usize, interval: f64, level: f64| {
                (received.time_above(neighbour, Level::new(level)).get() / interval).min(1.0)
            };
            // The exact product, each neighbour with the option that is heard longer.
            let fits = |gain: f64| {
                let level = own.threshold - gain;
                let none = (0..distances.len()).fold(1.0, |none, neighbour| {
                    let worse = share(&same, neighbour, own.interval, level).max(share(
                        &mixed,
                        neighbour,
                        foreign.interval,
                        level,
                    ));
                    none * (1.0 - worse)
                });
                1.0 - none <= tolerated
            };
            if !fits(start) {
                return None;
            }
            if !fits(least) {
                least = highest(start, least, fits);
            }
        }
        Some(least)
    }

    /// The fraction of one ping that is tolerated where both options are around: confirmation counts only if it helps
    /// against either.
    fn tolerated(&self, own: &Gear, foreign: &Gear) -> f64 {
        let Confirmation { marks, pings } = own.confirmation;
        let steady = |gear: &Gear| (Seconds::new(gear.interval), gear.jitter);
        let helps = own.independent && pings_independent(steady(own), steady(foreign), foreign.pulse());
        if helps { tolerated_probability(self.tolerance, marks, pings) } else { self.tolerance }
    }

    /// The same gain as [`Self::highest_gain`] if the option's marks were confirmed and its pings jittered.
    pub(super) fn confirmed_gain(
        &self,
        option: usize,
        confirmation: Confirmation,
        found: &Found,
        around: &[Vec<f64>],
        recessed: bool,
    ) -> Option<f64> {
        let tolerated = tolerated_probability(self.tolerance, confirmation.marks, confirmation.pings);
        let mut received = Received::new();
        let mut least = f64::INFINITY;
        for distances in around {
            self.listen(&mut received, (option, option), found.sample, distances, recessed)?;
            least = least.min(self.gear(option)?.threshold - received.critical_level(tolerated)?.get());
        }
        least.is_finite().then_some(least)
    }

    /// Fills `received` with neighbours of `other` at some distances around a unit of `option`.
    fn listen(
        &self,
        received: &mut Received,
        (option, other): (usize, usize),
        sample: Sample,
        distances: &[f64],
        recessed: bool,
    ) -> Option<()> {
        received.clear();
        let (own, foreign) = (self.gear(option)?, self.gear(other)?);
        let table = self.table((option, other, shape_of(sample.bottom))).ok()?;
        let Case { place, absorption, .. } = self.ground.case(sample.spot, other)?;
        let absorption = DbPerMetre::new(absorption);
        let level = foreign.source + if foreign.from_power { place.watt_level } else { 0.0 };
        let source = SourceLevel::new(level);
        let loss = if option == other {
            Db::new(0.0)
        } else {
            let (pulse, receiver) = (foreign.pulse(), own.receiver_bandwidth);
            band_loss(foreign.frequency, pulse, foreign.sweep, own.frequency, receiver)
        };
        let mut before = f64::NEG_INFINITY;
        for distance in distances {
            if distance - before < SAME {
                received.repeat_last();
                continue;
            }
            before = *distance;
            let spacing = Metres::new(*distance);
            received.add(&Link {
                table: &table,
                bottom_shift: shape_of(sample.bottom).reflection_loss() - sample.bottom.reflection_loss(),
                spacing,
                depth: Metres::new(sample.depth),
                speed: MetresPerSecond::new(place.speed),
                absorption,
                source,
                pulse: foreign.pulse(),
                interval: Seconds::new(foreign.interval),
                band_loss: loss,
                direct: (!recessed).then(|| direct_level(source, &foreign.plane, &own.plane, spacing, absorption)),
                bounce_loss: ICE_UNDERSIDE_LOSS + sample.bottom.reflection_loss(),
            });
        }
        Some(())
    }
}

/// The highest gain that fits, to a hundredth of a decibel, between one that does and one that does not.
fn highest(mut good: f64, mut bad: f64, fits: impl Fn(f64) -> bool) -> f64 {
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
    fn holes_farther_from_their_neighbours_are_judged_too() {
        // Three in a line: the ends see 1 and 2 m, the middle twice 1 m. Nothing is left out but the second end, which sees what the first does.
        let at = |x: f64| Point { x: Metres::new(x), y: Metres::new(0.0) };
        let line = [at(0.0), at(1.0), at(2.0)];
        let mut seen: Vec<Vec<f64>> = (0..line.len()).map(|hole| distances(&line, hole)).collect();
        assert_eq!(seen, [vec![1.0, 2.0], vec![1.0, 1.0], vec![1.0, 2.0]]);
        seen.truncate(2);
        assert_eq!(distinct(&line), seen);
    }

    #[test]
    fn the_densest_packing_has_six_neighbours_then_six_more() {
        let around = densest(20, 2.0);
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
