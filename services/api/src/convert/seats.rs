//! Seats: who is to be seated, and where, both ways.

use acoustics::units::Db;
use domain::{Fault, FaultReason, Id, MAX_NAME_CHARS, looks_empty};
use planning::recommend::{highest, start};
use planning::rules::{AllAlike, Seat, Seats, SeatsInput, Unseated, WhyNot};
use proto::v1;

use super::rules::{self, Spec};
use super::run::each;
use super::{Reading, sentence};
use crate::names::{self, OptionName};

/// A request whose names are read; what it names is yet to be looked up.
pub(crate) struct Party {
    /// As rules for the shelter would be asked for.
    pub(crate) spec: Spec,
    /// By person: what they may use.
    pub(crate) people: Vec<Vec<OptionName>>,
    /// By option of the spec: where it was first named.
    pub(crate) places: Vec<String>,
}

/// Reads a request.
pub(crate) fn party(message: &v1::SeatPeopleRequest) -> Result<Party, Vec<Fault>> {
    let mut reading = Reading::default();
    let mut people = Vec::with_capacity(message.people.len());
    for (place, person) in message.people.iter().enumerate() {
        let field = format!("people[{place}].display_name");
        let name = &person.display_name;
        if looks_empty(name) || name.chars().count() > MAX_NAME_CHARS {
            let text =
                format!("{field} is empty or too long; accepted: 1 to {MAX_NAME_CHARS} characters; name the person");
            reading.add(Fault::new(field, FaultReason::BadForm, text));
        }
        let field = format!("people[{place}].options");
        people.push(each(&mut reading, &field, &person.options, names::parse_option));
    }
    let spec = rules::spec(&v1::RulesSpec {
        shelters: vec![message.shelter.clone()],
        lure: message.lure.clone(),
        bands: message.band.into_iter().collect(),
        bottom_classes: message.bottom_classes.clone(),
        interference_tolerance: message.interference_tolerance,
        lure_margin_db: message.lure_margin_db,
        strong_mark_db: message.strong_mark_db,
        lure_height_m: message.lure_height_m,
        ..v1::RulesSpec::default()
    });
    let spec = spec.map_err(|faults| faults.into_iter().map(of_request).for_each(|fault| reading.add(fault))).ok();
    let read = reading.finish((), |()| Vec::new());
    match (read, spec) {
        (Ok(()), Some(mut spec)) => {
            let places;
            (spec.options, places) = once_each(&people);
            Ok(Party { spec, people, places })
        }
        (Err(faults), _) => Err(faults),
        // What is not read has left its fault behind.
        (Ok(()), None) => Err(Vec::new()),
    }
}

/// Everything that is brought, each option once, with the place where it is first named.
fn once_each(people: &[Vec<OptionName>]) -> (Vec<OptionName>, Vec<String>) {
    let all: Vec<(&OptionName, String)> = people
        .iter()
        .enumerate()
        .flat_map(|(person, names)| names.iter().enumerate().map(move |(at, name)| (person, at, name)))
        .map(|(person, at, name)| (name, format!("people[{person}].options[{at}]")))
        .collect();
    let whole = |of: &Id| all.iter().any(|(name, _)| matches!(name, OptionName::All { sensor } if sensor == of));
    let first = |at: usize, name: &OptionName| all.iter().take(at).all(|(before, _)| *before != name);
    let kept = all.iter().enumerate().filter(|(at, (name, _))| match name {
        OptionName::All { .. } => first(*at, name),
        // One of a sensor that somebody brings whole is among its options.
        OptionName::One { sensor, .. } => !whole(sensor) && first(*at, name),
    });
    kept.map(|(_, (name, place))| ((*name).clone(), place.clone())).unzip()
}

/// A fault of the rules' spec at its place in the request.
pub(crate) fn of_request(fault: Fault) -> Fault {
    let named = |text: &str| text.replace("shelters[0]", "shelter").replace("bands[0]", "band");
    Fault { field: named(&fault.field), message: named(&fault.message), ..fault }
}

/// Writes seats.
pub(crate) fn to(message: &v1::SeatPeopleRequest, input: &SeatsInput, seats: &Seats) -> v1::SeatPeopleResponse {
    let name = |person: usize| message.people.get(person).map(|person| person.display_name.clone()).unwrap_or_default();
    v1::SeatPeopleResponse {
        holes: rules::holes_to(&seats.holes),
        options: rules::options_to(&input.sensors, &input.options),
        seats: seats.seats.iter().map(|seat| seat_to(seat, name(seat.person))).collect(),
        unseated: seats.unseated.iter().map(|one| unseated_to(*one, name(one.person))).collect(),
        least_headroom_db: seats.least_headroom.map(Db::get),
        bound_db: seats.bound.map(Db::get),
        same_for_all: seats.alike.map(|AllAlike { option, least_headroom }| v1::SameForAll {
            option: rules::index(option),
            least_headroom_db: least_headroom.map(Db::get),
        }),
    }
}

fn seat_to(seat: &Seat, display_name: String) -> v1::Seat {
    v1::Seat {
        person: rules::index(seat.person),
        display_name,
        hole: rules::index(seat.hole),
        option: rules::index(seat.option),
        start_gain_db: seat.start_gain.get(),
        highest_gain_db: seat.highest_gain.get(),
        start: Some(sentence::one(&start(&seat.setting.start, &seat.setting.highest))),
        highest: Some(sentence::one(&highest(&seat.setting.highest))),
    }
}

fn unseated_to(one: Unseated, display_name: String) -> v1::UnseatedPerson {
    let refusal = match one.why {
        WhyNot::Reach => v1::SeatRefusal::Reach,
        WhyNot::Neighbours => v1::SeatRefusal::Neighbours,
        WhyNot::NotFound => v1::SeatRefusal::NotFound,
    };
    v1::UnseatedPerson { person: rules::index(one.person), display_name, refusal: refusal.into() }
}
