//! Plans that keep an earlier one: a change moves what it must and nothing else. The order of the aims is held to exhaustive
//! enumeration in the solver's own tests; here it is seen on plans of bookings.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "tests")]

mod common;

use acoustics::units::Db;
use domain::Preset;
use domain::selection::OptionRef;
use domain::{Booking, BottomClass, Cancel, Money, TargetKind, Unit, UnitState};
use jiff::civil::{Date, date};
use planning::fleet::{ChangeKind, FleetInput, FleetPlan, Gear, Kept, Replan, UnmetReason, plan};

fn day(day: i8) -> Date {
    date(2027, 1, day)
}

fn booking(name: &str, anglers: u32, (first, last): (i8, i8)) -> Booking {
    Booking {
        id: common::id(name),
        display_name: format!("Party {name}"),
        notes: common::NOTES.to_owned(),
        spot: common::id("four"),
        shelter: None,
        anglers,
        first_day: day(first),
        last_day: day(last),
        goal: Some(Preset::WatchLure),
        custom_goal: None,
        lure: common::id("lure"),
        fish: common::id("fish"),
        min_score: 0.0,
        min_headroom: Db::new(-20.0),
    }
}

fn under_one_roof(name: &str, anglers: u32, days: (i8, i8)) -> Booking {
    Booking { shelter: Some(common::id("hut")), ..booking(name, anglers, days) }
}

fn unit(name: &str, sensor: &str) -> Unit {
    Unit {
        id: common::id(name),
        display_name: name.to_owned(),
        notes: common::NOTES.to_owned(),
        sensor: common::id(sensor),
        serial: name.to_uppercase(),
        state: UnitState::Ready,
        lent_to: None,
        back_day: None,
    }
}

