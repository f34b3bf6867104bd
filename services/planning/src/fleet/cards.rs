//! Cards that say how to set up.

use acoustics::units::{Db, Metres};

use super::roofs::{Roofs, hut, party};
use super::suit::Offer;
use super::types::{FleetInput, SetUpCard};
use crate::layout::{self, Layouts};
use domain::dial::Rounding;
use domain::wording::{beam_name, number};
use domain::{BeamOption, Booking, Cancel, Part, Sensor, Sentence, Shelter};

/// A hand's breadth: so far a transducer hangs under the underside of the ice, free of the rim of the hole. Common practice;
/// no published source.
const HANDS_BREADTH: Metres = Metres::new(0.1);
/// Thickness of the ice where a spot does not say. It only places the transducer and says nothing about whether ice bears.
const UNKNOWN_ICE: Metres = Metres::new(0.4);

/// The card of a booking; none where a record is missing, which the checks exclude.
pub(super) fn card(
    input: &FleetInput,
    roofs: &Roofs,
    (index, offer): (usize, &Offer),
    layouts: &Layouts,
) -> Option<SetUpCard> {
    let people = roofs.people(index);
    let booking = input.bookings.get(index)?;
    let place = input.options.get(offer.option)?;
    let sensor = input.sensors.get(place.sensor)?;
    let option = sensor.options.get(place.option)?;
    let ice = input.spots.iter().find(|spot| spot.id == booking.spot)?.ice_thickness;
    let shelter = hut(input, booking).filter(|_| people > 1);
    let highest_gain = offer.clear.map(|clear| if clear < offer.max { clear } else { offer.max });
    let mut card = SetUpCard {
        booking: index,
        option: offer.option,
        units: booking.anglers,
        start_gain: offer.working,
        start_dial: sensor.dial.reading(offer.working, Rounding::Up),
        highest_gain,
        highest_dial: highest_gain.and_then(|gain| sensor.dial.reading(gain, Rounding::Down)),
        hole_spacing: shelter.and_then(|shelter| spacing(shelter, people, layouts)),
        hang_depth: ice.unwrap_or(UNKNOWN_ICE) + HANDS_BREADTH,
        steps: Vec::new(),
    };
    card.steps = steps(&card, booking, (shelter, people), (sensor, option), ice);
    Some(card)
}

/// Least distance between the holes of all who share a shelter.
fn spacing(shelter: &Shelter, people: u32, layouts: &Layouts) -> Option<Metres> {
    layout::least_spacing(&layouts.holes(&party(shelter, people), &Cancel::never()).ok()?)
}

fn steps(
    card: &SetUpCard,
    booking: &Booking,
    (shelter, people): (Option<&Shelter>, u32),
    (sensor, option): (&Sensor, &BeamOption),
    ice: Option<Metres>,
) -> Vec<Sentence> {
    let start = || figure(at(card.start_dial.as_deref(), card.start_gain));
    let (switch, set) = if card.units == 1 {
        (
            ("step-switch-one", "Switch the unit to {beam}."),
            ("step-set-one", "Set the gain of the unit to {gain}: lure and bottom show there."),
        )
    } else {
        (
            ("step-switch-many", "Switch all {units} units to {beam}."),
            ("step-set-many", "Set the gain of all {units} units to {gain}: lure and bottom show there."),
        )
    };
    let units = || ("units", figure(card.units.to_string()));
    let mut steps = vec![
        Sentence::plain(
            "step-ice",
            "Before anybody goes out: whether the ice bears, and how to travel on it, is for local authorities and their advice to say; this card says nothing about it.",
        ),
        holes(card, shelter, people),
        hang(card, ice),
        Sentence::new(switch.0, switch.1, [units(), ("beam", figure(beam_name(option)))]),
        Sentence::new(set.0, set.1, [units(), ("gain", start())]),
    ];
    match card.highest_gain {
        Some(highest) => {
            let gain = [("gain", figure(at(card.highest_dial.as_deref(), highest)))];
            steps.push(if highest < card.start_gain {
                Sentence::new("step-neighbours-first", "Neighbours show already at the gain that lure and bottom need: they stay off the display up to {gain} only. Do not turn up further.", gain)
            } else {
                Sentence::new("step-search", "To look for fish, turn up, but not past {gain}: further up the marks of neighbours begin to show.", gain)
            });
            let parts = [("gain", start()), ("sensor", Part::Name(sensor.display_name.clone()))];
            steps.push(Sentence::new("step-neighbours", "When marks of neighbours show: turn down a step at a time, no further than {gain}; then move the holes or the transducers further apart; then let two swap places, which tells whether it is the place or the unit ({sensor}).", parts));
        }
        None if booking.anglers > 1 => {
            steps.push(Sentence::plain("step-far-apart", "Drill far apart: nobody shares a shelter here, and the gain above counts on that. Where marks of others show, move further apart."));
        }
        None => {
            steps.push(Sentence::plain(
                "step-search-alone",
                "To look for fish, turn up until clutter begins to hide them.",
            ));
        }
    }
    if booking.shelter.is_some() {
        steps.push(Sentence::plain(
            "step-heater",
            "With a heater in the shelter: ventilate it, keep a carbon monoxide alarm running and the exit free.",
        ));
    }
    steps.push(Sentence::plain("step-leave", "On leaving, mark every hole so that nobody steps into it."));
    steps
}

