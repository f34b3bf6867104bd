//! The same for what an outfitter keeps: units, bookings, checks, surveys.

use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;

use proto::v1;

use super::super::{beam_survey, booking, unit, unit_check};
use super::{decimal, id, name, text};

/// A resource name in a collection.
fn of_collection(collection: &'static str) -> impl Strategy<Value = String> {
    "[a-z][a-z0-9-]{0,20}[a-z0-9]".prop_map(move |id| format!("{collection}/{id}"))
}

fn day() -> impl Strategy<Value = String> {
    (2026_u32..2030, 1_u32..13, 1_u32..29).prop_map(|(year, month, day)| format!("{year}-{month:02}-{day:02}"))
}

fn a_unit() -> impl Strategy<Value = v1::Unit> {
    let loan = (of_collection("bookings"), day(), any::<bool>(), any::<bool>());
    (name(), text(), of_collection("sensors"), name(), 1_i32..5, loan).prop_map(
        |(display_name, notes, sensor, serial, state, (booking, day, lent, back))| v1::Unit {
            lent_to: if lent && state == v1::UnitState::OnLoan as i32 { booking } else { String::new() },
            back_day: if back && [v1::UnitState::OnLoan as i32, v1::UnitState::InRepair as i32].contains(&state) {
                day
            } else {
                String::new()
            },
            name: "units/any".to_owned(),
            display_name,
            notes,
            sensor,
            serial,
            state,
            ..v1::Unit::default()
        },
    )
}

fn a_booking() -> impl Strategy<Value = v1::Booking> {
    let shelter = prop_oneof![Just(String::new()), of_collection("shelters")];
    let days =
        (day(), day()).prop_map(|(a, b)| if a.get(..7) == b.get(..7) && a <= b { (a, b) } else { (a.clone(), a) });
    let catch = (of_collection("targets"), of_collection("targets"));
    let goal =
        prop_oneof![(0_i32..5).prop_map(|goal| (goal, String::new())), of_collection("goals").prop_map(|own| (0, own))];
    (name(), text(), of_collection("spots"), shelter, 1_u32..61, days, goal, catch, decimal(0, 1), decimal(-20, 40))
        .prop_map(|(display_name, notes, spot, shelter, anglers, days, goal, (lure, fish), score, headroom)| {
            v1::Booking {
                name: "bookings/any".to_owned(),
                display_name,
                notes,
                spot,
                shelter,
                anglers,
                first_day: days.0,
                last_day: days.1,
                goal: goal.0,
                custom_goal: goal.1,
                lure,
                fish,
                min_score: Some(score),
                min_headroom_db: Some(headroom),
                ..v1::Booking::default()
            }
        })
}

fn a_check() -> impl Strategy<Value = v1::UnitCheck> {
    let swap = prop_oneof![Just(String::new()), "[A-Z][a-z]{1,20}"];
    let option = "[a-z][a-z0-9-]{0,20}[a-z0-9]";
    let names = (of_collection("units"), option, of_collection("targets"));
    (names, day(), decimal(1, 200), name(), decimal(0, 30), swap, text()).prop_map(
        |((unit, option, target), day, depth_m, shown_at, warmth, swap, notes)| v1::UnitCheck {
            name: "unitChecks/any".to_owned(),
            unit,
            option,
            target,
            day,
            depth_m,
            shown_at,
            bottom_temperature_c: Some(warmth),
            swap,
            notes,
            ..v1::UnitCheck::default()
        },
    )
}

fn a_survey() -> impl Strategy<Value = v1::BeamSurvey> {
    let reading = (decimal(-30, 30), decimal(1, 200), 1_i32..6, decimal(0, 140)).prop_map(
        |(offset_m, depth_m, outcome, gain)| {
            // At an end of the dial there is no gain to give.
            let gain_db = if outcome > 3 { 0.0 } else { gain };
            v1::SurveyReading { offset_m, depth_m, outcome, gain_db }
        },
    );
    let option = ("[a-z][a-z0-9-]{0,9}[a-z0-9]", "[a-z][a-z0-9-]{0,9}[a-z0-9]")
        .prop_map(|(sensor, option)| format!("sensors/{sensor}/options/{option}"));
    (name(), text(), option, of_collection("targets"), day(), of(decimal(0, 30)), vec(reading, 1..40)).prop_map(
        |(display_name, notes, option, target, day, warmth, readings)| v1::BeamSurvey {
            name: "beamSurveys/any".to_owned(),
            display_name,
            notes,
            option,
            target,
            day,
            // What is left out comes back as the figure that stands in for it.
            bottom_temperature_c: warmth.or(Some(4.0)),
            readings,
            ..v1::BeamSurvey::default()
        },
    )
}

proptest! {
    #[test]
    fn units_come_back_the_same(message in a_unit()) {
        prop_assert_eq!(unit::to(&unit::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn bookings_come_back_the_same(message in a_booking()) {
        prop_assert_eq!(booking::to(&booking::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn checks_of_units_come_back_the_same(message in a_check()) {
        prop_assert_eq!(unit_check::to(&unit_check::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn surveys_come_back_the_same(message in a_survey()) {
        prop_assert_eq!(beam_survey::to(&beam_survey::from(id(), message.clone()).unwrap()), message);
    }
}
