//! Seats: who takes which hole with which of the options that are open to them, and how far the gain of each may go up.
//!
//! First everybody who can works: the lure shows, and marks of neighbours stay within tolerance. Then the least headroom is greatest: what lies
//! between the gain at which the lure shows and the one at which neighbours do. The search ([`super::seating`]) looks at some depths and bottoms of
//! the band; what comes out is judged over all of them, and where one is worse than those that were looked at, it is taken along and the search done
//! again.

use std::collections::BTreeMap;

use acoustics::interference::Received;
use acoustics::units::{Db, Level};
use domain::selection::OptionRef;
use domain::setting::Setting;
use domain::{BottomClass, Cancel, Fault, FaultReason, HolePlan, Point, Sensor, Shelter, Target};

use super::neighbours::{LaidOutShelter, Neighbours, highest};
use super::seating::{Looks, Search, Taken, seat};
use super::setting::set_for;
use super::site::{Band, Sample, bands, run};
use super::types::{DepthBand, RulesInput, RulesSettings};
use crate::PlanningError;
use crate::layout::Layouts;
use crate::selection::Prepared;

/// Most people that are seated at once.
pub const MOST_SEATED: usize = 24;
/// How finely the least headroom is found, dB.
const STEP: f64 = 0.25;
/// Headroom beyond which more is not looked for, dB.
const PLENTY: f64 = 40.0;
/// What a headroom may lack when all depths are judged, dB: less than a hand can set.
const SLACK: f64 = 0.05;
/// How often depths are taken along.
const ROUNDS: usize = 6;
/// Up to so many people every way to leave somebody out is tried; beyond, one after the other is added where there is room.
const EVERY_WAY: usize = 10;
/// Looks from one unit at another that one search takes, and all searches for whom to leave out together: some seconds.
const LOOKS: (u32, u32) = (500_000, 3_000_000);

/// Whom to seat, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatsInput {
    /// The shelter, with at least as many holes as people; laid out for them where it has none drilled.
    pub shelter: Shelter,
    /// Sensors that the options belong to.
    pub sensors: Vec<Sensor>,
    /// Options of the units that people bring.
    pub options: Vec<OptionRef>,
    /// By person: places among the options, the dearest to them first.
    pub people: Vec<Vec<usize>>,
    /// Depths under the shelter.
    pub band: DepthBand,
    /// Bottoms that may lie under it.
    pub bottoms: Vec<BottomClass>,
    /// The lure that must show.
    pub lure: Target,
    /// Settings; what stands around the shelter is not asked.
    pub settings: RulesSettings,
    /// Whether all must have the same option.
    pub terms: Terms,
}

/// What one may have that another has not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Terms {
    /// Each has what is best for all.
    #[default]
    Free,
    /// All have the same option.
    Alike,
}

/// Who sits where.
#[derive(Debug, Clone, PartialEq)]
pub struct Seats {
    /// The holes.
    pub holes: Vec<Point>,
    /// Those who have a seat, in the order of the input.
    pub seats: Vec<Seat>,
    /// Those who have none.
    pub unseated: Vec<Unseated>,
    /// Least headroom of those whom neighbours limit; none where they show to nobody at any gain.
    pub least_headroom: Option<Db>,
    /// No arrangement of as many people has more than this; none where that is proven of what was found.
    pub bound: Option<Db>,
    /// The best that is had where all have the same option; none where there is no such option for so many.
    pub alike: Option<AllAlike>,
}

/// A seat.
#[derive(Debug, Clone, PartialEq)]
pub struct Seat {
    /// Place among the people.
    pub person: usize,
    /// Place among the holes.
    pub hole: usize,
    /// Place among the options.
    pub option: usize,
    /// Gain at which the lure shows at every depth.
    pub start_gain: Db,
    /// Gain up to which the neighbours, seated as here, stay within tolerance; at most the greatest of the sensor.
    pub highest_gain: Db,
    /// How it is set by hand.
    pub setting: Setting,
}

