//! Rules of a shelter with others around it, and from what distance on these do not matter.
//!
//! What the others hold is not agreed on: each of their holes has whichever option of the whole list shows most there, allowed or not, so that the rules of one shelter do
//! not hang on those of the next. What an option receives from afar is the same for all shelters: it is worked out once for each band and option.

use acoustics::units::{Level, Metres};
use domain::{Cancel, Cancelled, Shelter};
use rayon::prelude::*;

use super::around::{Outlook, nodes, outlooks};
use super::field::{Field, FieldAt};
use super::mix::Compatible;
use super::mixture::Mixture;
use super::neighbours::{LaidOutShelter, Neighbours, highest};
use super::site::{Band, Sample};
use crate::neighbourhood::Neighbourhood;

/// A change of a highest gain that is none, dB: as much as depths between samples differ.
const SLIGHT: f64 = 0.1;

/// The lowest gain that is looked at, dB: what an option lacks is said down to here.
const LOWEST: f64 = -40.0;

/// Clear distances at which it is asked whether other shelters matter, m: half metres to 10 m, metres to 20 m, two metres to 40 m.
pub(super) fn distances() -> Vec<f64> {
    let steps = |from: u32, to: u32, by: f64| (from..=to).map(move |step| by * f64::from(step));
    steps(1, 20, 0.5).chain(steps(11, 20, 1.0)).chain(steps(11, 20, 2.0)).collect()
}

/// A shelter with what stands around it.
pub(super) struct Surrounded<'a> {
    pub(super) hut: &'a LaidOutShelter,
    /// By band: the allowed options, as if it stood alone.
    pub(super) compatible: &'a [Vec<Compatible>],
    own: Neighbourhood,
    /// At each of [`distances`].
    around: Vec<Vec<Outlook>>,
    /// At the distance that was asked for.
    next: Option<Vec<Outlook>>,
}

impl<'a> Surrounded<'a> {
    pub(super) fn new(
        shelter: &Shelter,
        hut: &'a LaidOutShelter,
        compatible: &'a [Vec<Compatible>],
        next: Option<Metres>,
    ) -> Self {
        Self {
            hut,
            compatible,
            own: Neighbourhood::of_each(&hut.holes),
            around: distances().into_iter().map(|clear| outlooks(shelter, &hut.holes, clear)).collect(),
            next: next.map(|clear| outlooks(shelter, &hut.holes, clear.get())),
        }
    }

    fn own_kinds(&self, band: usize, option: usize) -> Option<&'a Compatible> {
        self.compatible.get(band)?.iter().find(|own_kinds| own_kinds.option == option)
    }
}

/// What others around mean for an option in a shelter.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Effect {
    /// Index of the shelter among those that were asked about.
    pub(super) shelter: usize,
    pub(super) band: usize,
    pub(super) option: usize,
    /// Place among [`distances`] from which on nothing changes; their number where the last changes something.
    pub(super) clear: usize,
    /// With others at the distance that was asked for: by party of the option's kinds the highest gain, and where that is if it is less than in a shelter that stands
    /// alone.
    pub(super) next: Vec<(f64, Option<Sample>)>,
}