/// Units of three kinds, by count, and bookings at a spot 4 m deep; nothing is for sale.
fn input(counts: [usize; 3], bookings: Vec<Booking>) -> FleetInput {
    let sensors = common::three_widths();
    let units = sensors
        .iter()
        .zip(counts)
        .flat_map(|(sensor, count)| (0..count).map(move |n| unit(&format!("{}{n}", sensor.id), sensor.id.as_str())));
    FleetInput {
        options: (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect(),
        units: units.collect(),
        spots: vec![common::spot("four", 4.0, BottomClass::FineSand)],
        shelters: vec![common::shelter(6.0, 5.0, 2)],
        targets: vec![common::target("lure", TargetKind::Lure, -50.0), common::target("fish", TargetKind::Fish, -36.0)],
        goals: Vec::new(),
        bookings,
        sensors,
        budget: None,
        gap: 0.0,
        replan: Replan::default(),
    }
}

fn made(input: &FleetInput) -> FleetPlan {
    plan(input, &Cancel::never()).unwrap()
}

fn gear(input: &FleetInput, sensor: &str, units: u32) -> Gear {
    let sensor = input.sensors.iter().find(|known| known.id.as_str() == sensor).unwrap();
    Gear {
        sensor: sensor.id.clone(),
        option: sensor.options[0].id.clone(),
        sensor_name: sensor.display_name.clone(),
        beam: String::new(),
        units,
    }
}

/// What a plan gave, to be kept by the next one.
fn keep(input: &FleetInput, plan: &FleetPlan, promised: &[&str]) -> Vec<Kept> {
    let kept = |own: &planning::fleet::Assignment| {
        let booking = &input.bookings[own.booking];
        Kept {
            booking: booking.id.clone(),
            display_name: booking.display_name.clone(),
            gear: gear(input, input.sensors[input.options[own.option].sensor].id.as_str(), own.units),
            units: own.named.clone(),
            promised: promised.contains(&booking.id.as_str()),
        }
    };
    plan.assignments.iter().map(kept).collect()
}

/// The sensor of each booking by name.
fn given(input: &FleetInput, plan: &FleetPlan) -> Vec<(String, String)> {
    let of = |own: &planning::fleet::Assignment| {
        let sensor = input.options[own.option].sensor;
        (input.bookings[own.booking].id.to_string(), input.sensors[sensor].id.to_string())
    };
    plan.assignments.iter().map(of).collect()
}

fn kinds(plan: &FleetPlan) -> Vec<(&str, ChangeKind)> {
    plan.changes.iter().map(|change| (change.booking.as_str(), change.kind)).collect()
}

#[test]
fn a_booking_that_is_called_off_moves_no_other() {
    let bookings: Vec<Booking> = (0..12_u32)
        .map(|n| {
            let first = i8::try_from(1 + n * 2 % 11).unwrap();
            booking(&format!("b{n:02}"), 1 + n % 3, (first, first + 2))
        })
        .collect();
    let mut input = input([4, 5, 3], bookings);
    let first = made(&input);
    assert!(first.changes.is_empty(), "a first plan changes nothing");
    let before = given(&input, &first);
    for gone in 0..input.bookings.len() {
        let mut fewer = input.clone();
        let cancelled = fewer.bookings.remove(gone);
        fewer.replan.kept = keep(&input, &first, &[]);
        let second = made(&fewer);
        let after = given(&fewer, &second);
        // Who was served keeps what it had; who was not may now be.
        for (booking, sensor) in before.iter().filter(|(booking, _)| *booking != cancelled.id.to_string()) {
            assert!(after.contains(&(booking.clone(), sensor.clone())), "{booking} without {}", cancelled.id);
        }
        let told: Vec<(&str, ChangeKind)> =
            kinds(&second).into_iter().filter(|(_, kind)| *kind != ChangeKind::Added).collect();
        let was_served = before.iter().any(|(booking, _)| *booking == cancelled.id.to_string());
        let wanted = was_served.then_some((cancelled.id.as_str(), ChangeKind::Cancelled));
        assert_eq!(told, wanted.into_iter().collect::<Vec<_>>());
    }
    // Without the plan before, the same input is planned anew: that is what moved the others.
    input.bookings.remove(0);
    assert!(made(&input).changes.is_empty());
}

#[test]
fn a_promise_stands_before_one_more_angler() {
    // Two wide units are with a party of two that could also take the two middle ones; three more want all there is.
    let only = |name: &str, sensors: &[&str]| {
        let mut input = input([0, 2, 2], vec![booking("a", 2, (1, 2)), booking(name, 2, (1, 2))]);
        input.options.retain(|option| sensors.contains(&input.sensors[option.sensor].id.as_str()));
        input
    };
    let mut input = only("b", &["middle", "wide"]);
    // The newcomer can only use wide ones: at its spot the middle ones do not reach its least score.
    let first = made(&FleetInput { bookings: input.bookings[..1].to_vec(), ..input.clone() });
    let had = given(&input, &first)[0].1.clone();
    let other = if had == "wide" { "middle" } else { "wide" };
    input.units.retain(|unit| unit.sensor.as_str() == had || unit.id.as_str() == format!("{other}0"));
    // Now two of what it has and one of the other: the newcomer of two fits only if the first gives way.
    input.bookings[0].anglers = 1;
    input.bookings[1].anglers = 2;
    input.replan.kept = vec![Kept {
        booking: common::id("a"),
        display_name: "Party a".to_owned(),
        gear: gear(&input, &had, 1),
        units: Vec::new(),
        promised: false,
    }];
    let planned = made(&input);
    assert_eq!((planned.assignments.len(), kinds(&planned)[0]), (2, ("a", ChangeKind::Exchanged)));
    input.replan.kept[0].promised = true;
    let promised = made(&input);
    assert_eq!((promised.assignments.len(), kinds(&promised)), (1, vec![]));
    assert_eq!(given(&input, &promised), [("a".to_owned(), had.clone())]);
    assert_eq!(promised.unmet[0].reason, UnmetReason::NotForSale);
    // What is out stays out as well.
    input.replan.kept[0].promised = false;
    input.replan.from = Some(day(2));
    assert_eq!(given(&input, &made(&input)), [("a".to_owned(), had)]);
}

#[test]
fn changes_are_worth_what_the_request_says() {
    let mut input = input([0, 1, 0], vec![booking("a", 1, (1, 2)), booking("b", 1, (1, 2))]);
    // A wide one is dear, a narrow one is not; the first party had a wide one that is gone now.
    let price = |units| Some(Money { currency: "USD".to_owned(), units, nanos: 0 });
    for (sensor, units) in input.sensors.iter_mut().zip([200, 400, 900]) {
        sensor.price = price(units);
    }
    let kept = |input: &FleetInput, name: &str, sensor: &str| Kept {
        booking: common::id(name),
        display_name: format!("Party {name}"),
        gear: gear(input, sensor, 1),
        units: Vec::new(),
        promised: false,
    };
    input.replan.kept = vec![kept(&input, "a", "wide"), kept(&input, "b", "middle")];
    let kept_all = made(&input);
    assert_eq!((kept_all.cost.units, kinds(&kept_all).len()), (900, 0));
    for (worth, cost, changed) in [(600, 200, 1), (800, 900, 0)] {
        input.replan.change_worth = price(worth);
        let plan = made(&input);
        assert_eq!((plan.cost.units, kinds(&plan).len()), (cost, changed), "a change for {worth}");
    }
}

#[test]
fn every_kind_of_change_is_told() {
    let mut input = input([1, 1, 2], vec![booking("a", 1, (1, 4)), booking("b", 2, (3, 4)), booking("d", 1, (9, 9))]);
    let wide: Vec<OptionRef> = vec![OptionRef { sensor: 2, option: 0 }];
    input.options = wide;
    let kept = |name: &str, units: u32| Kept {
        booking: common::id(name),
        display_name: format!("Party {name}"),
        gear: gear(&input, "wide", units),
        units: Vec::new(),
        promised: false,
    };
    input.replan =
        Replan { from: Some(day(2)), kept: vec![kept("a", 1), kept("b", 1), kept("c", 2)], ..Replan::default() };
    let plan = made(&input);
    // The first is out and holds one; so the second cannot have two.
    assert_eq!(
        kinds(&plan),
        [("b", ChangeKind::Dropped), ("c", ChangeKind::Cancelled), ("d", ChangeKind::Added)],
        "{plan:?}"
    );
    assert_eq!(
        plan.changes[0].sentence.text(),
        "Say to Party b: it cannot have 1 of Generic 22° any more, nor anything else."
    );
    assert_eq!(plan.changes[1].sentence.text(), "Party c is no longer booked: 2 of Generic 22° are free.");
    assert_eq!(plan.changes[2].sentence.text(), "Say to Party d: it gets 1 of Generic 22°.");
    assert!(plan.changes[0].kind.is_for_customer() && !plan.changes[1].kind.is_for_customer());
    // With one more unit it can, and is told of the second one.
    input.units.push(unit("wide9", "wide"));
    let more = made(&input);
    assert_eq!(kinds(&more)[0], ("b", ChangeKind::Resized));
    assert_eq!(more.changes[0].sentence.text(), "Say to Party b: it gets 2 of Generic 22°, not 1.");
}

#[test]
fn what_is_over_is_not_planned_and_no_change() {
    let mut input = input([0, 0, 1], vec![booking("a", 1, (1, 2)), booking("b", 1, (2, 5)), booking("c", 1, (6, 7))]);
    input.replan = Replan { from: Some(day(3)), ..Replan::default() };
    let plan = made(&input);
    assert_eq!(given(&input, &plan).iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), ["b", "c"]);
    assert!(plan.unmet.is_empty() && plan.days.iter().all(|told| told.day >= day(3)), "{:?}", plan.days);
    input.replan.kept = keep(&input, &plan, &[]);
    input.replan.kept.push(Kept { booking: common::id("a"), ..input.replan.kept[0].clone() });
    assert_eq!(kinds(&made(&input)), []);
}

