//! Seats hold: everybody who is seated works among the others as they sit, and no arrangement has more headroom; recomputed here from the physics
//! alone, over every arrangement.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "tests")]

mod common;
#[path = "common/drawn.rs"]
mod drawn;

use acoustics::units::{Db, Metres};
use domain::selection::OptionRef;
use domain::{BottomClass, Cancel, HolePlan, Point, Shelter, TargetKind};
use planning::PlanningError;
use planning::rules::{DepthBand, RulesInput, RulesSettings, Seats, SeatsInput, Terms, WhyNot, derive, seats};

const DEPTH: f64 = 4.0;

/// Holes at these places of a floor of 5 by 4 m.
fn shelter(holes: &[(f64, f64)]) -> Shelter {
    let point = |(x, y): &(f64, f64)| Point { x: Metres::new(*x), y: Metres::new(*y) };
    Shelter { holes: HolePlan::Drilled(holes.iter().map(point).collect()), ..common::shelter(5.0, 4.0, 2) }
}

/// People with units of these widths; each may have any of a list.
fn input(shelter: Shelter, widths: &[f64], people: &[&[usize]]) -> SeatsInput {
    SeatsInput {
        shelter,
        sensors: widths.iter().enumerate().map(|(at, width)| common::piston(&format!("s{at}"), *width)).collect(),
        options: (0..widths.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect(),
        people: people.iter().map(|choice| choice.to_vec()).collect(),
        band: DepthBand { shallow: Metres::new(DEPTH), deep: Metres::new(DEPTH) },
        bottoms: vec![BottomClass::FineSand],
        lure: common::target("lure", TargetKind::Lure, -36.0),
        settings: RulesSettings::default(),
        terms: Terms::Free,
    }
}

fn seated(input: &SeatsInput) -> Seats {
    seats(input, &Cancel::never()).unwrap_or_else(|error| panic!("{error:?}"))
}

/// The highest gain of a unit among others, from the physics alone.
fn highest(own: f64, others: &[(f64, f64)], most: f64) -> f64 {
    let received = drawn::received(own, others, DEPTH);
    let fits = |gain: f64| received.drawn_fraction(drawn::threshold(gain)) <= 0.02;
    if fits(most) {
        return most;
    }
    let (mut good, mut bad) = (-60.0, most);
    while bad - good > 0.01 {
        let middle = 0.5 * (good + bad);
        if fits(middle) { good = middle } else { bad = middle }
    }
    good
}

/// The least headroom of an arrangement: by person the width, the hole and the start gain.
fn least(seats: &[(f64, Point, f64)], most: f64) -> f64 {
    let gain = |own: &(f64, Point, f64)| {
        let others: Vec<(f64, f64)> = seats
            .iter()
            .filter(|other| other.1 != own.1)
            .map(|other| (other.0, libm::hypot(other.1.x.get() - own.1.x.get(), other.1.y.get() - own.1.y.get())))
            .collect();
        let gain = highest(own.0, &others, most);
        // Whom nothing disturbs limits nobody.
        if gain >= most { f64::INFINITY } else { gain - own.2 }
    };
    seats.iter().map(gain).fold(f64::INFINITY, f64::min)
}

/// An option and a hole.
type Placed = (usize, usize);

/// Every way to give so many people a hole and a unit of their choice.
fn each(choices: &[Vec<usize>], holes: usize, placed: &mut Vec<Placed>, todo: &mut dyn FnMut(&[Placed])) {
    let Some(choice) = choices.get(placed.len()) else { return todo(placed) };
    for option in choice {
        for hole in 0..holes {
            if placed.iter().all(|(_, taken)| *taken != hole) {
                placed.push((*option, hole));
                each(choices, holes, placed, todo);
                placed.pop();
            }
        }
    }
}

#[test]
fn no_arrangement_has_more_headroom_than_the_one_that_is_found() {
    let uneven = [(0.6, 0.6), (1.6, 0.7), (4.2, 3.1), (2.4, 3.3)];
    let widths = [9.0, 17.0, 31.0];
    let cases: [&[&[usize]]; 5] = [
        &[&[0, 1], &[1], &[2]],
        &[&[2], &[0, 2], &[1]],
        &[&[1], &[1], &[0, 2]],
        &[&[2], &[0], &[1], &[1]],
        &[&[2], &[2], &[2], &[2]],
    ];
    let (mut limited, mut refused) = (0, 0);
    for people in cases {
        let asked = input(shelter(&uneven), &widths, people);
        let found = seated(&asked);
        // Start gains are those of the rules; whether they show the lure is held elsewhere.
        let start = |option: usize| seated(&input(shelter(&uneven), &widths, &[&[option]])).seats[0].start_gain.get();
        let starts: Vec<f64> = (0..widths.len()).map(start).collect();
        let most = asked.sensors[0].max_gain.value.get();
        let mut best = f64::NEG_INFINITY;
        each(&asked.people, found.holes.len(), &mut Vec::new(), &mut |placed| {
            let all: Vec<_> =
                placed.iter().map(|(option, hole)| (widths[*option], found.holes[*hole], starts[*option])).collect();
            best = best.max(least(&all, most));
        });
        assert_eq!(found.bound, None, "the search ended");
        assert!(best.abs() > 0.1, "{best} dB tells nothing");
        if best < 0.0 {
            assert!(
                found.seats.len() < people.len() && found.unseated[0].why == WhyNot::Neighbours,
                "{best}: {found:?}"
            );
            refused += 1;
            continue;
        }
        assert_eq!((found.seats.len(), found.unseated.len()), (people.len(), 0), "{best}: {found:?}");
        let told = found.least_headroom.map_or(f64::INFINITY, Db::get);
        let here: Vec<_> =
            found.seats.iter().map(|s| (widths[s.option], found.holes[s.hole], s.start_gain.get())).collect();
        // The gain is found to a hundredth of a decibel; the greatest least headroom to a quarter.
        assert!(
            least(&here, most) == told || (least(&here, most) - told).abs() < 0.03,
            "{told} against {}",
            least(&here, most)
        );
        assert!(told >= best - 0.3, "{told} against {best}");
        limited += u32::from(best < 30.0);
    }
    assert!(limited >= 3 && refused >= 1, "{limited} cases were limited by neighbours, {refused} were impossible");
}

#[test]
fn a_party_with_one_kind_has_the_gain_of_the_rules() {
    for (width, people) in [(8.0, 2), (11.0, 3)] {
        let room = common::shelter(4.0, 3.0, people);
        let choice: Vec<&[usize]> = vec![&[0]; usize::try_from(people).unwrap()];
        let asked = SeatsInput {
            band: DepthBand { shallow: Metres::new(3.0), deep: Metres::new(5.0) },
            ..input(room.clone(), &[width], &choice)
        };
        let found = seated(&asked);
        let book = derive(
            &RulesInput {
                shelters: vec![room],
                sensors: asked.sensors.clone(),
                options: asked.options.clone(),
                unlisted: Vec::new(),
                bands: vec![asked.band],
                bottoms: asked.bottoms.clone(),
                lure: asked.lure.clone(),
                settings: asked.settings,
            },
            &Cancel::never(),
        )
        .unwrap();
        let rule = &book.sheets[0].bands[0].rules[0];
        assert_eq!(rule.refusal, None);
        let least = found.seats.iter().map(|seat| seat.highest_gain.get()).fold(f64::INFINITY, f64::min);
        assert!((least - rule.highest_gain.get()).abs() < 0.03, "{width}°: {least} against {:?}", rule.highest_gain);
        assert_eq!(found.alike.unwrap().option, 0);
    }
}

#[test]
fn who_cannot_be_seated_is_told_why_and_the_others_are_seated() {
    // Side by side in shallow water wide beams cannot be.
    let close = [(1.0, 1.0), (1.75, 1.0), (2.5, 1.0)];
    let found = seated(&input(shelter(&close), &[31.0], &[&[0], &[0], &[0]]));
    assert!(found.seats.len() < 3, "{found:?}");
    assert_eq!(found.seats.len() + found.unseated.len(), 3);
    assert!(found.unseated.iter().all(|one| one.why == WhyNot::Neighbours), "{found:?}");
    let mut weak = input(shelter(&[(1.0, 1.0), (4.0, 3.0)]), &[12.0, 12.0], &[&[0], &[1]]);
    weak.sensors[1].max_gain.value = Db::new(1.0);
    weak.sensors[1].dial.points.clear();
    let found = seated(&weak);
    assert_eq!(found.unseated.iter().map(|one| (one.person, one.why)).collect::<Vec<_>>(), [(1, WhyNot::Reach)]);
    assert_eq!(found.seats.iter().map(|seat| seat.person).collect::<Vec<_>>(), [0]);
}

#[test]
fn equal_terms_give_everybody_the_same_and_never_more_headroom_than_free_ones() {
    let mut asked = input(shelter(&[(0.6, 0.6), (1.8, 0.7), (4.2, 3.1)]), &[9.0, 17.0], &[&[0, 1], &[1, 0], &[0, 1]]);
    asked.sensors[1].options[0].frequency.value = acoustics::units::Hertz::from_khz(90.0);
    let free = seated(&asked);
    let equal = seated(&SeatsInput { terms: Terms::Alike, ..asked });
    assert_eq!((free.seats.len(), equal.seats.len()), (3, 3));
    assert!(equal.seats.iter().all(|seat| seat.option == equal.seats[0].option));
    let of = |headroom: Option<Db>| headroom.map_or(f64::INFINITY, Db::get);
    let (free, shared, alike) =
        (of(free.least_headroom), of(equal.least_headroom), of(free.alike.unwrap().least_headroom));
    assert!(free >= shared - 0.3, "{free} against {shared}");
    // Sharing frequencies out helps here: 90 kHz is not heard at 200 kHz.
    assert!(free > alike + 1.0, "{free} against {alike}");
}

#[test]
fn every_fault_of_a_party_is_named_at_once() {
    let mut wrong = input(shelter(&[(1.0, 1.0)]), &[12.0], &[&[0], &[]]);
    wrong.bottoms.clear();
    wrong.band = DepthBand { shallow: Metres::new(5.0), deep: Metres::new(3.0) };
    let Err(PlanningError::Faults(faults)) = seats(&wrong, &Cancel::never()) else { panic!("it is refused") };
    let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(fields, ["bottom_classes", "band.deep_m", "people[1].options", "people"], "{faults:?}");
}

#[test]
fn a_crowd_is_seated_one_after_the_other_where_not_all_can_be() {
    let room = common::shelter(6.0, 5.0, 14);
    let choice: Vec<&[usize]> =
        (0..14).map(|at| if at % 2 == 0 { &[0_usize, 1][..] } else { &[1_usize][..] }).collect();
    let asked =
        SeatsInput { lure: common::target("lure", TargetKind::Lure, -44.0), ..input(room, &[9.0, 26.0], &choice) };
    let found = seated(&asked);
    assert!((2..14).contains(&found.seats.len()), "{} of 14", found.seats.len());
    assert_eq!(found.seats.len() + found.unseated.len(), 14);
    assert!(found.unseated.iter().all(|one| one.why == WhyNot::NotFound), "of so many it is not proven");
    assert!(found.seats.iter().all(|seat| seat.highest_gain >= seat.start_gain));
    // Nobody who is left out fits in as well.
    let mut people: Vec<usize> = found.seats.iter().map(|seat| seat.person).collect();
    people.push(found.unseated[0].person);
    people.sort_unstable();
    let more: Vec<&[usize]> = people.iter().map(|person| choice[*person]).collect();
    let holes = HolePlan::Drilled(found.holes.clone());
    let again = SeatsInput { people: more.iter().map(|choice| choice.to_vec()).collect(), ..asked.clone() };
    let again = SeatsInput { shelter: Shelter { holes, ..again.shelter.clone() }, ..again };
    assert!(seated(&again).seats.len() < people.len());
}
