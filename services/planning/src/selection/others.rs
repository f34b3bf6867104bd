//! Neighbours that have other units than the one that is judged: given ones, or whatever is usual where nobody knows.
//!
//! In the recorded figures each of them has whichever kind shows most. In a draw all of them have one kind, as often as it occurs, louder or softer by
//! the spread of its class. That a beam is drawn wider is left out of what such neighbours do.

use acoustics::ModelError;
use acoustics::units::Db;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal, StandardUniform};

use super::beam::count;
use super::neighbours::{Clearance, WATT_LEVEL};
use super::option::PreparedOption;
use super::shift::OtherUnit;
use super::spot::{PreparedSpot, water};
use crate::generic::{CLASS_LEVEL_SPREAD, GenericUnit, class_weights};
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
        Others::Unknown => usual(input).map(|(class, _)| class.unit(Id::stand_in())).collect(),
    }
}

/// The generic classes that occur among the sensors of a run, with how often.
fn usual(input: &RunInput) -> impl Iterator<Item = (GenericUnit, f64)> {
    GenericUnit::ALL.into_iter().zip(class_weights(&input.sensors)).filter(|(_, weight)| *weight > 0.0)
}

/// The draws of neighbours, the same for all spots of a run: the people are the same.
pub(crate) struct OtherDraws {
    weights: Vec<f64>,
    spread: f64,
    rng: ChaCha8Rng,
}

/// Stream of random numbers of its own, far from those of places.
const STREAM: u64 = u64::MAX / 2;

impl OtherDraws {
    /// Draws of the neighbours of a run.
    pub(crate) fn new(input: &RunInput) -> Self {
        let (weights, spread) = match &input.others {
            Others::Same => (Vec::new(), 0.0),
            Others::Given { options, .. } => (vec![1.0 / count(options.len().max(1)); options.len()], LEVEL_SPREAD),
            Others::Unknown => (usual(input).map(|(_, weight)| weight).collect(), CLASS_LEVEL_SPREAD.get()),
        };
        let mut rng = ChaCha8Rng::seed_from_u64(input.settings.seed);
        rng.set_stream(STREAM);
        Self { weights, spread, rng }
    }
}

impl Iterator for OtherDraws {
    type Item = Option<OtherUnit>;

    fn next(&mut self) -> Option<Option<OtherUnit>> {
        let Some(last) = self.weights.len().checked_sub(1) else { return Some(None) };
        let mut left: f64 = StandardUniform.sample(&mut self.rng);
        let normal: f64 = StandardNormal.sample(&mut self.rng);
        let kind = self.weights.iter().position(|weight| {
            left -= weight;
            left < 0.0
        });
        Some(Some(OtherUnit { kind: kind.unwrap_or(last), louder: self.spread * normal }))
    }
}

/// What of a pulse of another option a receiver takes in, and how long it draws it.
impl PreparedOption {
    pub(crate) fn hears(&self, other: &Self) -> (Db, acoustics::units::Seconds) {
        use acoustics::interference::{band_loss, mismatch_loss};
        if self.compresses(other) {
            return (Db::new(0.0), other.pulse());
        }
        let band = band_loss(other.frequency, other.sent, other.sweep, self.frequency, self.receiver_bandwidth);
        // A matched filter of another code draws the pulse out by its own length.
        let drawn_out = if self.sweep.is_some() { other.sent + self.sent } else { other.sent };
        (band + mismatch_loss(self.sent, self.pulse()), drawn_out)
    }
}
