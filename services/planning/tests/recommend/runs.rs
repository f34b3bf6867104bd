//! Recommendations over real evaluations.

use acoustics::units::Metres;
use domain::Goal;
use domain::goal::DESIRABILITY_FLOOR;
use domain::selection::RunInput;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Money};
use planning::recommend::{
    Advice, Choice, PlaceIndex, QUIET, Recommendation, UnknownKind, Use, recommend, recommend_prepared,
};
use planning::selection::{Perturbation, Prepared};

use crate::common::{id, piston, piston_option, run, shelter, spot};

fn money(units: i64) -> Option<Money> {
    Some(Money { currency: "USD".to_owned(), units, nanos: 0 })
}

/// Four places, four sensors, one of them with two beams.
fn input(draws: u32) -> RunInput {
    let spots = vec![
        spot("shallow", 3.0, BottomClass::Gravel),
        spot("middle", 6.0, BottomClass::MediumSand),
        spot("deep", 14.0, BottomClass::Silt),
        spot("hole", 20.0, BottomClass::MediumSand),
    ];
    let mut sensors = vec![piston("wide", 20.0), piston("narrow", 9.0), piston("both", 20.0), piston("plain", 14.0)];
    sensors[2].options.push(piston_option("second", 9.0));
    for (sensor, price) in sensors.iter_mut().zip([120, 150, 320, 90]) {
        sensor.price = money(price);
    }
    let mut input = run(spots, sensors);
    input.settings.draws = draws;
    input
}

fn advise(input: &RunInput, choice: &Choice) -> Recommendation {
    recommend(input, choice, &Cancel::never(), QUIET).unwrap()
}

/// U, R and the switch positions against the definitions, from single figures.
#[test]
fn worths_are_the_best_option_by_use_weighted_over_uses_and_places() {
    let input = input(0);
    let uses = vec![Use { goal: Goal::SEARCH, share: 1.0 }, Use { goal: Goal::WATCH_LURE, share: 3.0 }];
    let choice = Choice { uses, weights: vec![4.0, 1.0, 2.0, 1.0], ..Choice::default() };
    let answer = advise(&input, &choice);
    for (sensor, total) in answer.decision.totals.iter().enumerate() {
        let (mut u, mut r) = (0.0, 0.0);
        for (place, weight) in [0.5, 0.125, 0.25, 0.125].into_iter().enumerate() {
            let mut all_work = true;
            for (goal, share) in [(Goal::SEARCH, 0.25), (Goal::WATCH_LURE, 0.75)] {
                let mut settings = input.clone();
                settings.settings.goal = goal;
                let prepared = Prepared::new(&settings, &Cancel::never()).unwrap();
                let mut best = (false, -1.0);
                for (option, reference) in input.options.iter().enumerate() {
                    if reference.sensor != sensor {
                        continue;
                    }
                    let figures = prepared.figures(place, option, &Perturbation::NONE).unwrap();
                    let works = figures.qualified() && figures.desirabilities().iter().all(|d| *d > DESIRABILITY_FLOOR);
                    // One that works stands before one that does not, whatever they score.
                    if (works, figures.score()) > best {
                        best = (works, figures.score());
                    }
                }
                u += weight * share * best.1;
                all_work &= best.0;
            }
            r += if all_work { weight } else { 0.0 };
        }
        assert!((total.value - u).abs() < 1e-12 && (total.works - r).abs() < 1e-12, "{sensor}: {total:?}, {u}, {r}");
    }
}

/// Turning a switch is free: a sensor works wherever it would with one of its beams alone, in every draw, weeds and all.
#[test]
fn a_beam_more_never_makes_a_sensor_work_less() {
    let mut input = input(128);
    for spot in &mut input.spots {
        let height = Metres::new(0.2 * spot.depth.get());
        spot.canopy = Some(Canopy { height, density: CanopyDensity::Moderate, volume_strength: None });
    }
    input.shelter = Some(shelter(4.0, 3.0, 3));
    let mut gained = 0;
    for goal in Goal::PRESETS {
        input.settings.goal = goal;
        let answer = advise(&input, &Choice::default());
        for draw in &answer.worths.draws {
            let [wide, narrow, both] = [0, 1, 2].map(|sensor| draw[sensor].works);
            assert!(both >= wide.max(narrow) - 1e-12, "{wide} and {narrow} alone, {both} together");
            gained += usize::from(wide != narrow);
        }
    }
    assert!(gained > 50, "the beams hardly differ: {gained} draws");
}