/// Somebody without a seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unseated {
    /// Place among the people.
    pub person: usize,
    /// Why.
    pub why: WhyNot,
}

/// Why somebody has no seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyNot {
    /// No option of theirs shows the lure at every depth, even alone.
    Reach,
    /// There is no arrangement with them in which everybody works.
    Neighbours,
    /// None was found; that there is none is not proven.
    NotFound,
}

/// Everybody with the same option.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllAlike {
    /// Place among the options.
    pub option: usize,
    /// Least headroom; none where neighbours show to nobody at any gain.
    pub least_headroom: Option<Db>,
}

impl SeatsInput {
    /// As rules are derived from it.
    fn rules(&self) -> RulesInput {
        RulesInput {
            shelters: vec![self.shelter.clone()],
            sensors: self.sensors.clone(),
            options: self.options.clone(),
            unlisted: Vec::new(),
            bands: vec![self.band],
            bottoms: self.bottoms.clone(),
            lure: self.lure.clone(),
            settings: RulesSettings { next_shelter: None, ..self.settings },
        }
    }

    /// Every fault at once, with field paths of the public API.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = self.rules().check();
        for fault in &mut faults {
            for text in [&mut fault.field, &mut fault.message] {
                *text = text.replace("shelters[0]", "shelter").replace("bands[0]", "band");
            }
        }
        if self.people.is_empty() || self.people.len() > MOST_SEATED {
            let text =
                format!("people are {}; accepted: 1 to {MOST_SEATED}; seat more in another shelter", self.people.len());
            faults.push(Fault::new("people", FaultReason::OutOfRange, text));
        }
        for (person, choice) in self.people.iter().enumerate() {
            if choice.is_empty() {
                let text = "it brings no option; accepted: one or more; say what unit it brings";
                faults.push(Fault::new(format!("people[{person}].options"), FaultReason::Missing, text));
            }
        }
        if let HolePlan::Drilled(holes) = &self.shelter.holes
            && holes.len() < self.people.len()
        {
            let text = format!(
                "people are {}, and the shelter has {} holes; accepted: as many as it has holes; drill more, or seat fewer",
                self.people.len(),
                holes.len()
            );
            faults.push(Fault::new("people", FaultReason::Contradiction, text));
        }
        faults
    }
}

/// Seats people.
///
/// # Errors
/// Every fault of the input at once, a shelter too small for its people included; or the work is cancelled.
pub fn seats(input: &SeatsInput, cancel: &Cancel) -> Result<Seats, PlanningError> {
    let mut faults = input.check();
    let count = u32::try_from(input.people.len()).unwrap_or(u32::MAX);
    let holes = match &input.shelter.holes {
        HolePlan::Drilled(_) => input.shelter.holes.clone(),
        HolePlan::Party(_) => HolePlan::Party(count),
    };
    let shelter = Shelter { holes, ..input.shelter.clone() };
    let laid = if faults.is_empty() { Some(Layouts::default().holes(&shelter, cancel)) } else { None };
    let holes = match laid {
        Some(Ok(holes)) => holes,
        Some(Err(error)) => {
            cancel.check()?;
            faults.push(Fault::new("shelter", FaultReason::Contradiction, error.to_string()));
            return Err(PlanningError::Faults(faults));
        }
        None => return Err(PlanningError::Faults(faults)),
    };
    let rules = input.rules();
    let ground = Prepared::new(&run(&rules), cancel)?;
    let band = bands(&rules, &ground, cancel)?.into_iter().next();
    let Some(band) = band else { return Err(PlanningError::Faults(Vec::new())) };
    let neighbours = Neighbours::new(&ground, input.options.len(), input.settings.tolerance, cancel)?;
    let hut = LaidOutShelter::new(&shelter, holes);
    Seating { input, band: &band, neighbours: &neighbours, hut: &hut, cancel }.solve()
}

