//! Reports of any size with any names, invented.

use acoustics::units::Db;
use domain::selection::{Finding, RunInput};
use domain::{BottomClass, Cancel, Goal, HolePlan, Money, Sensor};
use jiff::Timestamp;
use planning::picture;
use planning::recommend::{Choice, QUIET, Recommendation, recommend};
use planning::selection::{Prepared, Scratch, Summarizer};
use serde_json::{Value, json};

use super::common;
use crate::settings::Settings;
use crate::{Advice, Comparison, Document, Report, SpotPicture, Told};

/// A report on that collection: as many spots, options, bookings, units or shelters as `size` says, each with a name.
pub(super) fn of(collection: &str, name: &dyn Fn(usize) -> String, size: usize, settings: &Settings) -> Report {
    let json = match collection {
        "shelterRules" => rules(name, size),
        "fleetPlans" => plan(name, size),
        "unitAssessments" => assessment(name, size),
        "beamFits" => fit(name, size),
        "beamSurveyDrafts" => draft(name, size),
        _ => return Report::Comparison(Box::new(comparison(name, size, Goal::WATCH_LURE, settings))),
    };
    Report::Document(Box::new(Document {
        id: "sample".to_owned(),
        time: Timestamp::UNIX_EPOCH,
        fingerprint: "0000".to_owned(),
        only: Vec::new(),
        content: proto::Document::from_json(collection, &json.to_string()).unwrap().unwrap(),
        settings: settings.clone(),
    }))
}

/// A comparison for a goal.
pub(super) fn for_goal(goal: Goal, settings: &Settings) -> Report {
    Report::Comparison(Box::new(comparison(&|n| format!("Spot {n}"), 2, goal, settings)))
}

/// A third as many spots as options, in a shelter if there are several, every third bottom hopeless for the lure.
fn comparison(name: &dyn Fn(usize) -> String, size: usize, goal: Goal, settings: &Settings) -> Comparison {
    let spots = (0..size.div_ceil(3)).map(|n| {
        let class = BottomClass::ALL[n % BottomClass::ALL.len()];
        let depth = 2.0 + 3.0 * f64::from(u8::try_from(n).unwrap());
        common::spot(&format!("p{n}"), depth, class)
    });
    let sensors = (0..size).map(|n| {
        let mut sensor: Sensor = common::piston(&format!("s{n}"), 5.5 + f64::from(u8::try_from(n % 40).unwrap()));
        sensor.price = Some(Money { currency: "EUR".to_owned(), units: 1234, nanos: 500_000_000 });
        if n % 3 == 2 {
            sensor.max_gain.value = Db::new(12.0);
            sensor.dial.points.iter_mut().for_each(|point| point.gain = Db::new(point.gain.get() * 12.0 / 70.0));
        }
        sensor
    });
    let mut input: RunInput = common::run(spots.collect(), sensors.collect());
    input.settings.draws = 16;
    input.settings.goal = goal;
    input.shelter = (size > 1).then(|| {
        let mut shelter = common::shelter(4.0, 3.0, 3);
        shelter.holes = HolePlan::Party(3);
        shelter
    });
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    let mut summarizer = Summarizer::new(input.options.len());
    let choice = Choice::default();
    let answer = recommend(&input, &choice, &Cancel::never(), QUIET).unwrap();
    let spots = (0..input.spots.len()).map(|spot| {
        let mut findings: Vec<Finding> = Vec::new();
        prepared.evaluate_spot(spot, &mut Scratch::new(), &mut findings, &Cancel::never()).unwrap();
        findings.sort_by_key(|finding| finding.rank);
        summarizer.add_spot(&findings);
        let told = Told::at(Some(&answer), spot, &findings, &input.options);
        let option = told.as_ref().unwrap().finding.option;
        let picture = picture::draw(&prepared, spot, option).ok();
        let working = planning::explain::explain(&prepared, spot, option).ok();
        let lean = planning::lean_cost(&prepared, spot, option).ok();
        SpotPicture { spot, findings, told, picture, lean, working }
    });
    let spots: Vec<_> = spots.collect();
    // The checks refuse some of these names, and a report must stand them all the same.
    input.spots.iter_mut().enumerate().for_each(|(n, spot)| (spot.display_name, spot.lake) = (name(n), name(n + 1)));
    input.sensors.iter_mut().enumerate().for_each(|(n, sensor)| sensor.display_name = name(n));
    input.shelter.iter_mut().for_each(|shelter| shelter.display_name = name(2));
    (input.lure.display_name, input.fish.display_name) = (name(1), name(2));
    Comparison {
        run_id: "sample".to_owned(),
        run_time: Timestamp::UNIX_EPOCH,
        result_hash: "0000".to_owned(),
        spots,
        summary: summarizer.finish(),
        advice: Some(advice(&input, choice, answer)),
        settings: settings.clone(),
        input,
    }
}

