//! Shelter rules: how far apart holes must be, how far gain may go up, how many people fit, and what may be mixed.
//!
//! A rule speaks for a band of depths and for some bottoms at once, so it is derived from the worst of them: the start
//! gain is the most that any depth of the band needs, the highest gain the least that any depth allows. Depths are
//! sampled so closely around the worst (1 % apart) that what lies between differs by less than a tenth of a decibel.
//!
//! Two spacings must not be mixed up. The *highest gain* and the *greatest number of people* belong to one shelter with
//! its own holes. The *least spacing* holds for any arrangement: it is derived for a hole in the middle of the densest
//! packing there is, where six neighbours stand at the least distance, the next six √3 of it away, and so on.
//!
//! A highest gain holds for every party that the rules permit (`mix`), in a shelter that stands alone or with others of its make on all sides
//! (`surrounded`). Least spacing and greatest party are those of a shelter that stands alone, in which all have one option.

mod advice;
mod around;
mod field;
mod mix;
mod mixture;
mod neighbours;
mod seating;
mod seats;
mod setting;
mod site;
mod surrounded;
mod types;

pub use seats::{AllAlike, MOST_SEATED, Seat, Seats, SeatsInput, Terms, Unseated, WhyNot, seats};
pub use types::{
    BandRules, DepthBand, Help, Mix, Refusal, Rule, RuleBook, RulesInput, RulesSettings, Sheet, UnitChoice,
};

use std::collections::BTreeMap;

use acoustics::units::{Db, Metres};
use rayon::prelude::*;

use crate::PlanningError;
use crate::layout::{self, Layouts};
use crate::selection::Prepared;
use domain::area::Area;
use domain::{Cancel, Cancelled, Fault, FaultReason, HolePlan, Shelter};
use mix::Compatible;
use neighbours::{LaidOutShelter, Neighbours};
use site::{Band, Sample, bands};
use surrounded::{Effect, Surrounded};

/// Most people that are tried in one shelter.
const MOST_PEOPLE: u32 = 24;
/// How finely a least spacing is given, m.
const SPACING_STEP: f64 = 0.01;
/// Between these spacings a least one is looked for, m, at first in steps of this ratio.
const SPACINGS: (f64, f64) = (0.2, 40.0);
const SPACING_RATIO: f64 = 1.15;

/// Derives the rules of some shelters, on all threads of the current pool. `cancel` is
/// checked now and then.
///
/// # Errors
/// Every fault of the input at once, a shelter too small for its holes included; or the work is cancelled.
pub fn derive(input: &RulesInput, cancel: &Cancel) -> Result<RuleBook, PlanningError> {
    let (input, listed) = (&input.with_unlisted(), input.options.len());
    let mut faults = input.check();
    let layouts = Layouts::default();
    let huts = huts(&input.shelters, &layouts, &mut faults, cancel);
    cancel.check()?;
    if !faults.is_empty() {
        return Err(PlanningError::Faults(faults));
    }
    let ground = Prepared::new(&site::run(input), cancel)?;
    let bands = bands(input, &ground, cancel)?;
    let neighbours = Neighbours::new(&ground, listed, input.settings.tolerance, cancel)?;
    let bench = RuleContext { input, listed, bands: &bands, neighbours: &neighbours, layouts: &layouts, cancel };
    let spacings = bench.spacings(&huts)?;
    // Shelters of one make and party share their rules.
    let model = |shelter: &Shelter| input.shelters.iter().position(|other| other.is_built_like(shelter));
    let models: Vec<usize> = input.shelters.iter().filter_map(model).collect();
    let alone: Vec<Alone<'_>> = huts
        .par_iter()
        .enumerate()
        .filter(|(index, _)| models.get(*index) == Some(index))
        .map(|(index, hut)| bench.sheet(index, hut, &spacings))
        .collect::<Result<_, PlanningError>>()?;
    let derived = bench.surrounded(alone)?;
    let sheets = models.iter().enumerate().filter_map(|(shelter, model)| {
        let known = derived.iter().find(|sheet| sheet.shelter == *model)?;
        Some(Sheet { shelter, ..known.clone() })
    });
    Ok(RuleBook { sheets: sheets.collect() })
}

/// The rules of a shelter that stands alone, with what they rest on.
struct Alone<'a> {
    sheet: Sheet,
    hut: &'a LaidOutShelter,
    /// By band: the allowed options with what may be mixed with each.
    compatible: Vec<Vec<Compatible>>,
}