/// Where the holes go.
fn holes(card: &SetUpCard, shelter: Option<&Shelter>, people: u32) -> Sentence {
    let units = ("units", figure(card.units.to_string()));
    match (shelter, card.hole_spacing) {
        (Some(shelter), Some(spacing)) if people > card.units => Sentence::new(
            "step-drill-shared",
            "{people} people share {shelter}: its holes are drilled as they are laid out for all of them, at least {spacing} from centre to centre, and {units} of them are yours. The gains hold for all of them with the same kind of unit on the same beam.",
            [
                units,
                ("people", figure(people.to_string())),
                ("shelter", Part::Name(shelter.display_name.clone())),
                ("spacing", metres(libm::floor(spacing.get() * 100.0) / 100.0)),
            ],
        ),
        (Some(shelter), Some(spacing)) => Sentence::new(
            "step-drill-laid-out",
            "Drill {units} holes in {shelter} as they are laid out, at least {spacing} from centre to centre.",
            [
                units,
                ("shelter", Part::Name(shelter.display_name.clone())),
                ("spacing", metres(libm::floor(spacing.get() * 100.0) / 100.0)),
            ],
        ),
        _ if card.units == 1 => Sentence::plain("step-drill-one", "Drill one hole."),
        _ => Sentence::new("step-drill-many", "Drill {units} holes, far apart from each other.", [units]),
    }
}

/// How deep a transducer hangs.
fn hang(card: &SetUpCard, ice: Option<Metres>) -> Sentence {
    let depth = ("depth", metres(card.hang_depth.get()));
    match ice {
        Some(ice) => Sentence::new(
            "step-hang",
            "Hang the transducer {depth} under the top of the ice ({ice} of ice as recorded; and a hand's breadth), upright and free of the rim of the hole: one that leans on the ice needs more gain (common practice).",
            [depth, ("ice", metres(ice.get()))],
        ),
        None => Sentence::new(
            "step-hang-unknown",
            "Hang the transducer {depth} under the top of the ice ({ice} of ice, taken because none is recorded: measure it in the hole and add the same; and a hand's breadth), upright and free of the rim of the hole: one that leans on the ice needs more gain (common practice).",
            [depth, ("ice", metres(UNKNOWN_ICE.get()))],
        ),
    }
}

/// `10:30 (28 dB)`, or only the gain where the dial does not reach it.
fn at(dial: Option<&str>, gain: Db) -> String {
    let gain = format!("{} dB", number(gain.get(), 1));
    dial.map_or_else(|| gain.clone(), |dial| format!("{dial} ({gain})"))
}

fn metres(value: f64) -> Part {
    figure(format!("{} m", number(value, 2)))
}

const fn figure(text: String) -> Part {
    Part::Figure(text)
}