/// The advice, with the picture of the place that matters most.
fn advice(input: &RunInput, choice: Choice, answer: Recommendation) -> Advice {
    let mut advice = Advice { input: input.clone(), choice, answer, picture: None };
    if let Some(main) = advice.most_important() {
        let mut plain = input.clone();
        let plain_names = || ("Spot".to_owned(), "Lake".to_owned());
        plain.spots.iter_mut().for_each(|spot| (spot.display_name, spot.lake) = plain_names());
        plain.sensors.iter_mut().for_each(|sensor| sensor.display_name = "Sensor".to_owned());
        plain.shelter.iter_mut().for_each(|shelter| shelter.display_name = "Hut".to_owned());
        (plain.lure.display_name, plain.fish.display_name) = ("Lure".to_owned(), "Fish".to_owned());
        let prepared = Prepared::new(&plain, &Cancel::never()).unwrap();
        advice.picture = picture::draw(&prepared, main.place.0, main.finding.option).ok();
    }
    advice
}

fn money(units: i64) -> Value {
    json!({ "currency_code": "EUR", "units": units, "nanos": 0 })
}

fn plan(name: &dyn Fn(usize) -> String, size: usize) -> Value {
    let days = ["2026-01-03", "2026-01-17", "2026-01-31", "2026-02-11"];
    let day = |n: usize| if n.is_multiple_of(2) { (days[n % 3], days[n % 3 + 1]) } else { (days[n % 4], days[n % 4]) };
    let all = |make: &dyn Fn(usize) -> Value| (0..size).map(make).collect::<Value>();
    json!({
        "purchases": all(&|n| json!({ "sensor_display_name": name(n), "count": n, "unit_price": money(99), "cost": money(123_456) })),
        "cost": money(1_234_567), "least_cost": money(1_234_000), "gap": 0.015, "mean_score": 0.61,
        "assignments": all(&|n| json!({
            "booking_display_name": name(n), "option": format!("sensors/s{n}/options/main"), "sensor_display_name": name(n + 1),
            "beam": "200 kHz, 12.5°", "units": n + 1, "first_day": day(n).0, "last_day": day(n).1, "score": 0.5, "headroom_db": 12.0,
            "given": [{ "display_name": name(n) }],
        })),
        "spec": { "keep": "fleetPlans/l1abc", "from_day": "2027-01-12" },
        "changes": all(&|n| json!({ "for_customer": n % 2 == 0, "text_sentence": { "key": "change-exchanged", "parts": [
            { "name": "party", "proper": name(n) }, { "name": "units", "figure": "2" }, { "name": "sensor", "proper": name(n + 1) },
            { "name": "old_units", "figure": "2" }, { "name": "old_sensor", "proper": name(n + 2) },
        ] } })),
        "unmet": all(&|n| json!({ "booking_display_name": name(n), "text_sentences": [
            { "key": "unmet-buy", "parts": [
                { "name": "count", "count": 1 }, { "name": "sensor", "proper": name(n + 1) }, { "name": "cost", "figure": "1,250.50 EUR" },
            ] },
        ] })),
        "days": all(&|n| json!({ "sensor": format!("sensors/s{n}"), "used": 2, "available": 3 })),
        "cards": all(&|n| json!({
            "booking_display_name": name(n), "place": format!("{}, {}", name(n + 1), name(n + 2)), "sensor_display_name": name(n),
            "beam": "200 kHz, measured beam", "units": 2, "first_day": day(n).0, "last_day": day(n).1, "given": [{ "display_name": name(n) }],
            "start_sentence": { "key": "setting-start-first" },
            "highest": "12 dB past where the lure first showed",
            "highest_sentence": { "key": "setting-past-first", "parts": [{ "name": "room", "figure": "12 dB" }] },
            "hole_spacing_m": 1.25, "hang_depth_m": 0.5, "lure_height_m": 0.5, "step_sentences": [
                { "key": "step-drill", "parts": [{ "name": "units", "count": 1 }] },
                { "key": "step-set", "parts": [{ "name": "height", "figure": "0.5 m" }, { "name": "gain", "figure": "step 4.5" }] },
            ],
        })),
        "remark_sentences": [
            { "key": "remark-idle", "parts": [{ "name": "idle", "count": 1 }, { "name": "ready", "figure": "2" }, { "name": "sensor", "proper": name(1) }] },
        ],
    })
}

