//! Neighbours that have other units than the one that is judged: given ones, or whatever is usual where nobody knows.
//!
//! In the recorded figures each of them has whichever kind shows most; where nobody knows what they have, that may be a unit like one's own. In a
//! draw all of them have one kind, as often as it occurs, louder or softer by the spread of its class. That a beam is drawn wider is left out of
//! what such neighbours do.
//!
//! A class of units spans a band of frequencies, of which a receiver takes in a part: what is met is a unit of the class with the frequency and
//! the loudness of an option of the run, as often as the run has it. So whoever pings where others do hears them, whatever the class is called.

use acoustics::ModelError;
use acoustics::interference::{band_loss, mismatch_loss};
use acoustics::units::{Db, Hertz, Seconds};
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal, StandardUniform};

use super::beam::count;
use super::neighbours::{Clearance, WATT_LEVEL};
use super::option::PreparedOption;
use super::shift::OtherUnit;
use super::spot::{PreparedSpot, water};
use crate::generic::{CLASS_LEVEL_SPREAD, Usual, usual};
use crate::uncertainty::spreads::LEVEL_SPREAD;
use domain::selection::{Others, RunInput};
use domain::{BeamOption, Id, Sensor, Spot};

/// The kinds of unit that neighbours may have.
#[derive(Debug, Clone)]
pub(crate) struct PreparedOthers {
    pub(super) gears: Vec<PreparedOption>,
    /// By spot, then kind.
    pub(super) senders: Vec<Sender>,
    /// By option, class of bottom, then kind.
    pub(super) clearances: Vec<Clearance>,
    /// By option and class of bottom, beside units like one's own; empty where the kinds are known.
    pub(super) same: Vec<Clearance>,
    /// By option, then unit that may be met: of which kind it is, and how much louder than the tables of its kind it comes through, dB.
    pub(super) met: Vec<(usize, f64)>,
    /// How many units may be met.
    pub(super) units: usize,
    /// By option, then kind: the loudest of its units, dB.
    pub(super) loudest: Vec<f64>,
}

/// Who is around an option over a bottom at a spot, where they have other units.
#[derive(Clone, Copy)]
pub(crate) struct Company<'a> {
    /// By kind.
    pub(crate) clearances: &'a [Clearance],
    pub(crate) senders: &'a [Sender],
    pub(crate) loudest: &'a [f64],
    /// By unit that may be met.
    pub(crate) met: &'a [(usize, f64)],
    pub(crate) same: Option<&'a Clearance>,
}

impl PreparedOthers {
    /// Who is around an option, given with the class of the bottom and how many there are.
    pub(super) fn company(&self, spot: usize, option: usize, (class, classes): (usize, usize)) -> Option<Company<'_>> {
        let kinds = self.gears.len();
        let pair = option * classes + class;
        let of = |at: usize, many: usize| at * many..(at + 1) * many;
        Some(Company {
            clearances: self.clearances.get(of(pair, kinds))?,
            senders: self.senders.get(of(spot, kinds))?,
            loudest: self.loudest.get(of(option, kinds))?,
            met: self.met.get(of(option, self.units))?,
            same: self.same.get(pair),
        })
    }
}

/// A unit of neighbours at a spot.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sender {
    /// Absorption at its frequency in the water there, dB/m.
    pub(crate) absorption: f64,
    /// What its level differs there from that of the tables, dB.
    pub(crate) level: f64,
    /// What the ice there takes of a bounce more than that of usual thickness, dB.
    pub(crate) ice_shift: f64,
}

impl Sender {
    pub(super) fn new(
        gear: &PreparedOption,
        (spot, place): (&Spot, &PreparedSpot),
        ice: Option<usize>,
    ) -> Result<Self, ModelError> {
        Ok(Self {
            absorption: water(spot).absorption(gear.frequency)?.get(),
            level: if gear.from_power { place.watt_level - WATT_LEVEL } else { 0.0 },
            ice_shift: ice.and_then(|index| gear.ice_shifts.get(index)).copied().unwrap_or(0.0),
        })
    }
}

/// The units that neighbours may have, those of known kinds that nobody has left out; none where they have the same as is judged.
pub(crate) fn kinds(input: &RunInput) -> Vec<Sensor> {
    match &input.others {
        _ if input.shelter.is_none() => Vec::new(),
        Others::Same => Vec::new(),
        Others::Given { sensors, options } => {
            let of = |sensor: &Sensor, option: &BeamOption| Sensor { options: vec![option.clone()], ..sensor.clone() };
            let given = options.iter().filter_map(|at| {
                let sensor = sensors.get(at.sensor)?;
                Some(of(sensor, sensor.options.get(at.option)?))
            });
            given.collect()
        }
        Others::Unknown => {
            let mut units = usual(&input.sensors, &input.options);
            units.dedup_by_key(|unit| unit.kind);
            units.into_iter().map(|unit| unit.class.unit(Id::stand_in())).collect()
        }
    }
}