/// All that is said with a recommendation is of the recommended sensor, at each place its best option.
#[test]
fn settings_are_of_the_one_sensor_that_is_recommended() {
    let input = input(0);
    let choice = Choice { owned: Vec::new(), ..Choice::default() };
    let answer = advise(&input, &choice);
    let sensor = answer.decision.advice.sensor().unwrap();
    assert_eq!(answer.places.len(), input.spots.len());
    for place in &answer.places {
        assert_eq!(input.options[place.finding.option].sensor, sensor.0);
        let worth = answer.worths.nominal[sensor.0][place.place.0];
        assert!((place.finding.score - worth.value).abs() < 1e-12);
        assert_eq!(place.hindrances.is_empty(), worth.works);
    }
}

/// What is printed beside a choice is the mean of the very draws that choose.
#[test]
fn worths_are_means_over_the_draws() {
    let answer = advise(&input(64), &Choice::default());
    for (sensor, total) in answer.decision.totals.iter().enumerate() {
        let mean = |of: fn(&planning::recommend::Total) -> f64| {
            answer.worths.draws.iter().map(|draw| of(&draw[sensor])).sum::<f64>() / answer.worths.draws.len() as f64
        };
        assert!((total.value - mean(|t| t.value)).abs() < 1e-12 && (total.works - mean(|t| t.works)).abs() < 1e-12);
    }
}

/// A sensor with the beams of two others is worth the better of them everywhere, so it is never under either of them.
#[test]
fn more_beams_are_never_worse() {
    let answer = advise(&input(64), &Choice::default());
    for draw in answer.worths.draws.iter().chain([&answer.decision.totals]) {
        assert!(draw[2].value >= draw[0].value.max(draw[1].value), "{draw:?}");
    }
}

/// Two sensors whose beams are the same differ in nothing but price.
#[test]
fn sensors_with_the_same_beams_differ_only_in_price() {
    let mut input = input(128);
    let mut twin = input.sensors[1].clone();
    twin.id = id("twin");
    twin.price = money(149);
    input.sensors.push(twin);
    let at = input.sensors.len() - 1;
    input.options.push(domain::selection::OptionRef { sensor: at, option: 0 });
    let answer = advise(&input, &Choice::default());
    let d = &answer.decision;
    assert_eq!(d.totals[1], d.totals[at]);
    assert_eq!(d.probability[1], d.probability[at]);
    assert_eq!(d.regret[1], d.regret[at]);
    assert!(answer.worths.draws.iter().all(|draw| draw[1] == draw[at]));
    assert!(!d.efficient[1], "a dearer one of the same worth is not efficient");
}

#[test]
fn any_number_of_threads_gives_the_same_answer() {
    let mut input = input(96);
    input.shelter = Some(shelter(3.0, 2.4, 3));
    let answer = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| advise(&input, &Choice::default()))
    };
    assert_eq!(answer(1), answer(3));
}

#[test]
fn a_budget_bounds_and_what_is_owned_costs_nothing() {
    let input = input(64);
    let free = advise(&input, &Choice::default());
    let best = free.decision.order[0];
    let choice = Choice { budget: money(100), ..Choice::default() };
    let bounded = advise(&input, &choice);
    assert_eq!(bounded.decision.affordable, [false, false, false, true]);
    assert!(matches!(bounded.decision.advice, Advice::Take(c) if c.0 == 3));
    let owned = Choice { owned: vec![input.sensors[best.0].id.clone()], ..choice };
    let kept = advise(&input, &owned);
    assert!(matches!(kept.decision.advice, Advice::Keep { owned, .. } if owned == best), "{:?}", kept.decision.advice);
    let nothing = advise(&input, &Choice { budget: money(10), ..Choice::default() });
    assert!(matches!(nothing.decision.advice, Advice::NothingAffordable { cheapest: Some(c) } if c.0 == 3));
}