#[test]
fn a_unit_on_loan_is_away_until_it_is_back() {
    let mut input = input([0, 0, 1], vec![booking("a", 1, (2, 3)), booking("b", 1, (5, 6))]);
    input.units[0].state = UnitState::OnLoan;
    let served = |input: &FleetInput| given(input, &made(input)).into_iter().map(|(name, _)| name).collect::<Vec<_>>();
    assert!(served(&input).is_empty(), "nobody knows when it is back");
    for (back, wanted) in [(2, vec!["a", "b"]), (3, vec!["b"]), (5, vec!["b"]), (6, vec![])] {
        let mut input = input.clone();
        input.units[0].back_day = Some(day(back));
        input.replan.from = Some(day(1));
        assert_eq!(served(&input), wanted, "back on the {back}th");
        let days: Vec<u32> = made(&input).days.iter().map(|told| told.available).collect();
        assert!(days.iter().all(|available| *available <= 1));
    }
    // Overdue: it was to be back before today.
    input.units[0].back_day = Some(day(1));
    input.replan.from = Some(day(2));
    assert!(served(&input).is_empty());
}

#[test]
fn a_unit_that_a_booking_holds_is_that_booking_s() {
    let mut input = input([0, 0, 2], vec![booking("a", 1, (1, 4)), booking("b", 1, (3, 4)), booking("c", 1, (4, 4))]);
    input.units[0] = Unit { back_day: Some(day(5)), ..lent(&input.units[0], "a") };
    input.replan.from = Some(day(3));
    // Two units: one is with the first party, the other can be had once.
    let plan = made(&input);
    assert_eq!(plan.assignments.len(), 2);
    assert_eq!(given(&input, &plan)[0], ("a".to_owned(), "wide".to_owned()));
    assert_eq!(plan.assignments[0].named, [input.units[0].id.clone()]);
    assert!(plan.days.iter().all(|told| told.available == 2 && told.used <= 2), "{:?}", plan.days);
}

