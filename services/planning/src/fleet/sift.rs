//! Bookings and units that can be planned with, and those that cannot.
//!
//! One bad record never stops the rest: it is left out and listed with all its faults. Of two bookings that exclude each other
//! the one that has something by the plan to keep stays, and of equals the first by name.

use std::collections::{BTreeMap, BTreeSet};

use jiff::ToSpan;
use jiff::civil::Date;

use super::presence::lent_to;
use super::roofs::{busiest, party};
use super::types::FleetInput;
use crate::layout::Layouts;
use crate::{LeftOut, PlanningError};
use domain::{
    Booking, Cancel, Fault, FaultReason, GoalName, Id, Record as _, Shelter, TargetKind, Unit, duplicate_serials,
};

/// Most days from the first to the last.
const MOST_DAYS: i32 = 366;

/// What is left to plan with.
pub(super) struct Sifted {
    /// The input with nothing but sound bookings that are not over and sound units.
    pub(super) input: FleetInput,
    /// By booking of that input: its index in the input as given.
    pub(super) places: Vec<usize>,
    pub(super) left_out: Vec<LeftOut>,
}

/// Sifts an input.
///
/// # Errors
/// The request has faults, or no booking is left; all faults are told, those of the records included.
pub(super) fn sift(input: &FleetInput, layouts: &Layouts) -> Result<Sifted, PlanningError> {
    let mut faults = input.request_faults();
    let mut sieve = Sieve::new(input, layouts);
    let places = sieve.bookings();
    let units = sieve.units();
    let mut left_out = sieve.left_out;
    if places.is_empty() && left_out.iter().all(|out| out.name.starts_with("units/")) && faults.is_empty() {
        let text = "bookings are all over by the day that is planned from; accepted: one or more that run on it or later; plan from an earlier day";
        faults.push(Fault::new("from_day", FaultReason::Contradiction, text));
    }
    if !faults.is_empty() || places.is_empty() {
        faults.extend(left_out.into_iter().flat_map(|out| out.faults));
        return Err(PlanningError::Faults(faults));
    }
    left_out.sort_by(|a, b| a.name.cmp(&b.name));
    let bookings = places.iter().filter_map(|place| input.bookings.get(*place).cloned()).collect();
    Ok(Sifted { input: FleetInput { bookings, units, ..input.clone() }, places, left_out })
}

struct Sieve<'a> {
    input: &'a FleetInput,
    layouts: &'a Layouts,
    /// Bookings that are in, under each roof.
    under: BTreeMap<&'a Id, Vec<&'a Booking>>,
    left_out: Vec<LeftOut>,
}

impl<'a> Sieve<'a> {
    fn new(input: &'a FleetInput, layouts: &'a Layouts) -> Self {
        Self { input, layouts, under: BTreeMap::new(), left_out: Vec::new() }
    }

    /// Bookings that can be planned, by index in their order.
    fn bookings(&mut self) -> Vec<usize> {
        let input = self.input;
        let kept: BTreeSet<&Id> = input.replan.kept.iter().map(|kept| &kept.booking).collect();
        let over = |booking: &Booking| input.replan.from.is_some_and(|from| booking.last_day < from);
        let mut order: Vec<(usize, &Booking)> =
            input.bookings.iter().enumerate().filter(|(_, booking)| !over(booking)).collect();
        // Where two cannot both be, who is on the ice stays, then who was promised something.
        let out = |booking: &Booking| lent_to(input, &booking.id).next().is_some();
        order.sort_by_key(|(index, booking)| (!out(booking), !kept.contains(&booking.id), &booking.id, *index));
        let start = start(input, &order);
        let mut seen = BTreeSet::new();
        let mut places = Vec::new();
        for (index, booking) in order {
            let mut faults = booking.check();
            faults.extend(span_fault(booking, start).filter(|_| faults.is_empty()));
            faults.extend(self.references(booking));
            let at = format!("bookings/{}", booking.id);
            let mut faults: Vec<Fault> = faults.into_iter().map(|fault| fault.under(&at)).collect();
            if !seen.insert(&booking.id) {
                let text = format!("{at} is given twice; accepted: each once; drop one");
                faults.push(Fault::new(&at, FaultReason::Duplicate, text));
            }
            faults.extend(self.records(booking));
            if faults.is_empty() {
                faults = self.roof(booking).into_iter().map(|fault| fault.under(&at)).collect();
            }
            if faults.is_empty() {
                places.push(index);
                self.under.entry(booking.shelter.as_ref().unwrap_or(&booking.id)).or_default().push(booking);
            } else {
                self.left_out.push(LeftOut::new("bookings", &booking.id, faults));
            }
        }
        places.sort_unstable();
        places
    }

