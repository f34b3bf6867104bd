//! Who is around a unit: their holes, and what they send.

use std::sync::Arc;

use acoustics::interference::Confirmer;
use acoustics::units::{Celsius, Db, MetresPerSecond, Seconds};

use super::super::memo::Fingerprint;
use super::super::option::{PreparedOption, confirmer};
use crate::neighbourhood::Neighbourhood;
use domain::selection::Settings;
use domain::{Point, Shelter};

/// Water for which the tables stand; other water shifts them by its absorption.
pub(super) const SPEED: MetresPerSecond = MetresPerSecond::new(1_412.0);
pub(super) const TEMPERATURE: Celsius = Celsius::new(2.0);
/// Source level of one acoustic watt in that water, dB re 1 µPa m.
pub(crate) const WATT_LEVEL: f64 = 170.5;

/// What of a run differs from the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Unknowns {
    /// Nothing.
    None,
    /// The ice, which is of recorded thickness.
    Ice,
    /// All that is drawn.
    Drawn,
}

/// The holes of a shelter as each of their units sees the others.
#[derive(Debug, Clone)]
pub(crate) struct Neighbours {
    pub(crate) holes: Vec<Point>,
    pub(crate) neighbourhood: Neighbourhood,
    pub(super) recessed: bool,
    /// How far the judged unit leans, radians.
    pub(super) lean: f64,
    pub(super) unknowns: Unknowns,
    /// Fraction of range cells that may show interference marks.
    pub(super) tolerance: f64,
}

impl Neighbours {
    /// The neighbours of a shelter whose holes are known; none for a single hole.
    pub(crate) fn new(shelter: &Shelter, holes: Vec<Point>, settings: &Settings, unknowns: Unknowns) -> Option<Self> {
        if holes.len() < 2 {
            return None;
        }
        let neighbourhood = Neighbourhood::new(&holes);
        Some(Self {
            holes,
            neighbourhood,
            recessed: shelter.transducers_recessed,
            lean: settings.lean.angle.get(),
            unknowns,
            tolerance: settings.interference_tolerance,
        })
    }
}

impl Neighbours {
    /// Of everything that a node depends on but bottom, slope and depth.
    pub(super) fn fingerprint(&self, gear: &Fingerprint) -> Fingerprint {
        let around = &self.neighbourhood;
        let views = around.views.iter().fold(gear.clone(), |so_far, view| so_far.with((view.hole, &view.neighbours)));
        views
            .with((self.recessed, self.unknowns))
            .figures(around.distances.iter().copied())
            .figures([self.lean, self.tolerance])
    }
}

/// What the neighbours of a unit send.
pub(crate) struct Talker<'a> {
    pub(in crate::selection) gear: &'a PreparedOption,
    /// What of it the unit takes in, and how long it draws it.
    pub(in crate::selection) loss: Db,
    pub(in crate::selection) pulse: Seconds,
    pub(in crate::selection) confirmer: Arc<Confirmer>,
    is_other: bool,
}

impl<'a> Talker<'a> {
    /// A neighbour with the option of the unit.
    pub(crate) fn same(gear: &'a PreparedOption) -> Self {
        let (loss, pulse) = (Db::new(0.0), gear.pulse());
        Self { gear, loss, pulse, confirmer: Arc::clone(&gear.confirmer), is_other: false }
    }

    /// A neighbour of a unit of `own` with another option.
    pub(crate) fn other(own: &PreparedOption, gear: &'a PreparedOption) -> Self {
        let (loss, pulse) = own.hears(gear);
        // Mostly neither says how it pings: what the display does with marks of its own kind is the same then.
        let confirmer = if own.timing == gear.timing {
            Arc::clone(&own.confirmer)
        } else {
            Arc::new(confirmer(own.timing, gear.timing, own.confirmation))
        };
        Self { gear, loss, pulse, confirmer, is_other: true }
    }

    /// A neighbour of a unit of `own` with a unit of a class, at the frequency of that unit: how much of it is heard at others is added later.
    pub(crate) fn of_class(own: &PreparedOption, gear: &'a PreparedOption) -> Self {
        let (loss, pulse) = own.hears_at(gear, own.frequency);
        Self { loss, pulse, ..Self::other(own, gear) }
    }

    /// What tables of a unit with these neighbours depend on.
    pub(super) fn known(&self, own: &PreparedOption) -> Fingerprint {
        let own = own.fingerprint.clone();
        if self.is_other { own.with(self.gear.fingerprint.key()).figures([self.loss.get()]) } else { own }
    }
}