fn lent(unit: &Unit, booking: &str) -> Unit {
    Unit { state: UnitState::OnLoan, lent_to: Some(common::id(booking)), ..unit.clone() }
}

#[test]
fn what_was_handed_out_stays_with_its_booking_even_before_its_first_day_and_without_a_plan() {
    // Alone, the party would get the kind that suits it best; it has another in hand.
    let mut input = input([1, 1, 1], vec![booking("a", 1, (4, 5))]);
    input.replan.from = Some(day(3));
    let best = given(&input, &made(&input))[0].1.clone();
    let held = input.units.iter().position(|unit| unit.sensor.as_str() != best).unwrap();
    input.units[held] = lent(&input.units[held], "a");
    let plan = made(&input);
    assert_eq!(given(&input, &plan)[0].1, input.units[held].sensor.as_str());
    assert_eq!(plan.assignments[0].named, [input.units[held].id.clone()]);
}

/// Every unit with one booking a day, as many as anglers, of the kind given.
fn assert_named(input: &FleetInput, plan: &FleetPlan) {
    let mut taken = std::collections::BTreeSet::new();
    for own in &plan.assignments {
        let booking = &input.bookings[own.booking];
        assert_eq!(own.named.len(), own.units as usize, "{}", booking.id);
        for id in &own.named {
            let unit = input.units.iter().find(|unit| unit.id == *id).unwrap();
            assert_eq!(unit.sensor, input.sensors[input.options[own.option].sensor].id);
            let mut day = booking.first_day.max(input.replan.from.unwrap_or(booking.first_day));
            while day <= booking.last_day {
                assert!(unit.state == UnitState::Ready || unit.lent_to.is_some() || unit.back_day <= Some(day));
                assert!(taken.insert((id.clone(), day)), "{id} is with two on {day}");
                day = day.tomorrow().unwrap();
            }
        }
    }
}

#[test]
fn every_unit_is_with_one_booking_at_a_time_and_stays_where_it_was_to_go() {
    let bookings: Vec<Booking> = (0..14_u32)
        .map(|n| {
            let first = i8::try_from(1 + n * 5 % 13).unwrap();
            booking(&format!("b{n:02}"), 1 + n % 3, (first, first + i8::try_from(n % 4).unwrap()))
        })
        .collect();
    let mut input = input([3, 3, 3], bookings);
    input.units[1].state = UnitState::InRepair;
    input.units[1].back_day = Some(day(6));
    input.units[8] = lent(&input.units[8], "b00");
    let before = made(&input);
    assert!(before.assignments.len() >= 8, "{}", before.assignments.len());
    assert_named(&input, &before);
    // One is called off, another comes: what stays keeps its very units.
    let mut after = input.clone();
    after.replan.kept = keep(&input, &before, &[]);
    after.bookings.retain(|booking| booking.id.as_str() != "b05");
    after.bookings.push(booking("late", 1, (2, 9)));
    let plan = made(&after);
    assert_named(&after, &plan);
    for own in &plan.assignments {
        let id = &after.bookings[own.booking].id;
        let Some(kept) = after.replan.kept.iter().find(|kept| kept.booking == *id) else { continue };
        if kept.gear.sensor == after.sensors[after.options[own.option].sensor].id {
            assert_eq!(own.named, kept.units, "{id}");
        }
    }
}