/// The shelters with their holes; every one whose holes do not fit is a fault.
fn huts(shelters: &[Shelter], layouts: &Layouts, faults: &mut Vec<Fault>, cancel: &Cancel) -> Vec<LaidOutShelter> {
    let holes = |shelter: &Shelter| layouts.holes(shelter, cancel).map(|holes| LaidOutShelter::new(shelter, holes));
    let laid: Vec<Option<Result<LaidOutShelter, PlanningError>>> = shelters
        .par_iter()
        // A record with faults of its own has been refused already.
        .map(|shelter| shelter.check().is_empty().then(|| holes(shelter)))
        .collect();
    let mut huts = Vec::with_capacity(laid.len());
    for (index, hut) in laid.into_iter().enumerate() {
        match hut {
            Some(Ok(hut)) => huts.push(hut),
            Some(Err(error)) => {
                faults.push(Fault::new(format!("shelters[{index}]"), FaultReason::Contradiction, error.to_string()));
            }
            None => {}
        }
    }
    huts
}

/// Why an option is not allowed whose start gain, highest gain and greatest gain these are.
fn refusal(start: f64, highest: f64, most: f64) -> Option<Refusal> {
    if start > most {
        Some(Refusal::GainBeyondMax { missing: Db::new(start - most) })
    } else if highest < 0.0 {
        Some(Refusal::NoClearGain { missing: Db::new(start - highest) })
    } else if highest < start {
        Some(Refusal::NeighboursShow { missing: Db::new(start - highest) })
    } else {
        None
    }
}

/// Option, band, people and whether transducers are recessed: what a least spacing depends on.
type SpacingKey = (usize, usize, u32, bool);

/// Everything that the sheets share.
struct RuleContext<'a> {
    /// With the classes that are not listed among its options.
    input: &'a RulesInput,
    /// How many options are listed.
    listed: usize,
    bands: &'a [Band],
    neighbours: &'a Neighbours<'a>,
    layouts: &'a Layouts,
    cancel: &'a Cancel,
}

