//! Sentences as the service makes them: set-up cards, a sheet for a survey, verdicts on units.

use acoustics::units::{Celsius, Db, Metres};
use jiff::civil::date;
use planning::Sentence;
use planning::domain::selection::{Goal, OptionRef};
use planning::domain::{Booking, BottomClass, TargetKind, Unit, UnitCheck, UnitState};
use planning::fleet::{FleetInput, plan};
use planning::survey::sheet;
use planning::units::{AssessmentInput, AssessmentSettings, assess};

use super::common;

/// Of one angler, of a party in a shelter, and of one without; of a survey; of a unit with a check and one without.
pub(super) fn all() -> Vec<Sentence> {
    let cards = plan(&bookings(), &|| true).unwrap().cards.into_iter().flat_map(|card| card.steps);
    let bead = common::target("ball", TargetKind::Reference, -58.0);
    let survey = sheet(&common::piston("s", 12.0), &common::id("main"), &bead, Metres::new(9.0), 12).unwrap();
    let verdicts = assess(&checks()).unwrap().units.into_iter().flat_map(|unit| unit.text);
    cards.chain(survey.steps).chain(survey.can_tell).chain(verdicts).collect()
}

fn unit(n: usize) -> Unit {
    Unit {
        id: common::id(&format!("u{n}")),
        display_name: format!("Unit {n}"),
        notes: common::NOTES.to_owned(),
        sensor: common::id("s"),
        serial: format!("S-{n}"),
        state: UnitState::Ready,
    }
}

fn bookings() -> FleetInput {
    let booking = |n: usize, anglers: u32, shelter: Option<&str>| Booking {
        id: common::id(&format!("b{n}")),
        display_name: format!("Party {n}"),
        notes: common::NOTES.to_owned(),
        spot: common::id("p"),
        shelter: shelter.map(common::id),
        anglers,
        first_day: date(2026, 1, 3),
        last_day: date(2026, 1, 3),
        goal: Goal::WatchLure,
        lure: common::id("lure"),
        fish: common::id("fish"),
        min_score: 0.0,
        min_headroom: Db::new(-20.0),
    };
    FleetInput {
        sensors: vec![common::piston("s", 12.0)],
        options: vec![OptionRef { sensor: 0, option: 0 }],
        units: (0..9).map(unit).collect(),
        spots: vec![common::spot("p", 6.0, BottomClass::FineSand)],
        shelters: vec![common::shelter(6.0, 5.0, 2)],
        targets: vec![common::target("lure", TargetKind::Lure, -50.0), common::target("fish", TargetKind::Fish, -36.0)],
        bookings: vec![booking(0, 1, None), booking(1, 2, Some("hut")), booking(2, 3, None)],
        budget: None,
        gap: 0.0,
    }
}

fn checks() -> AssessmentInput {
    let check = UnitCheck {
        id: common::id("c"),
        unit: common::id("u0"),
        option: common::id("main"),
        target: common::id("ball"),
        day: date(2026, 1, 3),
        depth: Metres::new(6.0),
        shown_at: "10:00".to_owned(),
        bottom_temperature: Celsius::new(4.0),
        swap: String::new(),
        notes: String::new(),
    };
    AssessmentInput {
        units: vec![unit(0), unit(1)],
        sensors: vec![common::piston("s", 12.0)],
        targets: vec![common::target("ball", TargetKind::Reference, -45.0)],
        checks: vec![check],
        settings: AssessmentSettings::with(None, None),
    }
}
