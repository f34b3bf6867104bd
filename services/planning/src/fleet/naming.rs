//! Which units each booking gets, once it is settled how many of which kind.
//!
//! Bookings are served in the order of their first days. Units that are free on a day are alike for all later ones, so that any free one will do
//! and there are always enough where the plan counts enough; which it is follows wishes: what a booking holds, what it was to get, and no unit
//! that another is to get.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::presence::{Presence, holder, presence};
use super::roofs::begins;
use super::suit::Offer;
use super::types::FleetInput;
use domain::{Booking, Id};

/// A unit that can be named.
struct Piece<'a> {
    id: &'a Id,
    /// The last day on which it is not to be had; none where it is there from the beginning.
    until: Option<Date>,
    holder: Option<&'a Booking>,
}

/// By booking of the input: its units, in the order of their ids.
pub(super) fn named(input: &FleetInput, given: &[Option<&Offer>]) -> Vec<Vec<Id>> {
    let mut named = vec![Vec::new(); input.bookings.len()];
    for (sensor, record) in input.sensors.iter().enumerate() {
        let mut pieces: Vec<Piece<'_>> = input
            .units
            .iter()
            .filter(|unit| unit.sensor == record.id)
            .filter_map(|unit| {
                let until = match presence(input, unit) {
                    Presence::Here => None,
                    Presence::From(back) => Some(back.yesterday().ok()?),
                    Presence::Gone => return None,
                };
                Some(Piece { id: &unit.id, until, holder: holder(input, unit) })
            })
            .collect();
        pieces.sort_by_key(|piece| piece.id);
        let mut bookings: Vec<(usize, &Booking)> = input
            .bookings
            .iter()
            .enumerate()
            .filter(|(index, _)| given.get(*index).copied().flatten().is_some_and(|offer| offer.sensor == sensor))
            .collect();
        bookings.sort_by_key(|(_, booking)| (begins(booking, input.replan.from), &booking.id));
        for (index, booking) in &bookings {
            if let Some(slot) = named.get_mut(*index) {
                *slot = serve(input, booking, &bookings, &mut pieces);
            }
        }
    }
    named
}

/// Gives a booking its units, which are taken until its last day.
fn serve(input: &FleetInput, booking: &Booking, all: &[(usize, &Booking)], pieces: &mut [Piece<'_>]) -> Vec<Id> {
    let first = begins(booking, input.replan.from);
    let wished = |booking: &Booking| {
        input
            .replan
            .kept
            .iter()
            .find(|kept| kept.booking == booking.id)
            .map(|kept| kept.units.as_slice())
            .unwrap_or_default()
    };
    let overlaps =
        |other: &&Booking| other.id != booking.id && other.first_day <= booking.last_day && first <= other.last_day;
    let others: BTreeSet<&Id> = all.iter().map(|(_, other)| *other).filter(overlaps).flat_map(wished).collect();
    let own = wished(booking);
    let mut free: Vec<&mut Piece<'_>> = pieces
        .iter_mut()
        .filter(|piece| match piece.holder {
            Some(holder) if holder.id == booking.id => true,
            // With another booking until that is over.
            Some(holder) => holder.last_day < first && piece.until.is_none_or(|until| until < first),
            None => piece.until.is_none_or(|until| until < first),
        })
        .collect();
    free.sort_by_key(|piece| {
        let held = piece.holder.is_some_and(|holder| holder.id == booking.id);
        (!held, !own.contains(piece.id), others.contains(piece.id), piece.id)
    });
    let count = usize::try_from(booking.anglers).unwrap_or(usize::MAX);
    let mut units: Vec<Id> = free
        .into_iter()
        .take(count)
        .map(|piece| {
            piece.until = Some(booking.last_day);
            piece.id.clone()
        })
        .collect();
    units.sort_unstable();
    units
}