impl RuleContext<'_> {
    /// Least spacings for every party size that occurs.
    fn spacings(&self, huts: &[LaidOutShelter]) -> Result<BTreeMap<SpacingKey, Option<f64>>, Cancelled> {
        let mut parties: Vec<(u32, bool)> = huts.iter().map(|hut| (hut.people(), hut.recessed)).collect();
        parties.sort_unstable();
        parties.dedup();
        let mut keys = Vec::new();
        for option in 0..self.input.options.len() {
            for band in 0..self.bands.len() {
                keys.extend(parties.iter().map(|(people, recessed)| (option, band, *people, *recessed)));
            }
        }
        // What was found while the work was being cancelled says nothing: asked after it as well.
        let least = |key| {
            self.cancel.check()?;
            let spacing = self.least_spacing(key);
            self.cancel.check().map(|()| (key, spacing))
        };
        keys.into_par_iter().map(least).collect()
    }

    /// The least spacing at which a party shares the ice in the densest arrangement; none where none is wide enough.
    fn least_spacing(&self, (option, band, people, recessed): SpacingKey) -> Option<f64> {
        let band = self.bands.get(band)?;
        let start = band.start_gain(option)?;
        let fits = |spacing: f64| {
            let around = neighbours::densest(people, spacing);
            self.neighbours.highest_gain(option, band, &around, recessed).is_none_or(|found| found.gain >= start)
        };
        if people < 2 || !fits(SPACINGS.1) {
            return (people < 2).then_some(0.0);
        }
        // From wide to narrow, so that what is answered holds for every wider spacing too.
        let mut good = SPACINGS.1;
        while good > SPACINGS.0 && fits(good / SPACING_RATIO) {
            good /= SPACING_RATIO;
        }
        if good <= SPACINGS.0 {
            return Some(SPACINGS.0);
        }
        let mut bad = good / SPACING_RATIO;
        while good - bad > SPACING_STEP {
            let middle = 0.5 * (good + bad);
            if fits(middle) { good = middle } else { bad = middle }
        }
        Some(libm::ceil(good / SPACING_STEP) * SPACING_STEP)
    }

    fn sheet<'h>(
        &self,
        shelter: usize,
        hut: &'h LaidOutShelter,
        spacings: &BTreeMap<SpacingKey, Option<f64>>,
    ) -> Result<Alone<'h>, PlanningError> {
        let crowd = LayoutsByParty::new(self.input.shelters.get(shelter), self.layouts, self.cancel);
        let mut bands = Vec::with_capacity(self.bands.len());
        let mut compatible = Vec::with_capacity(self.bands.len());
        for (band, ground) in self.bands.iter().enumerate() {
            let mut rules: Vec<(Rule, Option<Sample>)> = Vec::with_capacity(self.input.options.len());
            for option in 0..self.input.options.len() {
                self.cancel.check()?;
                let key = (option, band, hut.people(), hut.recessed);
                let spacing = spacings.get(&key).copied().flatten();
                rules.extend(self.rule(option, ground, hut, spacing, &crowd));
            }
            let found = mix::compatible(self.neighbours, ground, hut, &rules, self.cancel)?;
            let mut rules: Vec<Rule> = rules.into_iter().map(|(rule, _)| rule).collect();
            for own_kinds in &found {
                let parties = own_kinds.parties.iter().map(|party| (party.gain, party.at)).collect::<Vec<_>>();
                self.limit(&mut rules, ground, own_kinds.option, &parties);
            }
            let help = advice::help(self.neighbours, ground, hut, &rules, self.input);
            bands.push(BandRules { band, rules, mixes: mix::mixes(&found), holds_beyond: None, help });
            compatible.push(found);
        }
        // Cancelled gains and layouts leave the rules that depend on them incomplete.
        self.cancel.check()?;
        let sheet = Sheet {
            shelter,
            people: hut.people(),
            spacing: layout::least_spacing(&hut.holes),
            holes: hut.holes.clone(),
            bands,
        };
        Ok(Alone { sheet, hut, compatible })
    }

    /// The sheets with what other shelters around mean for them.
    fn surrounded(&self, alone: Vec<Alone<'_>>) -> Result<Vec<Sheet>, PlanningError> {
        let next = self.input.settings.next_shelter;
        let around = |alone: &'_ Alone<'_>| self.input.shelters.get(alone.sheet.shelter).cloned();
        let shelters: Vec<Shelter> = alone.iter().filter_map(around).collect();
        let surrounded: Vec<Surrounded<'_>> = alone
            .par_iter()
            .zip(&shelters)
            .map(|(alone, shelter)| Surrounded::new(shelter, alone.hut, &alone.compatible, next))
            .collect();
        let effects = surrounded::effects(self.neighbours, self.bands, &surrounded, self.cancel)?;
        drop(surrounded);
        let distances = surrounded::distances();
        let mut sheets = Vec::with_capacity(alone.len());
        for (index, Alone { mut sheet, compatible, .. }) in alone.into_iter().enumerate() {
            for (band, (rules, compatible)) in sheet.bands.iter_mut().zip(compatible).enumerate() {
                let here: Vec<&Effect> =
                    effects.iter().filter(|effect| effect.shelter == index && effect.band == band).collect();
                rules.holds_beyond = match here.iter().map(|effect| effect.clear).max() {
                    None | Some(0) => Some(Metres::new(0.0)),
                    Some(place) => distances.get(place).copied().map(Metres::new),
                };
                if next.is_some()
                    && let Some(ground) = self.bands.get(band)
                {
                    self.apply(rules, ground, compatible, &here);
                }
            }
            sheets.push(sheet);
        }
        Ok(sheets)
    }

    /// Rules with other shelters around, from those of a shelter that stands alone.
    fn apply(&self, band: &mut BandRules, ground: &Band, mut compatible: Vec<Compatible>, effects: &[&Effect]) {
        let some_alone = !compatible.is_empty();
        for own_kinds in &mut compatible {
            let Some(effect) = effects.iter().find(|effect| effect.option == own_kinds.option) else { continue };
            self.limit(&mut band.rules, ground, own_kinds.option, &effect.next);
            let start =
                band.rules.iter().find(|rule| rule.option == own_kinds.option).map(|rule| rule.start_gain.get());
            let left = own_kinds.parties.iter().zip(&effect.next);
            let left = left.filter(|(_, (gain, _))| start.is_some_and(|start| *gain >= start));
            own_kinds.parties = left.map(|(party, _)| party.clone()).collect();
        }
        compatible.retain(|own_kinds| !own_kinds.parties.is_empty());
        band.mixes = mix::mixes(&compatible);
        if compatible.is_empty() && some_alone {
            band.help = Some(Help::FartherShelters { clear: band.holds_beyond });
        }
    }

    /// Writes what parties leave to an option into its rule: gains, the largest party first and its own kind last.
    fn limit(&self, rules: &mut [Rule], band: &Band, option: usize, parties: &[(f64, Option<Sample>)]) {
        let Some(rule) = rules.iter_mut().find(|rule| rule.option == option) else { return };
        let start = rule.start_gain.get();
        let (Some(alike), Some((gain, at))) =
            (parties.last(), parties.iter().find(|(gain, _)| *gain >= start).or(parties.last()))
        else {
            return;
        };
        rule.highest_gain = Db::new(*gain);
        rule.alike_highest_gain = Db::new(alike.0);
        rule.limited_by = at.map(|sample| (Metres::new(sample.depth), sample.bottom));
        rule.refusal = refusal(start, *gain, f64::INFINITY);
        self.write_setting(rule, band);
    }

    fn rule(
        &self,
        option: usize,
        band: &Band,
        hut: &LaidOutShelter,
        spacing: Option<f64>,
        crowd: &LayoutsByParty<'_>,
    ) -> Option<(Rule, Option<Sample>)> {
        let gear = self.neighbours.gear(option)?;
        let start = band.start_gain(option)?;
        let (start_depth, start_bottom) = band.start_at(option)?;
        let found = self.neighbours.highest_gain(option, band, &hut.neighbourhood, hut.recessed);
        let most = gear.max_gain;
        let highest = found.map_or(most, |found| found.gain.min(most));
        let alone = start <= most;
        let limit = found.filter(|found| found.gain < most);
        let mut rule = Rule {
            option,
            refusal: refusal(start, highest, most),
            start_gain: Db::new(start),
            setting: None,
            start_dial: None,
            start_depth,
            start_bottom,
            highest_gain: Db::new(highest),
            highest_dial: None,
            alike_highest_gain: Db::new(highest),
            alike_highest_dial: None,
            limited_by: limit.map(|found| (found.depth, found.bottom)),
            least_spacing: spacing.filter(|_| alone).map(|spacing| Metres::new(spacing.max(crowd.least_on_ice(hut)))),
            most_people: if alone { self.most_people(option, band, hut, crowd) } else { 0 },
        };
        self.write_setting(&mut rule, band);
        Some((rule, limit.map(|found| found.sample)))
    }

    /// The greatest party that the floor takes and whose units leave each other in peace at their start gain.
    fn most_people(&self, option: usize, band: &Band, hut: &LaidOutShelter, crowd: &LayoutsByParty<'_>) -> u32 {
        let Some(start) = band.start_gain(option) else { return 0 };
        let highest =
            |laid: &LaidOutShelter| self.neighbours.highest_gain(option, band, &laid.neighbourhood, laid.recessed);
        // Going up, only the depth that was worst so far is asked; coming down again, the whole band.
        let Some(mut worst) = crowd.hut(2, hut).and_then(highest).map(|found| found.sample) else { return 1 };
        if let Some(found) = highest(hut) {
            worst = found.sample;
        }
        let mut most = 1;
        while most < MOST_PEOPLE
            && let Some(laid) = crowd.hut(most + 1, hut)
            && self.neighbours.gain_at(option, worst, laid).is_none_or(|gain| gain >= start)
        {
            most += 1;
        }
        while most > 1
            && let Some(laid) = crowd.hut(most, hut)
            && highest(laid).is_some_and(|found| found.gain < start)
        {
            most -= 1;
        }
        most
    }
}