/// A search under way.
struct Seating<'a> {
    input: &'a SeatsInput,
    band: &'a Band,
    neighbours: &'a Neighbours<'a>,
    hut: &'a LaidOutShelter,
    cancel: &'a Cancel,
}

/// An arrangement of some people with its least headroom.
struct Arrangement {
    taken: Vec<Taken>,
    headroom: f64,
    /// The headroom that is proven to be out of reach, where the search ended in time.
    beyond: f64,
}

impl Seating<'_> {
    fn solve(&self) -> Result<Seats, PlanningError> {
        // By person the options with which the lure shows at every depth.
        let choices: Vec<Vec<usize>> = self
            .input
            .people
            .iter()
            .map(|choice| choice.iter().copied().filter(|option| self.reaches(*option)).collect())
            .collect();
        let able: Vec<usize> =
            (0..choices.len()).filter(|person| choices.get(*person).is_some_and(|c| !c.is_empty())).collect();
        let mut samples: Vec<Sample> = self.band.coarse().collect();
        let alike = self.alike(&choices, &able, &mut samples)?;
        let (party, proven) = self.party(&choices, &able, &mut samples)?;
        let found = self.best_of(&choices, &party, &mut samples)?.filter(|_| !party.is_empty());
        let (party, proven) = if found.is_some() { (party, proven) } else { (Vec::new(), proven && party.is_empty()) };
        let unseated = (0..choices.len()).filter(|person| !party.contains(person)).map(|person| {
            let why = match (able.contains(&person), proven) {
                (false, _) => WhyNot::Reach,
                (true, true) => WhyNot::Neighbours,
                (true, false) => WhyNot::NotFound,
            };
            Unseated { person, why }
        });
        let unseated = unseated.collect();
        let holes = self.hut.holes.clone();
        let Some(best) = found else {
            return Ok(Seats { holes, seats: Vec::new(), unseated, least_headroom: None, bound: None, alike });
        };
        let mut seats = Vec::with_capacity(party.len());
        for (person, own) in party.iter().zip(&best.taken) {
            seats.extend(self.seat(*person, *own, &best.taken)?);
        }
        let limited = seats.iter().filter(|seat| {
            self.neighbours.gear(seat.option).is_some_and(|gear| seat.highest_gain.get() < gear.max_gain)
        });
        let least = limited.map(|seat| (seat.highest_gain - seat.start_gain).get()).reduce(f64::min);
        Ok(Seats {
            holes,
            seats,
            unseated,
            least_headroom: least.map(Db::new),
            bound: (least.is_some() && best.beyond - best.headroom > 2.0 * STEP).then(|| Db::new(best.beyond)),
            alike,
        })
    }

    /// Whether the lure shows with an option at every depth.
    fn reaches(&self, option: usize) -> bool {
        let most = self.neighbours.gear(option).map(|gear| gear.max_gain);
        self.band.start_gain(option).zip(most).is_some_and(|(start, most)| start <= most)
    }

    /// Who can be seated together: as many as can, of as many those who stand first. And whether it is proven that no more can.
    fn party(
        &self,
        choices: &[Vec<usize>],
        able: &[usize],
        samples: &mut Vec<Sample>,
    ) -> Result<(Vec<usize>, bool), PlanningError> {
        let mut looks = Looks(LOOKS.1);
        let mut proven = true;
        if able.len() <= EVERY_WAY {
            let mut tried: Vec<Vec<&Vec<usize>>> = Vec::new();
            for left_out in 0..=able.len() {
                for out in subsets(able.len(), left_out) {
                    let here: Vec<usize> = able
                        .iter()
                        .enumerate()
                        .filter(|(at, _)| !out.contains(at))
                        .map(|(_, person)| *person)
                        .collect();
                    // Who leaves out somebody with the same choice leaves out the same.
                    let mut kinds: Vec<&Vec<usize>> = here.iter().filter_map(|person| choices.get(*person)).collect();
                    kinds.sort();
                    if tried.contains(&kinds) {
                        continue;
                    }
                    match self.seatable(choices, &here, samples, &mut looks)? {
                        Search::Found(_) => return Ok((here, proven)),
                        Search::Impossible => tried.push(kinds),
                        Search::GaveUp => proven = false,
                    }
                }
            }
        } else if matches!(self.seatable(choices, able, samples, &mut looks)?, Search::Found(_)) {
            return Ok((able.to_vec(), true));
        }
        let mut here = Vec::new();
        let mut looks = Looks(LOOKS.1);
        for person in able {
            here.push(*person);
            if !matches!(self.seatable(choices, &here, samples, &mut looks)?, Search::Found(_)) {
                here.pop();
            }
        }
        Ok((here, false))
    }

    /// Whether some people can sit together under the terms.
    fn seatable(
        &self,
        choices: &[Vec<usize>],
        party: &[usize],
        samples: &mut Vec<Sample>,
        looks: &mut Looks,
    ) -> Result<Search, PlanningError> {
        let mut ended = Search::Impossible;
        for open in self.open(choices, party) {
            match self.sound(&open, 0.0, samples, looks)? {
                Ok(found) => return Ok(Search::Found(found)),
                Err(Search::GaveUp) => ended = Search::GaveUp,
                Err(Search::Impossible | Search::Found(_)) => {}
            }
        }
        Ok(ended)
    }

    /// What people may choose from under the terms: all that each may have, or one option that all may have after the other.
    fn open(&self, choices: &[Vec<usize>], party: &[usize]) -> Vec<Vec<Vec<usize>>> {
        let own: Vec<Vec<usize>> = party.iter().filter_map(|person| choices.get(*person).cloned()).collect();
        match self.input.terms {
            Terms::Free => vec![own],
            Terms::Alike if own.is_empty() => vec![own],
            Terms::Alike => {
                let first = own.first().cloned().unwrap_or_default();
                let common = first.into_iter().filter(|option| own.iter().all(|choice| choice.contains(option)));
                common.map(|option| vec![vec![option]; own.len()]).collect()
            }
        }
    }

    /// The best with one option for all, of those that all may have.
    fn alike(
        &self,
        choices: &[Vec<usize>],
        able: &[usize],
        samples: &mut Vec<Sample>,
    ) -> Result<Option<AllAlike>, PlanningError> {
        let first = able.first().and_then(|person| choices.get(*person)).map_or(&[] as &[usize], Vec::as_slice);
        let mut best: Option<AllAlike> = None;
        for option in first.iter().filter(|option| choices.iter().all(|choice| choice.contains(option))) {
            let same = vec![vec![*option]; able.len()];
            let Some(found) = self.maximal(&same, samples)? else { continue };
            let headroom = (found.headroom < PLENTY - STEP).then(|| Db::new(found.headroom));
            let better = |known: &AllAlike| match (known.least_headroom, headroom) {
                (None, _) => false,
                (Some(_), None) => true,
                (Some(known), Some(here)) => known < here,
            };
            if best.as_ref().is_none_or(better) {
                best = Some(AllAlike { option: *option, least_headroom: headroom });
            }
        }
        Ok(best.filter(|_| able.len() > 1))
    }

    /// The best arrangement of some people under the terms; none where there is none.
    fn best_of(
        &self,
        choices: &[Vec<usize>],
        party: &[usize],
        samples: &mut Vec<Sample>,
    ) -> Result<Option<Arrangement>, PlanningError> {
        let mut best: Option<Arrangement> = None;
        for open in self.open(choices, party) {
            if let Some(found) = self.maximal(&open, samples)?
                && best.as_ref().is_none_or(|known| known.headroom < found.headroom)
            {
                best = Some(found);
            }
        }
        Ok(best)
    }

    /// The arrangement with the greatest least headroom; none where there is none, or none was found.
    fn maximal(&self, choices: &[Vec<usize>], samples: &mut Vec<Sample>) -> Result<Option<Arrangement>, PlanningError> {
        let Ok(mut best) = self.sound(choices, 0.0, samples, &mut Looks(LOOKS.1))? else { return Ok(None) };
        // Between what is found and what is proven to be out of reach.
        let (mut headroom, mut out, mut beyond) = (0.0, PLENTY, PLENTY);
        while out - headroom > STEP {
            let middle = 0.5 * (headroom + out);
            match self.sound(choices, middle, samples, &mut Looks(LOOKS.0))? {
                Ok(found) => (best, headroom) = (found, middle),
                Err(ended) => {
                    out = middle;
                    if ended == Search::Impossible {
                        beyond = middle;
                    }
                }
            }
        }
        Ok(Some(Arrangement { taken: best, headroom, beyond }))
    }

    /// An arrangement in which each has so much headroom at every depth, or as far as the gain goes.
    fn sound(
        &self,
        choices: &[Vec<usize>],
        headroom: f64,
        samples: &mut Vec<Sample>,
        looks: &mut Looks,
    ) -> Result<Result<Vec<Taken>, Search>, PlanningError> {
        for _ in 0..ROUNDS {
            let mut table = Silences::new(self, headroom, samples);
            let mut quiet = |own: Taken, others: &[Taken]| table.quiet(own, others);
            let found = match seat(choices, self.hut.holes.len(), &mut quiet, (&mut *looks, self.cancel))? {
                Search::Found(found) => found,
                ended @ (Search::Impossible | Search::GaveUp) => return Ok(Err(ended)),
            };
            let mut worse = Vec::new();
            for own in &found {
                let wanted = self.wanted(own.kind, headroom);
                if let Some((gain, at)) = self.highest(*own, &found)?
                    && gain < wanted - SLACK
                    && !samples.contains(&at)
                {
                    worse.push(at);
                }
            }
            if worse.is_empty() {
                return Ok(Ok(found));
            }
            samples.extend(worse);
        }
        Ok(Err(Search::GaveUp))
    }

    /// The gain at which an option must not be disturbed.
    fn wanted(&self, option: usize, headroom: f64) -> f64 {
        let start = self.band.start_gain(option).unwrap_or(f64::INFINITY);
        (start + headroom).min(self.neighbours.gear(option).map_or(f64::INFINITY, |gear| gear.max_gain))
    }

    /// The highest gain of one among the others over the whole band, and where; none without others.
    fn highest(&self, own: Taken, all: &[Taken]) -> Result<Option<(f64, Sample)>, PlanningError> {
        let Some(gear) = self.neighbours.gear(own.kind) else { return Ok(None) };
        let others: Vec<(usize, f64)> = self.others(own, all);
        if others.is_empty() {
            return Ok(None);
        }
        let range = (-PLENTY, gear.max_gain);
        let found = self.band.least(|sample| {
            let sums = self.heard(own.kind, &others, sample)?;
            let drawn =
                |gain: f64| Received::drawn_by(sums.iter().map(|sum| (sum, 0)), Level::new(gear.threshold - gain));
            Some(highest(range, |gain| drawn(gain) <= self.neighbours.tolerance()))
        });
        self.cancel.check()?;
        Ok(found)
    }

    /// The kind and distance of each other.
    fn others(&self, own: Taken, all: &[Taken]) -> Vec<(usize, f64)> {
        let others = all.iter().filter(|other| other.hole != own.hole);
        others.filter_map(|other| Some((other.kind, self.distance(own.hole, other.hole)?))).collect()
    }

    fn distance(&self, a: usize, b: usize) -> Option<f64> {
        let (a, b) = (self.hut.holes.get(a)?, self.hut.holes.get(b)?);
        Some(libm::hypot(b.x.get() - a.x.get(), b.y.get() - a.y.get()))
    }

    /// What each other sends to a unit at one sample.
    fn heard(&self, option: usize, others: &[(usize, f64)], sample: Sample) -> Option<Vec<Received>> {
        let each = others.iter().map(|(kind, distance)| {
            let mut sum = Received::new();
            self.neighbours.hear(&mut sum, (option, *kind), sample, &[*distance], self.hut.recessed).map(|()| sum)
        });
        each.collect()
    }

    fn seat(&self, person: usize, own: Taken, all: &[Taken]) -> Result<Option<Seat>, PlanningError> {
        let most = self.neighbours.gear(own.kind).map_or(0.0, |gear| gear.max_gain);
        let others = self.others(own, all);
        let highest = self.highest(own, all)?.map_or(most, |(gain, _)| gain);
        let sensor = self.input.options.get(own.kind).and_then(|option| self.input.sensors.get(option.sensor));
        let (Some(start), Some(lure), Some(sensor)) =
            (self.band.start_gain(own.kind), self.band.first_showing(own.kind), sensor)
        else {
            return Ok(None);
        };
        // A hundredth of a decibel under the start is what the search for it leaves.
        let gains = (Db::new(start), Db::new(highest.max(start)));
        let setting = set_for(sensor, Db::new(lure), gains.0, (!others.is_empty()).then_some(gains.1));
        let seat =
            Seat { person, hole: own.hole, option: own.kind, start_gain: gains.0, highest_gain: gains.1, setting };
        Ok(Some(seat))
    }
}

