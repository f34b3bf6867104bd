//! What is different from the plan that was to be kept, and who has to be told.

use std::collections::BTreeMap;

use super::types::{Assignment, Change, ChangeKind, FleetInput, Gear, Kept};
use domain::{Booking, Id, Part, Sentence};

/// Every change, by the name of the booking. `given` is what each booking of the input gets; `known` are all bookings there
/// are, those included that are over or left out, which are no changes.
pub(super) fn changes(
    input: &FleetInput,
    (given, assignments): (&[Option<Gear>], &[Assignment]),
    known: &[&Id],
) -> Vec<Change> {
    if input.replan.kept.is_empty() {
        return Vec::new();
    }
    let mut kept: BTreeMap<&Id, &Kept> = input.replan.kept.iter().map(|kept| (&kept.booking, kept)).collect();
    let mut changes: Vec<Change> = Vec::new();
    for (index, (booking, after)) in input.bookings.iter().zip(given).enumerate() {
        let before = kept.remove(&booking.id);
        let gear = before.map(|kept| kept.gear.clone());
        let own = assignments.iter().find(|own| own.booking == index);
        let units = own.map(|own| own.named.as_slice()).unwrap_or_default();
        let told = change(&booking.id, &booking.display_name, (gear, after.clone()));
        changes.extend(told.or_else(|| renamed(input, booking, (before?, after.as_ref()?), units)));
    }
    let gone = kept.into_values().filter(|kept| !known.contains(&&kept.booking));
    changes.extend(gone.map(|kept| {
        let text = "{party} is no longer booked: {units} of {sensor} are free.";
        let sentence = sentence("change-cancelled", text, &kept.display_name, &[(["units", "sensor"], &kept.gear)]);
        let (booking, display_name) = (kept.booking.clone(), kept.display_name.clone());
        let before = Some(kept.gear.clone());
        Change { booking, display_name, kind: ChangeKind::Cancelled, before, after: None, sentence }
    }));
    changes.sort_by(|a, b| (&a.display_name, &a.booking).cmp(&(&b.display_name, &b.booking)));
    changes
}

fn change(booking: &Id, display_name: &str, (before, after): (Option<Gear>, Option<Gear>)) -> Option<Change> {
    const NEW: [&str; 2] = ["units", "sensor"];
    const OLD: [&str; 2] = ["old_units", "old_sensor"];
    let (kind, sentence) = match (&before, &after) {
        (None, None) => return None,
        (None, Some(new)) => {
            let text = "Say to {party}: it gets {units} of {sensor}.";
            (ChangeKind::Added, sentence("change-added", text, display_name, &[(NEW, new)]))
        }
        (Some(old), None) => {
            let text = "Say to {party}: it cannot have {old_units} of {old_sensor} any more, nor anything else.";
            (ChangeKind::Dropped, sentence("change-dropped", text, display_name, &[(OLD, old)]))
        }
        (Some(old), Some(new)) if old.sensor != new.sensor => {
            let text = "Say to {party}: it gets {units} of {sensor}, not {old_units} of {old_sensor}.";
            (ChangeKind::Exchanged, sentence("change-exchanged", text, display_name, &[(NEW, new), (OLD, old)]))
        }
        (Some(old), Some(new)) if old.units != new.units => {
            let text = "Say to {party}: it gets {units} of {sensor}, not {old_units}.";
            (ChangeKind::Resized, sentence("change-resized", text, display_name, &[(NEW, new), (OLD, old)]))
        }
        (Some(old), Some(new)) if old.option != new.option => {
            let text = "Give {party} a new card: the switch of its {sensor} goes to {beam}, not to {old_beam}.";
            let mut sentence = sentence("change-switched", text, display_name, &[(NEW, new)]);
            let beams = [("beam", &new.beam), ("old_beam", &old.beam)];
            sentence.parts.extend(beams.map(|(name, beam)| (name, Part::Figure(beam.clone()))));
            (ChangeKind::Switched, Sentence::of(sentence.key, text, sentence.parts))
        }
        (Some(_), Some(_)) => return None,
    };
    Some(Change { booking: booking.clone(), display_name: display_name.to_owned(), kind, before, after, sentence })
}

/// The same kind, but other pieces, or some to buy where there were pieces.
fn renamed(input: &FleetInput, booking: &Booking, (before, after): (&Kept, &Gear), units: &[Id]) -> Option<Change> {
    // Lent units are what they are.
    if before.units.is_empty() || before.units == units {
        return None;
    }
    let names = |units: &[Id]| {
        let name = |id: &Id| {
            input
                .units
                .iter()
                .find(|unit| unit.id == *id)
                .map_or_else(|| id.to_string(), |unit| unit.display_name.clone())
        };
        units.iter().map(name).collect::<Vec<_>>().join(", ")
    };
    let to_buy = usize::try_from(after.units).unwrap_or(usize::MAX).saturating_sub(units.len());
    let parts = vec![
        ("party", Part::Name(booking.display_name.clone())),
        ("old", Part::Name(names(&before.units))),
        ("new", Part::Name(names(units))),
        ("count", Part::Figure(to_buy.to_string())),
    ];
    let sentence = match (units.is_empty(), to_buy) {
        (_, 0) => Sentence::of("change-renamed", "Give {party} {new}, not {old}.", parts),
        (true, _) => Sentence::of("change-to-buy", "{party} loses {old} to others: {count} to buy for it.", parts),
        (false, _) => Sentence::of("change-renamed-to-buy", "Give {party} {new} and {count} to buy, not {old}.", parts),
    };
    let (before, after) = (Some(before.gear.clone()), Some(after.clone()));
    let (booking, display_name) = (booking.id.clone(), booking.display_name.clone());
    Some(Change { booking, display_name, kind: ChangeKind::Renamed, before, after, sentence })
}

/// A sentence about a party and its gear, each with the names of its parts.
fn sentence(key: &'static str, text: &str, party: &str, gear: &[([&'static str; 2], &Gear)]) -> Sentence {
    let mut parts = vec![("party", Part::Name(party.to_owned()))];
    for ([units, sensor], gear) in gear {
        parts.push((units, Part::Figure(gear.units.to_string())));
        parts.push((sensor, Part::Name(gear.sensor_name.clone())));
    }
    Sentence::of(key, text, parts)
}