fn rules(name: &dyn Fn(usize) -> String, size: usize) -> Value {
    let bands = size.min(8);
    let figure =
        |key: &str, name: &str, figure: &str| json!({ "key": key, "parts": [{ "name": name, "figure": figure }] });
    let key = |key: &str| json!({ "key": key });
    let settings = [
        (figure("setting-at", "reading", "step 4.5"), figure("setting-at", "reading", "step 6")),
        (figure("setting-at", "reading", "step 4.5"), figure("setting-at", "reading", "step 4.5")),
        (figure("setting-at", "reading", "10:30"), key("setting-no-limit")),
        (key("setting-start-first"), figure("setting-past-first", "room", "5 dB")),
        (key("setting-start-leave"), key("setting-at-first")),
        (key("setting-start-first"), key("setting-no-limit")),
    ];
    let rule = |option: usize| {
        let refusals = [
            "RULE_REFUSAL_UNSPECIFIED",
            "RULE_REFUSAL_GAIN_BEYOND_DIAL",
            "RULE_REFUSAL_NEIGHBOURS_BEFORE_LURE",
            "RULE_REFUSAL_NEIGHBOURS_ALWAYS",
        ];
        let refusal = refusals[option % 4];
        let allowed = option.is_multiple_of(4);
        json!({
            "option": option, "allowed": allowed, "refusal": refusal, "missing_db": 7.4, "start_gain_db": 20.0,
            "start_dial": "step 4.5", "start_depth_m": 4.0, "highest_gain_db": 30.0, "highest_dial": "", "limiting_depth_m": 3.25,
            "limiting_bottom": "BOTTOM_CLASS_MEDIUM_SAND", "least_spacing_m": 1.1, "most_people": 3, "alike_highest_gain_db": 33.0,
            "alike_highest_dial": "step 6", "start": settings[option / 4 % settings.len()].0, "highest": settings[option / 4 % settings.len()].1,
        })
    };
    let helps = ["CONFIRM_MARKS", "LOWER_GAIN", "FEWER_PEOPLE", "OTHER_OPTIONS", "FARTHER_SHELTERS"]
        .map(|kind| format!("RULE_HELP_KIND_{kind}"));
    let band = |n: usize| {
        json!({
            "band": { "shallow_m": 2 * n, "deep_m": 2 * n + 2 }, "rules": (0..size).map(rule).collect::<Value>(),
            "mixes": (0..n.min(size)).map(|m| json!({ "first": m, "second": m + 1 })).collect::<Value>(),
            "help": { "kind": helps[n % 5], "option": n, "marks": 3, "pings": 5, "lower_db": 2.0, "people": 2, "clear_m": 12.0 },
            "holds_beyond_m": if n == 1 { Value::Null } else { json!(4.0 * f64::from(u8::try_from(n).unwrap())) },
        })
    };
    let sheet = |n: usize| {
        json!({
            "shelter": {
                "name": format!("shelters/h{n}"), "display_name": name(n), "floor_length_m": 3.0, "floor_width_m": 2.4,
                "floor_diameter_m": if n == 1 { 3.0 } else { 0.0 }, "hole_radius_m": 0.1, "wall_clearance_m": 0.3,
            },
            "people": 3, "holes": [{ "x_m": 0.5, "y_m": 0.5 }, { "x_m": 2.5, "y_m": 0.5 }, { "x_m": 1.5, "y_m": 2.0 }],
            "spacing_m": 1.8, "bands": (0..bands).map(band).collect::<Value>(),
        })
    };
    let option = |n: usize| {
        let unlisted = json!({ "narrowest_deg": 6.0, "widest_deg": 10.0, "lowest_khz": 150.0, "highest_khz": 300.0 });
        json!({ "sensor_display_name": name(n), "beam": "200 kHz, 8.5°", "unlisted": if n % 7 == 6 { unlisted } else { Value::Null } })
    };
    json!({
        "spec": {
            "lure": "targets/jig-5", "bottom_classes": ["BOTTOM_CLASS_SILT", "BOTTOM_CLASS_MEDIUM_SAND"],
            "next_shelter_m": if size > 1 { json!(3.0) } else { Value::Null },
        },
        "options": (0..size).map(option).collect::<Value>(),
        "sheets": (0..size.min(3)).map(sheet).collect::<Value>(),
    })
}

