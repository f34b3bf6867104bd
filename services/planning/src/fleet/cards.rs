//! Cards that say how to set up.

use acoustics::units::Metres;

use super::roofs::{Roofs, hut, party};
use super::suit::Offer;
use super::types::{FleetInput, SetUpCard};
use crate::layout::{self, Layouts};
use crate::recommend;
use domain::setting::{Highest, Setting, Start, setting};
use domain::wording::{beam_name, number};
use domain::{BeamOption, Booking, Cancel, Part, Sensor, Sentence, Shelter, Spot};

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
    let shelter = hut(input, booking).filter(|_| people > 1);
    let set = setting(sensor, &offer.gains);
    let spot = input.spots.iter().find(|spot| spot.id == booking.spot)?;
    let most = offer.gains.max;
    let mut card = SetUpCard {
        booking: index,
        option: offer.option,
        units: booking.anglers,
        start_gain: offer.gains.working,
        start: recommend::start(&set.start),
        highest_gain: offer.gains.clear.map(|clear| if clear < most { clear } else { most }),
        highest: offer.gains.clear.map(|_| recommend::highest(&set.highest)),
        hole_spacing: shelter.and_then(|shelter| spacing(shelter, people, layouts)),
        hang_depth: spot.ice_thickness.unwrap_or(UNKNOWN_ICE) + HANDS_BREADTH,
        lure_height: spot.lure_height,
        steps: Vec::new(),
    };
    card.steps = steps(&card, (booking, spot), (shelter, people), (sensor, option), &set);
    Some(card)
}

/// Least distance between the holes of all who share a shelter.
fn spacing(shelter: &Shelter, people: u32, layouts: &Layouts) -> Option<Metres> {
    layout::least_spacing(&layouts.holes(&party(shelter, people), &Cancel::never()).ok()?)
}

fn steps(
    card: &SetUpCard,
    (booking, spot): (&Booking, &Spot),
    (shelter, people): (Option<&Shelter>, u32),
    (sensor, option): (&Sensor, &BeamOption),
    set: &Setting,
) -> Vec<Sentence> {
    let switch = if card.units == 1 {
        ("step-switch-one", "Switch the unit to {beam}.")
    } else {
        ("step-switch-many", "Switch all {units} units to {beam}.")
    };
    let units = || ("units", figure(card.units.to_string()));
    let mut steps = vec![
        Sentence::plain(
            "step-ice",
            "Before anybody goes out: whether the ice bears, and how to travel on it, is for local authorities and their advice to say; this card says nothing about it.",
        ),
        holes(card, shelter, people),
        hang(card, spot.ice_thickness),
        Sentence::new(switch.0, switch.1, [units(), ("beam", figure(beam_name(option)))]),
        begin(card, &set.start),
    ];
    match &set.highest {
        Highest::Alone if booking.anglers > 1 => {
            steps.push(Sentence::plain("step-far-apart", "Drill far apart: nobody shares a shelter here, and the gain above counts on that. Where marks of others show, move further apart."));
        }
        Highest::Alone | Highest::NoLimit => {
            steps.push(Sentence::plain(
                "step-search-alone",
                "To look for fish, turn up until clutter begins to hide them.",
            ));
        }
        Highest::At(at) => steps.push(Sentence::new(
            "step-search",
            "To look for fish, turn up, but not past {gain}: further up the marks of neighbours begin to show.",
            [("gain", figure(at.reading.clone()))],
        )),
        Highest::PastFirstShowing(room) => steps.push(Sentence::new(
            "step-search-past",
            "To look for fish, turn up, but no further than {room} past where the lure first showed: further up the marks of neighbours begin to show.",
            [("room", figure(recommend::room_text(room)))],
        )),
        Highest::NotHere => steps.push(Sentence::plain(
            "step-neighbours-first",
            "Neighbours show here before lure and bottom do: leave the gain where the lure first shows.",
        )),
    }
    if card.highest.is_some() {
        let parts = [("sensor", Part::Name(sensor.display_name.clone()))];
        steps.push(Sentence::new("step-neighbours", "When marks of neighbours show: turn down a little at a time while the lure still shows; then move the holes or the transducers further apart; then let two swap places, which tells whether it is the place or the unit ({sensor}).", parts));
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

/// Where the gain begins: at a position of the dial where threshold and dial are known, or by the lure itself.
fn begin(card: &SetUpCard, start: &Start) -> Sentence {
    let height = ("height", metres(card.lure_height.get()));
    match start {
        Start::At(at) => Sentence::new(
            "step-set",
            "Hang the lure {height} over the bottom and set the gain to {gain}: lure and bottom show there.",
            [height, ("gain", figure(at.reading.clone()))],
        ),
        Start::FirstShowing { more } if more.gain.get() < 1.0 => Sentence::new(
            "step-find-leave",
            "Hang the lure {height} over the bottom, turn up from zero until it first shows, and leave it there.",
            [height],
        ),
        Start::FirstShowing { .. } | Start::NotReached => Sentence::new(
            "step-find",
            "Hang the lure {height} over the bottom, turn up from zero until it first shows, then a little more.",
            [height],
        ),
    }
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

fn metres(value: f64) -> Part {
    figure(format!("{} m", number(value, 2)))
}

const fn figure(text: String) -> Part {
    Part::Figure(text)
}