/// One shelter with other numbers of people: each layout is made once, when it is first asked for.
struct LayoutsByParty<'a> {
    shelter: Option<&'a Shelter>,
    layouts: &'a Layouts,
    cancel: &'a Cancel,
    huts: Vec<std::sync::OnceLock<Option<LaidOutShelter>>>,
}

impl<'a> LayoutsByParty<'a> {
    fn new(shelter: Option<&'a Shelter>, layouts: &'a Layouts, cancel: &'a Cancel) -> Self {
        Self { shelter, layouts, cancel, huts: (0..=MOST_PEOPLE).map(|_| std::sync::OnceLock::new()).collect() }
    }

    /// Least distance that the ice between two holes asks for, m; nothing for a single hole.
    fn least_on_ice(&self, hut: &LaidOutShelter) -> f64 {
        let needed = |shelter: &Shelter| (shelter.hole_radius * 2.0 + shelter.min_ice_web).get();
        if hut.people() < 2 { 0.0 } else { self.shelter.map_or(0.0, needed) }
    }

    /// The shelter laid out for that many; none where the floor does not take them.
    fn hut(&self, people: u32, known: &LaidOutShelter) -> Option<&LaidOutShelter> {
        let slot = self.huts.get(usize::try_from(people).ok()?)?;
        slot.get_or_init(|| {
            let shelter = self.shelter?;
            if people == known.people() {
                return Some(known.clone());
            }
            let area = Area::of(&shelter.floor, shelter.wall_clearance)?;
            let needed = shelter.hole_radius * 2.0 + shelter.min_ice_web;
            if f64::from(people) > domain::area::most_that_fit(area, needed) {
                return None;
            }
            let party = Shelter { holes: HolePlan::Party(people), ..shelter.clone() };
            self.layouts.holes(&party, self.cancel).ok().map(|holes| LaidOutShelter::new(shelter, holes))
        })
        .as_ref()
    }
}