/// What two kinds at two holes are to each other: own kind, other kind, own hole, other hole.
type Sitting = (usize, usize, usize, usize);

/// How silent each kind is to each other at one headroom, worked out when it is first asked for.
struct Silences<'a> {
    seating: &'a Seating<'a>,
    headroom: f64,
    samples: &'a [Sample],
    /// By sample the chances that none of a set of pings shows a mark.
    known: BTreeMap<Sitting, Vec<Vec<f64>>>,
}

impl<'a> Silences<'a> {
    const fn new(seating: &'a Seating<'a>, headroom: f64, samples: &'a [Sample]) -> Self {
        Self { seating, headroom, samples, known: BTreeMap::new() }
    }

    /// Whether a unit is within tolerance among others at every sample that is looked at.
    fn quiet(&mut self, own: Taken, others: &[Taken]) -> bool {
        let Some(confirmer) = self.seating.neighbours.gear(own.kind).map(|gear| &gear.confirmer) else { return false };
        let keys: Vec<Sitting> = others.iter().map(|other| (own.kind, other.kind, own.hole, other.hole)).collect();
        for key in &keys {
            if !self.known.contains_key(key) {
                let row = self.row(*key);
                self.known.insert(*key, row);
            }
        }
        let rows: Vec<&Vec<Vec<f64>>> = keys.iter().filter_map(|key| self.known.get(key)).collect();
        let tolerance = self.seating.neighbours.tolerance();
        (0..self.samples.len()).all(|sample| {
            let mut all = confirmer.silence();
            for row in rows.iter().filter_map(|row| row.get(sample)) {
                all.iter_mut().zip(row).for_each(|(sum, none)| *sum *= none);
            }
            confirmer.drawn(&all) <= tolerance
        })
    }

    fn row(&self, (own, other, here, there): Sitting) -> Vec<Vec<f64>> {
        let seating = self.seating;
        let (Some(gear), Some(distance)) = (seating.neighbours.gear(own), seating.distance(here, there)) else {
            return Vec::new();
        };
        let level = Level::new(gear.threshold - seating.wanted(own, self.headroom));
        let each = self.samples.iter().map(|sample| {
            let heard = seating.heard(own, &[(other, distance)], *sample);
            heard.and_then(|sums| sums.first().map(|sum| sum.silence(0, level))).unwrap_or_default()
        });
        each.collect()
    }
}

/// Every way to leave out so many of so many, those that leave out the last ones first.
fn subsets(of: usize, many: usize) -> Vec<Vec<usize>> {
    if many == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for last in (many - 1..of).rev() {
        for mut rest in subsets(last, many - 1) {
            rest.push(last);
            all.push(rest);
        }
    }
    all
}
