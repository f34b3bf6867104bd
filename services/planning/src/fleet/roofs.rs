//! Who fishes under one roof: bookings that share a shelter on a day are one party for what neighbours hear of each other.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::types::FleetInput;
use domain::{Booking, HolePlan, Id, Shelter};

/// What each booking shares.
pub(super) struct Roofs {
    /// By booking: most people under its roof on one of its days; 1 without a roof, as people then stand far apart.
    people: Vec<u32>,
    /// By booking: the party of several bookings that it belongs to.
    party: Vec<Option<usize>>,
    /// How many there are.
    parties: usize,
}

impl Roofs {
    pub(super) fn new(input: &FleetInput) -> Self {
        let from = input.replan.from;
        let mut by_roof: BTreeMap<(&Id, &Id), Vec<usize>> = BTreeMap::new();
        for (index, booking) in input.bookings.iter().enumerate() {
            if let Some(shelter) = &booking.shelter {
                by_roof.entry((shelter, &booking.spot)).or_default().push(index);
            }
        }
        let count = input.bookings.len();
        let mut roofs = Self { people: vec![1; count], party: vec![None; count], parties: 0 };
        for members in by_roof.values() {
            let mut members: Vec<(usize, &Booking)> =
                members.iter().filter_map(|index| Some((*index, input.bookings.get(*index)?))).collect();
            for (index, booking) in &members {
                let all = members.iter().map(|(_, other)| *other);
                if let Some(slot) = roofs.people.get_mut(*index) {
                    *slot = busiest(booking, all, from);
                }
            }
            members.sort_by_key(|(_, booking)| (begins(booking, from), &booking.id));
            roofs.group(&members, from);
        }
        roofs
    }

    /// Bookings in the order of their first days that overlap in a chain are one party.
    fn group(&mut self, members: &[(usize, &Booking)], from: Option<Date>) {
        let mut chain: Vec<usize> = Vec::new();
        let mut until: Option<Date> = None;
        for (index, booking) in members {
            if until.is_some_and(|until| begins(booking, from) > until) {
                self.close(&chain);
                chain.clear();
                until = None;
            }
            chain.push(*index);
            until = until.max(Some(booking.last_day));
        }
        self.close(&chain);
    }

    fn close(&mut self, chain: &[usize]) {
        if chain.len() < 2 {
            return;
        }
        for index in chain {
            if let Some(slot) = self.party.get_mut(*index) {
                *slot = Some(self.parties);
            }
        }
        self.parties += 1;
    }

    /// Most people under a booking's roof on one of its days.
    pub(super) fn people(&self, booking: usize) -> u32 {
        self.people.get(booking).copied().unwrap_or(1)
    }

    /// The party of several bookings that a booking belongs to.
    pub(super) fn party(&self, booking: usize) -> Option<usize> {
        self.party.get(booking).copied().flatten()
    }

    /// Bookings of the same party, itself included.
    pub(super) fn members(&self, party: usize) -> impl Iterator<Item = usize> + '_ {
        self.party.iter().enumerate().filter(move |(_, own)| **own == Some(party)).map(|(booking, _)| booking)
    }
}

/// The first day of a booking that is planned.
pub(super) fn begins(booking: &Booking, from: Option<Date>) -> Date {
    from.map_or(booking.first_day, |from| booking.first_day.max(from))
}

/// Most people of some bookings on one of the days of one of them.
pub(super) fn busiest<'a>(booking: &Booking, all: impl Iterator<Item = &'a Booking>, from: Option<Date>) -> u32 {
    let first = begins(booking, from);
    let mut changes: BTreeMap<(Date, bool), u32> = BTreeMap::new();
    for other in all.filter(|other| other.first_day <= booking.last_day && first <= other.last_day) {
        // On one day arrivals come before departures, as the last day is included.
        *changes.entry((other.first_day.max(first), false)).or_default() += other.anglers;
        *changes.entry((other.last_day, true)).or_default() += other.anglers;
    }
    let (mut people, mut most) = (0_u32, 0);
    for ((_, leave), anglers) in changes {
        people = if leave { people.saturating_sub(anglers) } else { people.saturating_add(anglers) };
        most = most.max(people);
    }
    most
}

/// The shelter that a booking shares.
pub(super) fn hut<'a>(input: &'a FleetInput, booking: &Booking) -> Option<&'a Shelter> {
    let id = booking.shelter.as_ref()?;
    input.shelters.iter().find(|shelter| shelter.id == *id)
}

/// A shelter with as many holes as a party has people: as drilled where that is so many, or else laid out.
pub(super) fn party(shelter: &Shelter, people: u32) -> Shelter {
    match &shelter.holes {
        HolePlan::Drilled(holes) if u32::try_from(holes.len()) == Ok(people) => shelter.clone(),
        _ => Shelter { holes: HolePlan::Party(people), ..shelter.clone() },
    }
}

/// Whether a booking runs on a day.
pub(super) fn runs(booking: &Booking, day: Date) -> bool {
    (booking.first_day..=booking.last_day).contains(&day)
}
