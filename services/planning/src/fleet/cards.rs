//! Cards that say how to set up.

use acoustics::units::{Db, Metres};

use super::suit::{Offer, hut, party};
use super::types::{FleetInput, SetUpCard};
use crate::dial::Rounding;
use crate::domain::{BeamOption, Booking, Sensor, Shelter};
use crate::layout::{self, Layouts};
use crate::wording::{beam_name, number};

/// A hand's breadth: so far a transducer hangs under the underside of the ice, free of the rim of the hole. Common practice;
/// no published source.
const HANDS_BREADTH: Metres = Metres::new(0.1);
/// Thickness of the ice where a spot does not say. It only places the transducer and says nothing about whether ice bears.
const UNKNOWN_ICE: Metres = Metres::new(0.4);

/// The card of a booking; none where a record is missing, which the checks exclude.
pub(super) fn card(input: &FleetInput, index: usize, offer: &Offer, layouts: &Layouts) -> Option<SetUpCard> {
    let booking = input.bookings.get(index)?;
    let place = input.options.get(offer.option)?;
    let sensor = input.sensors.get(place.sensor)?;
    let option = sensor.options.get(place.option)?;
    let ice = input.spots.iter().find(|spot| spot.id == booking.spot)?.ice_thickness;
    let shelter = hut(input, booking).filter(|_| booking.anglers > 1);
    let highest_gain = offer.clear.map(|clear| if clear < offer.max { clear } else { offer.max });
    let mut card = SetUpCard {
        booking: index,
        option: offer.option,
        units: booking.anglers,
        start_gain: offer.working,
        start_dial: sensor.dial.reading(offer.working, Rounding::Up),
        highest_gain,
        highest_dial: highest_gain.and_then(|gain| sensor.dial.reading(gain, Rounding::Down)),
        hole_spacing: shelter.and_then(|shelter| spacing(shelter, booking, layouts)),
        hang_depth: ice.unwrap_or(UNKNOWN_ICE) + HANDS_BREADTH,
        steps: Vec::new(),
    };
    card.steps = steps(&card, booking, shelter, (sensor, option), ice);
    Some(card)
}

/// Least distance between the holes of a party.
fn spacing(shelter: &Shelter, booking: &Booking, layouts: &Layouts) -> Option<Metres> {
    layout::least_spacing(&layouts.holes(&party(shelter, booking.anglers)).ok()?)
}

fn steps(
    card: &SetUpCard,
    booking: &Booking,
    shelter: Option<&Shelter>,
    (sensor, option): (&Sensor, &BeamOption),
    ice: Option<Metres>,
) -> Vec<String> {
    let mut steps = vec![
        "Before anybody goes out: whether the ice bears, and how to travel on it, is for local authorities and their advice to say; this card says nothing about it."
            .to_owned(),
        holes(card, shelter),
        hang(card, ice),
        format!("Switch {} to {}.", every(card.units), beam_name(option)),
        format!(
            "Set the gain of {} to {}: lure and bottom show there.",
            every(card.units),
            at(card.start_dial.as_deref(), card.start_gain)
        ),
    ];
    match card.highest_gain {
        Some(highest) => {
            let dial = at(card.highest_dial.as_deref(), highest);
            steps.push(if highest < card.start_gain {
                format!("Neighbours show already at the gain that lure and bottom need: they stay off the display up to {dial} only. Do not turn up further.")
            } else {
                format!("To look for fish, turn up, but not past {dial}: further up the marks of neighbours begin to show.")
            });
            steps.push(neighbours(card, sensor));
        }
        None if booking.anglers > 1 => {
            steps.push("Drill far apart: nobody shares a shelter here, and the gain above counts on that. Where marks of others show, move further apart.".to_owned());
        }
        None => steps.push("To look for fish, turn up until clutter begins to hide them.".to_owned()),
    }
    if booking.shelter.is_some() {
        steps.push(
            "With a heater in the shelter: ventilate it, keep a carbon monoxide alarm running and the exit free."
                .to_owned(),
        );
    }
    steps.push("On leaving, mark every hole so that nobody steps into it.".to_owned());
    steps
}

/// Where the holes go.
fn holes(card: &SetUpCard, shelter: Option<&Shelter>) -> String {
    match (shelter, card.hole_spacing) {
        (Some(shelter), Some(spacing)) => format!(
            "Drill {} holes in {} as they are laid out, at least {} m from centre to centre.",
            card.units,
            shelter.display_name,
            number(libm::floor(spacing.get() * 100.0) / 100.0, 2)
        ),
        _ if card.units == 1 => "Drill one hole.".to_owned(),
        _ => format!("Drill {} holes, far apart from each other.", card.units),
    }
}

/// How deep a transducer hangs.
fn hang(card: &SetUpCard, ice: Option<Metres>) -> String {
    let given = match ice {
        Some(ice) => format!("{} m of ice as recorded", number(ice.get(), 2)),
        None => format!(
            "{} m of ice, taken because none is recorded: measure it in the hole and add the same",
            number(UNKNOWN_ICE.get(), 2)
        ),
    };
    format!(
        "Hang the transducer {} m under the top of the ice ({given}; and a hand's breadth), upright and free of the rim of the hole: one that leans on the ice needs more gain (common practice).",
        number(card.hang_depth.get(), 2)
    )
}

/// What to do when marks of neighbours show.
fn neighbours(card: &SetUpCard, sensor: &Sensor) -> String {
    format!(
        "When marks of neighbours show: turn down a step at a time, no further than {}; then move the holes or the transducers further apart; then let two swap places, which tells whether it is the place or the unit ({}).",
        at(card.start_dial.as_deref(), card.start_gain),
        sensor.display_name
    )
}

/// `10:30 (28 dB)`, or only the gain where the dial does not reach it.
fn at(dial: Option<&str>, gain: Db) -> String {
    let gain = format!("{} dB", number(gain.get(), 1));
    dial.map_or_else(|| gain.clone(), |dial| format!("{dial} ({gain})"))
}

fn every(units: u32) -> String {
    if units == 1 { "the unit".to_owned() } else { format!("all {units} units") }
}