/// By option, then unit that may be met: its kind, and how much louder than the tables of that kind it comes through, dB.
pub(super) fn met(input: &RunInput, gears: &[PreparedOption], kinds: &[PreparedOption]) -> Vec<(usize, f64)> {
    let units = match &input.others {
        Others::Unknown => usual(&input.sensors, &input.options),
        Others::Same | Others::Given { .. } => {
            return gears.iter().flat_map(|_| (0..kinds.len()).map(|k| (k, 0.0))).collect();
        }
    };
    let level = |gear: &PreparedOption| gear.source + if gear.from_power { WATT_LEVEL } else { 0.0 };
    let of = |own: &PreparedOption, unit: &Usual| {
        let (kind, tabulated) = (unit.kind, kinds.get(unit.kind)?);
        let unit = unit.option.and_then(|option| gears.get(option)).unwrap_or(tabulated);
        let lost = own.band_loss_of(tabulated, unit.frequency) - own.band_loss_of(tabulated, own.frequency);
        Some((kind, level(unit) - level(tabulated) - lost))
    };
    gears.iter().flat_map(|own| units.iter().map(move |unit| of(own, unit).unwrap_or((0, f64::NEG_INFINITY)))).collect()
}

/// By option, then kind: the loudest of its units, dB.
pub(super) fn loudest(met: &[(usize, f64)], options: usize, kinds: usize) -> Vec<f64> {
    let mut loudest = vec![f64::NEG_INFINITY; options * kinds];
    for (units, slots) in met.chunks(met.len() / options.max(1)).zip(loudest.chunks_mut(kinds)) {
        for (kind, level) in units {
            if let Some(slot) = slots.get_mut(*kind) {
                *slot = slot.max(*level);
            }
        }
    }
    loudest
}

/// The units that may be met where nobody knows what others have, with how often each is; none where that is known.
pub(crate) fn usual_units(input: &RunInput) -> Vec<(OtherUnit, f64)> {
    match input.others {
        Others::Same | Others::Given { .. } => Vec::new(),
        Others::Unknown => {
            let units = OtherDraws::new(input).units.into_iter().enumerate();
            units.map(|(unit, (kind, weight))| (OtherUnit { kind, unit, louder: 0.0 }, weight)).collect()
        }
    }
}

/// The draws of neighbours, the same for all spots of a run: the people are the same.
pub(crate) struct OtherDraws {
    /// By unit that may be met: its kind, and how often it is.
    units: Vec<(usize, f64)>,
    spread: f64,
    rng: ChaCha8Rng,
}

/// Stream of random numbers of its own, far from those of places.
const STREAM: u64 = u64::MAX / 2;

impl OtherDraws {
    /// Draws of the neighbours of a run.
    pub(crate) fn new(input: &RunInput) -> Self {
        let (units, spread) = match &input.others {
            Others::Same => (Vec::new(), 0.0),
            Others::Given { options, .. } => {
                let weight = 1.0 / count(options.len().max(1));
                ((0..options.len()).map(|kind| (kind, weight)).collect(), LEVEL_SPREAD)
            }
            Others::Unknown => {
                let usual = usual(&input.sensors, &input.options);
                (usual.iter().map(|unit| (unit.kind, unit.weight)).collect(), CLASS_LEVEL_SPREAD.get())
            }
        };
        let mut rng = ChaCha8Rng::seed_from_u64(input.settings.seed);
        rng.set_stream(STREAM);
        Self { units, spread, rng }
    }
}

impl Iterator for OtherDraws {
    type Item = Option<OtherUnit>;

    fn next(&mut self) -> Option<Option<OtherUnit>> {
        let Some(last) = self.units.len().checked_sub(1) else { return Some(None) };
        let mut left: f64 = StandardUniform.sample(&mut self.rng);
        let normal: f64 = StandardNormal.sample(&mut self.rng);
        let unit = self.units.iter().position(|(_, weight)| {
            left -= weight;
            left < 0.0
        });
        let unit = unit.unwrap_or(last);
        let kind = self.units.get(unit).map_or(0, |(kind, _)| *kind);
        Some(Some(OtherUnit { kind, unit, louder: self.spread * normal }))
    }
}

/// What of a pulse of another option a receiver takes in, and how long it draws it.
impl PreparedOption {
    pub(crate) fn hears(&self, other: &Self) -> (Db, Seconds) {
        if self.compresses(other) {
            return (Db::new(0.0), other.pulse());
        }
        self.hears_at(other, other.frequency)
    }

    /// The same of a unit of a class, whose pulse is not like any: as if at another frequency.
    pub(crate) fn hears_at(&self, other: &Self, frequency: Hertz) -> (Db, Seconds) {
        let band = Db::new(self.band_loss_of(other, frequency));
        // A matched filter of another code draws the pulse out by its own length.
        let drawn_out = if self.sweep.is_some() { other.sent + self.sent } else { other.sent };
        (band + mismatch_loss(self.sent, self.pulse()), drawn_out)
    }

    /// What its receiver keeps out of another's pulse at a frequency, dB.
    fn band_loss_of(&self, other: &Self, frequency: Hertz) -> f64 {
        band_loss(frequency, other.sent, other.sweep, self.frequency, self.receiver_bandwidth).get()
    }
}