    /// What a booking refers to and is not there, or of another kind.
    fn references(&self, booking: &Booking) -> Vec<Fault> {
        let input = self.input;
        let mut faults = Vec::new();
        if !input.spots.iter().any(|spot| spot.id == booking.spot) {
            faults.push(unknown("spot", &format!("spots/{}", booking.spot)));
        }
        if let Some(shelter) = &booking.shelter
            && !input.shelters.iter().any(|known| known.id == *shelter)
        {
            faults.push(unknown("shelter", &format!("shelters/{shelter}")));
        }
        if let GoalName::Custom(goal) = booking.goal_name()
            && !input.goals.iter().any(|known| known.id == goal)
        {
            faults.push(unknown("custom_goal", &format!("goals/{goal}")));
        }
        for (name, id, kind, word) in
            [("lure", &booking.lure, TargetKind::Lure, "LURE"), ("fish", &booking.fish, TargetKind::Fish, "FISH")]
        {
            match input.targets.iter().find(|target| target.id == *id) {
                None => faults.push(unknown(name, &format!("targets/{id}"))),
                Some(target) if target.kind != kind => {
                    let text = format!(
                        "{name} is target '{id}', which is of another kind; accepted: kind {word}; name another target"
                    );
                    faults.push(Fault::new(name, FaultReason::Contradiction, text));
                }
                Some(_) => {}
            }
        }
        faults
    }

    /// Faults of the records that a booking refers to.
    fn records(&self, booking: &Booking) -> Vec<Fault> {
        let input = self.input;
        let spots =
            input.spots.iter().filter(|spot| spot.id == booking.spot).map(|spot| ("spots", &spot.id, spot.check()));
        let shelters = input.shelters.iter().filter(|shelter| Some(&shelter.id) == booking.shelter.as_ref());
        let shelters = shelters.map(|shelter| ("shelters", &shelter.id, shelter.check()));
        let targets = input.targets.iter().filter(|target| [&booking.lure, &booking.fish].contains(&&target.id));
        let targets = targets.map(|target| ("targets", &target.id, target.check()));
        let goals = input.goals.iter().filter(|goal| booking.goal_name() == GoalName::Custom(goal.id.clone()));
        let goals = goals.map(|goal| ("goals", &goal.id, goal.check()));
        let all = spots.chain(shelters).chain(targets).chain(goals);
        all.flat_map(|(list, id, found)| {
            let at = format!("{list}/{id}");
            found.into_iter().map(move |fault| fault.under(&at)).collect::<Vec<_>>()
        })
        .collect()
    }

    /// A shelter stands at one spot at a time, and takes the holes of all who fish in it on one day.
    fn roof(&self, booking: &'a Booking) -> Option<Fault> {
        let shelter = self.input.shelters.iter().find(|shelter| Some(&shelter.id) == booking.shelter.as_ref())?;
        let others = || self.under.get(&shelter.id).into_iter().flatten().copied();
        let overlaps = |other: &&Booking| booking.first_day <= other.last_day && other.first_day <= booking.last_day;
        if let Some(earlier) = others().filter(overlaps).find(|other| other.spot != booking.spot) {
            let text = format!(
                "shelter '{}' is booked at spot '{}' by '{}' and at spot '{}' by '{}' on a same day; accepted: one spot at a time; move one of the bookings or take another shelter",
                shelter.id, earlier.spot, earlier.id, booking.spot, booking.id
            );
            return Some(Fault::new("shelter", FaultReason::Contradiction, text));
        }
        let people = busiest(booking, others().chain([booking]), self.input.replan.from);
        self.too_small(shelter, people).map(|message| Fault::new("anglers", FaultReason::Contradiction, message))
    }