#[test]
fn prices_of_another_currency_are_one_fault() {
    let mut input = input(0);
    let sensors = input.sensors.len();
    for sensor in input.sensors.iter_mut().skip(1) {
        sensor.price.as_mut().unwrap().currency = "EUR".to_owned();
    }
    // Without a budget the currency of most prices is the one that counts.
    let faults = Choice::default().check(&input, input.spots.len());
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(faults[0].message.starts_with(&format!("priced in USD: sensors/{}; accepted: EUR", input.sensors[0].id)));
    let faults = Choice { budget: money(100), ..Choice::default() }.check(&input, input.spots.len());
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(faults[0].message.matches("sensors/").count(), (sensors - 1).min(5), "{faults:?}");
}

#[test]
fn every_fault_of_a_choice_is_named() {
    let mut input = input(0);
    input.sensors[1].price.as_mut().unwrap().currency = "EUR".to_owned();
    let uses = vec![Use { goal: Goal::SEARCH, share: 0.0 }, Use { goal: Goal::SEARCH, share: f64::NAN }];
    let choice = Choice { uses, weights: vec![1.0, -1.0], owned: vec![id("unknown")], budget: money(-1) };
    let mut fields: Vec<String> =
        choice.check(&input, input.spots.len()).into_iter().map(|fault| fault.field).collect();
    fields.sort();
    let expected = [
        "budget.currency_code",
        "budget.units",
        "owned[0]",
        "uses[0].share",
        "uses[1].goal",
        "uses[1].share",
        "weights",
        "weights[1]",
    ];
    assert_eq!(fields, expected);
}

/// Where nothing works in a full shelter, the largest party with which something does is one with which it does.
#[test]
fn where_nothing_works_the_party_that_would_help_is_found() {
    let mut input = input(0);
    input.shelter = Some(shelter(6.0, 3.0, 8));
    for spot in &mut input.spots {
        *spot = crate::common::spot(spot.id.as_str(), spot.depth.get().min(12.0), spot.bottom);
    }
    let answer = advise(&input, &Choice::default());
    for nowhere in &answer.nowhere {
        let people = nowhere.people.unwrap();
        assert!(people < 8);
        let mut fewer = input.clone();
        fewer.spots = vec![input.spots[nowhere.place.0].clone()];
        fewer.shelter.as_mut().unwrap().holes = domain::HolePlan::Party(people);
        assert!(advise(&fewer, &Choice::default()).nowhere.is_empty());
    }
}

/// A part of the spots of prepared tables gives what a run of these spots alone gives.
#[test]
fn some_spots_of_a_run_are_as_a_run_of_them() {
    let input = input(48);
    let choice = Choice { weights: vec![2.0, 1.0], ..Choice::default() };
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    let part = recommend_prepared(&prepared, &[1, 3], &choice, &Cancel::never(), QUIET).unwrap();
    let mut alone = input.clone();
    alone.spots = vec![input.spots[1].clone(), input.spots[3].clone()];
    assert_eq!(part, advise(&alone, &choice));
}

#[test]
fn unknowns_are_named_once_for_sensors_and_once_a_place() {
    let input = input(16);
    let answer = advise(&input, &Choice::default());
    let count = |kind: UnknownKind| answer.unknowns.iter().filter(|u| u.kind == kind).count();
    assert_eq!((count(UnknownKind::Threshold), count(UnknownKind::Bottom)), (1, 4));
    assert!(answer.unknowns.iter().any(|u| u.place == Some(PlaceIndex(3)) && u.kind == UnknownKind::Depth));
    assert_eq!(answer.worths.unknowns.len(), answer.unknowns.len());
}