/// What others around mean for the allowed options of some shelters.
pub(super) fn effects(
    neighbours: &Neighbours<'_>,
    bands: &[Band],
    shelters: &[Surrounded<'_>],
    cancel: &Cancel,
) -> Result<Vec<Effect>, Cancelled> {
    let options = neighbours.option_count();
    let jobs: Vec<(usize, usize)> = (0..bands.len()).flat_map(|band| (0..options).map(move |o| (band, o))).collect();
    let of = |(band, option): (usize, usize)| {
        let ground = bands.get(band).into_iter();
        let found = ground.map(|ground| of_option(neighbours, (band, ground), option, shelters, cancel));
        found.collect::<Result<Vec<_>, _>>()
    };
    let found: Vec<Vec<Vec<Effect>>> = jobs.into_par_iter().with_max_len(1).map(of).collect::<Result<_, _>>()?;
    Ok(found.into_iter().flatten().flatten().collect())
}

fn of_option(
    neighbours: &Neighbours<'_>,
    (band, ground): (usize, &Band),
    option: usize,
    shelters: &[Surrounded<'_>],
    cancel: &Cancel,
) -> Result<Vec<Effect>, Cancelled> {
    let Some(threshold) = neighbours.gear(option).map(|gear| gear.threshold) else { return Ok(Vec::new()) };
    let mut effects = Vec::new();
    for (index, shelter) in shelters.iter().enumerate() {
        if let Some(own_kinds) = shelter.own_kinds(band, option) {
            let next = own_kinds.parties.iter().map(|party| (party.gain, party.at)).collect();
            effects.push((shelter, own_kinds, Effect { shelter: index, band, option, clear: 0, next }));
        }
    }
    let nodes = nodes();
    for sample in ground.coarse() {
        for recessed in [false, true] {
            let mut here = effects.iter_mut().filter(|(shelter, ..)| shelter.hut.recessed == recessed).peekable();
            if here.peek().is_none() {
                continue;
            }
            cancel.check()?;
            let field = Field::new(neighbours, option, sample, &nodes, recessed);
            for (shelter, own_kinds, effect) in here {
                let scene = field.as_ref().and_then(|field| {
                    let samples = [Some(sample), own_kinds.parties.first().and_then(|party| party.at)];
                    let near = samples.into_iter().flatten().filter(|own| own.is_near(sample));
                    let own = near.map(|own| {
                        let distances = &shelter.own.distances;
                        neighbours.mixture(option, &own_kinds.kinds, own, distances, recessed)
                    });
                    let own = own.collect::<Option<Vec<_>>>()?;
                    Some(Scene { shelter, own, field, tolerance: neighbours.tolerance() })
                });
                cancel.check()?;
                if let Some(scene) = scene {
                    scene.narrow(effect, (own_kinds, threshold), sample);
                }
            }
        }
    }
    Ok(effects.into_iter().map(|(.., effect)| effect).collect())
}

/// One option in one shelter at one sample.
struct Scene<'a> {
    shelter: &'a Surrounded<'a>,
    /// The shelter's own holes, at this sample and where the option is limited if that is near.
    own: Vec<Mixture>,
    /// All options at the ends of all bins.
    field: &'a Field<'a>,
    tolerance: f64,
}

impl Scene<'_> {
    fn narrow(&self, effect: &mut Effect, (own_kinds, threshold): (&Compatible, f64), sample: Sample) {
        if let Some(party) = own_kinds.parties.first()
            && effect.clear < self.shelter.around.len()
        {
            let level = Level::new(threshold - (party.gain - SLIGHT));
            let (own, far) = (self.own(level, party.companions), self.field.at(level));
            let changes = |around: &Vec<Outlook>| !self.fits(&own, &far, around);
            let looked = self.shelter.around.get(effect.clear..).unwrap_or_default();
            effect.clear += looked.iter().rposition(changes).map_or(0, |last| last + 1);
        }
        let Some(next) = &self.shelter.next else { return };
        for (party, (gain, at)) in own_kinds.parties.iter().zip(&mut effect.next) {
            let fits = |gain: f64| {
                let level = Level::new(threshold - gain);
                self.fits(&self.own(level, party.companions), &self.field.at(level), next)
            };
            if !fits(*gain - SLIGHT) {
                (*gain, *at) = (highest((LOWEST.min(*gain - SLIGHT), *gain - SLIGHT), fits).max(LOWEST), Some(sample));
            }
        }
    }

    fn own(&self, level: Level, companions: usize) -> Vec<Vec<Vec<f64>>> {
        self.own.iter().map(|own| own.silence(level, companions + 1)).collect()
    }

    fn fits(&self, own: &[Vec<Vec<f64>>], far: &FieldAt<'_>, around: &[Outlook]) -> bool {
        around.iter().all(|outlook| {
            let mut logarithms: Vec<f64> = Vec::new();
            for (bin, count) in &outlook.bins {
                let bin = far.bin(usize::from(*bin));
                logarithms.resize(bin.len().max(logarithms.len()), 0.0);
                for (sum, logarithm) in logarithms.iter_mut().zip(bin) {
                    *sum += f64::from(*count) * logarithm;
                }
            }
            let others: Vec<f64> = logarithms.into_iter().map(libm::exp).collect();
            let others = (!others.is_empty()).then_some(others.as_slice());
            let neighbours = self.shelter.own.views.get(outlook.hole).map_or(&[] as &[_], |view| &view.neighbours);
            let drawn = |(mixture, silence): (&Mixture, &Vec<Vec<f64>>)| mixture.drawn(silence, neighbours, others);
            self.own.iter().zip(own).map(drawn).all(|drawn| drawn <= self.tolerance)
        })
    }
}