fn assessment(name: &dyn Fn(usize) -> String, size: usize) -> Value {
    let standings = ["WEAK", "WATCH", "SOUND", "UNKNOWN"].map(|name| format!("STANDING_{name}"));
    let all = |make: &dyn Fn(usize) -> Value| (0..size).map(make).collect::<Value>();
    json!({
        "spec": { "weak_limit_db": 6.0 },
        "units": all(&|n| json!({
            "unit": format!("units/u{n}"), "unit_display_name": name(n), "serial": name(n + 1), "sensor_display_name": name(n + 2),
            "standing": standings[n % 4], "weakness_db": -3.5, "low_db": -12.0, "high_db": 25.0, "probability_weak": 0.25,
            "checks": n % 3, "trend_db_per_year": 1.0, "trend_low_db_per_year": -1.0, "trend_high_db_per_year": 3.0,
            "text_sentences": [{ "key": "unit-unchecked", "parts": [{ "name": "serial", "proper": name(n + 1) }] }],
        })),
        "cohorts": all(&|n| json!({
            "option": format!("sensors/s{n}/options/xa"), "sensor_display_name": name(n), "bias_db": 2.5, "low_db": 1.0,
            "high_db": 4.0, "units": 3, "checks": 9,
        })),
        "readings": all(&|n| json!({
            "unit": format!("units/u{n}"), "day": "2026-01-03", "expected_gain_db": 20.0, "expected_dial": "step 4.5",
            "shown_gain_db": 30.0, "shown_dial": "", "deficit_db": 10.0,
        })),
        "swaps": [
            { "first": "units/u0", "second": "units/u1", "difference_db": 3.0, "low_db": 1.0, "high_db": 5.0 },
            { "first": "units/u0", "second": "units/u1", "difference_db": -3.0, "low_db": -5.0, "high_db": -1.0 },
            { "first": "units/u0", "second": "units/u1", "difference_db": 0.0, "low_db": -1.0, "high_db": 1.0 },
        ],
    })
}

fn fit(name: &dyn Fn(usize) -> String, size: usize) -> Value {
    let line = |scale: f64| {
        (0..40).map(|i| json!({ "angle_deg": i, "level_db": -scale * f64::from(i * i) })).collect::<Value>()
    };
    let seen = (0..size.min(12)).flat_map(|n| {
        [1.5, 3.0, 6.0].map(|depth| {
            let offset = 0.4 * f64::from(u8::try_from(n).unwrap()) - 2.0;
            let outcome = if n > 9 { "SURVEY_OUTCOME_NOT_SEEN" } else { "SURVEY_OUTCOME_SEEN" };
            json!({ "offset_m": offset, "depth_m": depth, "outcome": outcome, "gain_db": 20.0 + 2.0 * depth })
        })
    });
    let estimate = |value: f64, at_bound: bool| json!({ "value": value, "low": value - 1.0, "high": value + 0.5, "at_bound": at_bound });
    json!({
        "survey_display_name": name(1), "sensor_display_name": name(2), "beam": "200 kHz, 12.5°", "day": "2026-01-03",
        "beamwidth_deg": estimate(14.5, false), "tilt_deg": estimate(3.5, false), "side_level_db": estimate(-30.0, true),
        "threshold_shift_db": estimate(4.0, false), "deviance": 33.0, "degrees_of_freedom": 30, "p_value": if size > 1 { 0.31 } else { 0.01 },
        "readings": size, "fitted": line(0.06), "stated": line(0.09), "cannot_tell_sentences": [{ "key": "fit-cannot-across" }, { "key": "fit-open-side" }],
        "seen": seen.collect::<Value>(),
    })
}

fn draft(name: &dyn Fn(usize) -> String, size: usize) -> Value {
    let holes = size.clamp(3, 40);
    let offsets =
        (0..holes).map(|n| 0.85 * (f64::from(u8::try_from(n).unwrap()) - f64::from(u8::try_from(holes / 2).unwrap())));
    let depths = [3.0, 4.2, 5.4, 6.6, 7.8, 9.0];
    json!({
        "sensor_display_name": name(1), "beam": "200 kHz, 12.5°", "target_display_name": name(2), "depth_m": 9.5,
        "offsets_m": offsets.collect::<Vec<f64>>(), "depths_m": depths,
        "cells": (0..holes * depths.len()).map(|n| json!({ "expected_dial": if n % 5 == 0 { "" } else { "step 12.5" } })).collect::<Value>(),
        "step_sentences": [{ "key": "draft-mark" }], "can_tell_sentences": [{ "key": "draft-cannot" }],
    })
}