    fn too_small(&self, shelter: &Shelter, people: u32) -> Option<String> {
        let party = party(shelter, people);
        let own = party.check().into_iter().next().map(|fault| fault.message);
        own.or_else(|| self.layouts.holes(&party, &Cancel::never()).err().map(|error| error.to_string()))
    }

    /// Units that can be planned with.
    fn units(&mut self) -> Vec<Unit> {
        let input = self.input;
        let mut by_id: BTreeMap<&Id, Vec<Fault>> = BTreeMap::new();
        for fault in duplicate_serials(&input.units) {
            let named = |unit: &&Unit| fault.field.strip_prefix(&format!("units/{}.", unit.id)).is_some();
            if let Some(unit) = input.units.iter().find(named) {
                by_id.entry(&unit.id).or_default().push(fault);
            }
        }
        let mut seen = BTreeSet::new();
        let mut sound = Vec::new();
        for unit in &input.units {
            let at = format!("units/{}", unit.id);
            let mut faults = unit.check();
            if !input.sensors.iter().any(|sensor| sensor.id == unit.sensor) {
                faults.push(unknown("sensor", &format!("sensors/{}", unit.sensor)));
            }
            let mut faults: Vec<Fault> = faults.into_iter().map(|fault| fault.under(&at)).collect();
            if !seen.insert(&unit.id) {
                let text = format!("{at} is given twice; accepted: each once; drop one");
                faults.push(Fault::new(&at, FaultReason::Duplicate, text));
            }
            faults.extend(by_id.remove(&unit.id).into_iter().flatten());
            if faults.is_empty() {
                sound.push(unit.clone());
            } else {
                self.left_out.push(LeftOut::new("units", &unit.id, faults));
            }
        }
        sound
    }
}

/// The first day of the year that is planned: as asked, or else the one that leaves the fewest bookings out.
fn start(input: &FleetInput, bookings: &[(usize, &Booking)]) -> Option<Date> {
    if input.replan.from.is_some() {
        return input.replan.from;
    }
    let mut firsts: Vec<Date> = bookings.iter().map(|(_, booking)| booking.first_day).collect();
    firsts.sort_unstable();
    firsts.dedup();
    let within =
        |start: Date| bookings.iter().filter(|(_, booking)| span_fault(booking, Some(start)).is_none()).count();
    let apart = firsts.last().zip(firsts.first()).is_some_and(|(last, first)| (*last - *first).get_days() >= MOST_DAYS);
    if !apart && firsts.first().is_some_and(|first| within(*first) == bookings.len()) {
        return firsts.first().copied();
    }
    firsts.into_iter().rev().max_by_key(|start| within(*start))
}

/// The fault of a booking that does not lie in the year that is planned.
fn span_fault(booking: &Booking, start: Option<Date>) -> Option<Fault> {
    let start = start?;
    let end = start.checked_add((MOST_DAYS - 1).days()).ok()?;
    let early = booking.first_day < start && booking.last_day < start;
    (early || booking.last_day > end).then(|| {
        let text = format!(
            "the booking runs from {} to {}, and the others of the plan lie between {start} and {end}; accepted: up to {MOST_DAYS} days in a plan; correct its days, or plan season by season",
            booking.first_day, booking.last_day
        );
        Fault::new("first_day", FaultReason::OutOfRange, text)
    })
}

fn unknown(field: &str, name: &str) -> Fault {
    let text = format!("{field} is '{name}', which does not exist; accepted: a stored name; list what there is");
    Fault::new(field, FaultReason::Unknown, text)
}