#[test]
fn four_bookings_under_one_roof_are_a_party_of_four() {
    let names = ["a", "b", "c", "d"];
    let apart = input([4, 4, 4], names.map(|name| booking(name, 1, (1, 2))).to_vec());
    let together = input([4, 4, 4], names.map(|name| under_one_roof(name, 1, (1, 2))).to_vec());
    let four = input([4, 4, 4], vec![under_one_roof("all", 4, (1, 2))]);
    let (apart, shared, one) = (made(&apart), made(&together), made(&four));
    assert!(apart.assignments.iter().all(|own| own.headroom.is_none()));
    assert_eq!(shared.assignments.len(), 4, "{:?}", shared.unmet);
    for (own, card) in shared.assignments.iter().zip(&shared.cards) {
        assert_eq!(own.headroom, one.assignments[0].headroom);
        assert_eq!((own.option, own.score), (one.assignments[0].option, one.assignments[0].score));
        assert_eq!((card.hole_spacing, card.highest_gain), (one.cards[0].hole_spacing, one.cards[0].highest_gain));
        assert!(card.steps[1].text().contains("4 people share"), "{:?}", card.steps[1]);
    }
}

#[test]
fn who_is_on_the_ice_keeps_the_shelter_that_two_would_have_at_once() {
    let mut input = input([2, 2, 2], vec![under_one_roof("b", 1, (1, 4)), under_one_roof("a", 1, (3, 6))]);
    let other = domain::Spot { id: common::id("elsewhere"), ..input.spots[0].clone() };
    input.bookings[1].spot = other.id.clone();
    input.spots.push(other);
    let left_out = |input: &FleetInput| made(input).left_out[0].name.clone();
    assert_eq!(left_out(&input), "bookings/b");
    let own = input.units.iter().position(|unit| unit.state == UnitState::Ready).unwrap();
    input.units[own] = lent(&input.units[own], "b");
    assert_eq!(left_out(&input), "bookings/a", "b is out with its unit");
}

#[test]
fn those_who_share_a_roof_get_one_kind() {
    // Three units of one kind and one of another: for one party of four there is no kind, though there are four units.
    let roof = input([0, 1, 3], ["a", "b", "c", "d"].map(|name| under_one_roof(name, 1, (1, 2))).to_vec());
    let plan = made(&roof);
    assert_eq!(plan.assignments.len(), 3);
    let first = plan.assignments[0].option;
    assert!(plan.assignments.iter().all(|own| own.option == first));
    // Those who come after the others have left are no party with them.
    let later = input([0, 1, 3], vec![under_one_roof("a", 3, (1, 2)), under_one_roof("b", 1, (3, 4))]);
    let plan = made(&later);
    assert_eq!((plan.assignments.len(), plan.assignments[1].headroom), (2, None), "{plan:?}");
}

#[test]
fn a_roof_takes_as_many_as_it_has_room_for() {
    let mut input = input([0, 0, 9], ["a", "b", "c"].map(|name| under_one_roof(name, 1, (1, 2))).to_vec());
    input.shelters[0] = common::shelter(1.2, 1.2, 2);
    let plan = made(&input);
    assert_eq!(plan.assignments.len(), 2, "{:?}", plan.left_out);
    assert_eq!(plan.left_out[0].name, "bookings/c");
    assert!(plan.left_out[0].faults[0].message.contains("cannot take 3 holes"), "{:?}", plan.left_out);
}

#[test]
fn one_bad_record_never_stops_the_rest() {
    let mut input = input([0, 0, 4], ["a", "b", "c"].map(|name| booking(name, 1, (1, 2))).to_vec());
    input.bookings[1].spot = common::id("nowhere");
    input.units[3].serial.clear();
    let plan = made(&input);
    assert_eq!(given(&input, &plan).iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), ["a", "c"]);
    assert!(plan.unmet.is_empty(), "what is left out is not called unmet");
    let out: Vec<&str> = plan.left_out.iter().map(|out| out.name.as_str()).collect();
    assert_eq!(out, ["bookings/b", "units/wide3"]);
    // A spot that the models do not cover takes only its own bookings out.
    input.spots.push(common::spot("abyss", 190.0, BottomClass::FineSand));
    input.bookings[1].spot = common::id("abyss");
    let plan = made(&input);
    assert_eq!(plan.assignments.len() + plan.unmet.len() + plan.left_out.len(), 4, "{:?}", plan.left_out);
    assert!(plan.assignments.len() >= 2);
}
