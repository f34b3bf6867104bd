//! Cards that say how to set up.

use acoustics::units::Metres;

use super::roofs::{Roofs, hut, party};
use super::suit::Offer;
use super::types::{FleetInput, SetUpCard};
use crate::layout::{self, Layouts};
use crate::recommend;
use domain::setting::{Highest, Setting, Start, setting};
use domain::wording::beam_name;
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
        start: recommend::start(&set.start, &set.highest),
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
    let mut steps = vec![
        Sentence::plain("step-ice"),
        holes(card, shelter, people),
        hang(card, spot.ice_thickness),
        Sentence::new("step-switch", [units(card), ("beam", figure(beam_name(option)))]),
        begin(card, &set.start),
    ];
    match &set.highest {
        Highest::Alone if booking.anglers > 1 => {
            steps.push(Sentence::plain("step-far-apart"));
        }
        Highest::Alone | Highest::NoLimit => {
            steps.push(Sentence::plain("step-search-alone"));
        }
        Highest::At(at) => steps.push(Sentence::new("step-search", [("gain", figure(at.reading.clone()))])),
        Highest::PastFirstShowing(room) if recommend::no_room(room) => steps.push(Sentence::plain("step-search-first")),
        Highest::PastFirstShowing(room) => {
            steps.push(Sentence::new("step-search-past", [("room", figure(recommend::room_text(room)))]))
        }
        Highest::NotHere => steps.push(Sentence::plain("step-neighbours-first")),
    }
    if card.highest.is_some() {
        let parts = [("sensor", Part::Name(sensor.display_name.clone()))];
        steps.push(Sentence::new("step-neighbours", parts));
    }
    if booking.shelter.is_some() {
        steps.push(Sentence::plain("step-heater"));
    }
    steps.push(Sentence::plain("step-leave"));
    steps
}

/// Where the gain begins: at a position of the dial where threshold and dial are known, or by the lure itself.
fn begin(card: &SetUpCard, start: &Start) -> Sentence {
    let height = ("height", metres(card.lure_height.get()));
    match start {
        Start::At(at) => Sentence::new("step-set", [height, ("gain", figure(at.reading.clone()))]),
        Start::FirstShowing { more } if more.gain.get() < 1.0 => Sentence::new("step-find-leave", [height]),
        Start::FirstShowing { .. } | Start::NotReached => Sentence::new("step-find", [height]),
    }
}

/// Where the holes go.
fn holes(card: &SetUpCard, shelter: Option<&Shelter>, people: u32) -> Sentence {
    let units = units(card);
    match (shelter, card.hole_spacing) {
        (Some(shelter), Some(spacing)) if people > card.units => Sentence::new(
            "step-drill-shared",
            [
                units,
                ("people", figure(people.to_string())),
                ("shelter", Part::Name(shelter.display_name.clone())),
                ("spacing", metres(libm::floor(spacing.get() * 100.0) / 100.0)),
            ],
        ),
        (Some(shelter), Some(spacing)) => Sentence::new(
            "step-drill-laid-out",
            [
                units,
                ("shelter", Part::Name(shelter.display_name.clone())),
                ("spacing", metres(libm::floor(spacing.get() * 100.0) / 100.0)),
            ],
        ),
        _ => Sentence::new("step-drill", [units]),
    }
}

/// How deep a transducer hangs.
fn hang(card: &SetUpCard, ice: Option<Metres>) -> Sentence {
    let depth = ("depth", metres(card.hang_depth.get()));
    match ice {
        Some(ice) => Sentence::new("step-hang", [depth, ("ice", metres(ice.get()))]),
        None => Sentence::new("step-hang-unknown", [depth, ("ice", metres(UNKNOWN_ICE.get()))]),
    }
}

fn units(card: &SetUpCard) -> (&'static str, Part) {
    ("units", Part::count(card.units))
}

fn metres(value: f64) -> Part {
    Part::Length(Metres::new(libm::round(100.0 * value) / 100.0))
}

const fn figure(text: String) -> Part {
    Part::Figure(text)
}
