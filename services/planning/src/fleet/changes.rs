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
        let sentence = sentence("change-cancelled", &kept.display_name, &[(["units", "sensor"], &kept.gear)]);
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
        (None, Some(new)) => (ChangeKind::Added, sentence("change-added", display_name, &[(NEW, new)])),
        (Some(old), None) => (ChangeKind::Dropped, sentence("change-dropped", display_name, &[(OLD, old)])),
        (Some(old), Some(new)) if old.sensor != new.sensor => {
            (ChangeKind::Exchanged, sentence("change-exchanged", display_name, &[(NEW, new), (OLD, old)]))
        }
        (Some(old), Some(new)) if old.units != new.units => {
            (ChangeKind::Resized, sentence("change-resized", display_name, &[(NEW, new), (OLD, old)]))
        }
        (Some(old), Some(new)) if old.option != new.option => {
            let beam = |gear: &Gear| Part::Figure(gear.beam.clone());
            let sentence = sentence("change-switched", display_name, &[(NEW, new)]);
            (ChangeKind::Switched, sentence.with("beam", beam(new)).with("old_beam", beam(old)))
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
    let key = match (units.is_empty(), to_buy) {
        (_, 0) => "change-renamed",
        (true, _) => "change-to-buy",
        (false, _) => "change-renamed-to-buy",
    };
    let sentence = Sentence::of(key, parts);
    let (before, after) = (Some(before.gear.clone()), Some(after.clone()));
    let (booking, display_name) = (booking.id.clone(), booking.display_name.clone());
    Some(Change { booking, display_name, kind: ChangeKind::Renamed, before, after, sentence })
}

/// A sentence about a party and its gear, each with the names of its parts.
fn sentence(key: &'static str, party: &str, gear: &[([&'static str; 2], &Gear)]) -> Sentence {
    let mut parts = vec![("party", Part::Name(party.to_owned()))];
    for ([units, sensor], gear) in gear {
        parts.push((units, Part::Figure(gear.units.to_string())));
        parts.push((sensor, Part::Name(gear.sensor_name.clone())));
    }
    Sentence::of(key, parts)
}
