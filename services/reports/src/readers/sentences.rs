//! Sentences as the service makes them: set-up cards, a sheet for a survey, verdicts on units.

use acoustics::units::{
    Angle, Beamwidth, Celsius, Db, FullAngle, HalfAngle, Hertz, Metres, SourceLevel, TargetStrength, Watts, WidthLevel,
};
use domain::selection::{ExplainStep, Failure, Finding, OptionRef, Origin, Others, RunInput};
use domain::{
    Booking, BottomClass, Cancel, Canopy, CanopyDensity, Fact, FishClass, Money, PatternKind, PatternPoint, Provenance,
    Relief, ReliefKind, Sensor, Source, Spot, TargetKind, TargetShape, Unit, UnitCheck, UnitState,
};
use domain::{Goal, GoalRecord, Id, Preset, Record as _, Sentence};
use jiff::civil::date;
use planning::fleet::{FleetInput, Gear, Kept, Replan, plan};
use planning::selection::{Prepared, Scratch};
use planning::survey::sheet;
use planning::units::{AssessmentInput, AssessmentSettings, assess};

use super::common;

/// Of one angler, of a party in a shelter, and of one without; of a survey; of a unit with a check and one without.
pub(super) fn all() -> Vec<Sentence> {
    let mut shared = bookings();
    let second = Booking { id: common::id("b9"), ..shared.bookings[1].clone() };
    shared.bookings.push(second);
    let cards = [bookings(), shared].map(|input| plan(&input, &Cancel::never()).unwrap().cards);
    let cards = cards.into_iter().flatten().flat_map(|card| card.steps);
    let bead = common::target("ball", TargetKind::Reference, -58.0);
    let survey = sheet(&common::piston("s", 12.0), &common::id("main"), &bead, Metres::new(9.0), 12).unwrap();
    let verdicts = assess(&checks(), &domain::Cancel::never()).unwrap().units.into_iter().flat_map(|unit| unit.text);
    cards.chain(survey.steps).chain(survey.can_tell).chain(verdicts).chain(failures()).chain(of_plans()).collect()
}

/// Every way to fail.
fn failures() -> impl Iterator<Item = Sentence> {
    let (missing, offset, lobe_radius) = (Db::new(4.25), Metres::new(0.5), Metres::new(0.25));
    [
        Failure::LureGainBeyondMax { missing },
        Failure::BottomGainBeyondMax { missing },
        Failure::LureOutsideBeam { offset, lobe_radius },
        Failure::NoClearGain { fraction_at_zero: 0.125 },
        Failure::NoiseBeforeLure { by: missing },
        Failure::LureInRingDown { range: lobe_radius, blind: offset },
    ]
    .map(|failure| failure.sentence_with("Probe 1.5", "200 kHz, 12.5°"))
    .into_iter()
}

/// Remarks of plans, and what they say of bookings that are not met and of changes.
fn of_plans() -> Vec<Sentence> {
    let sold = |input: &mut FleetInput| {
        input.sensors[0].price = Some(Money { currency: "EUR".to_owned(), units: 1_100, nanos: 500_000_000 });
    };
    let budget = |units| Some(Money { currency: "EUR".to_owned(), units, nanos: 0 });
    // Anglers; units ready, in repair and on loan; whether the sensor is for sale, and what may be spent.
    let cases = [
        (4, [3, 1, 0], false, None),
        (5, [3, 2, 0], false, None),
        (4, [3, 0, 1], false, None),
        (5, [3, 1, 1], false, None),
        (4, [3, 0, 0], true, budget(900)),
        (5, [3, 0, 0], true, budget(900)),
        (5, [3, 1, 0], true, None),
        (5, [3, 0, 1], true, None),
        (5, [3, 1, 1], true, None),
        (3, [4, 0, 0], false, None),
        (3, [5, 0, 0], false, None),
    ];
    let mut inputs: Vec<FleetInput> = cases
        .into_iter()
        .map(|(anglers, [ready, repair, loan], for_sale, budget)| {
            let states = [(ready, UnitState::Ready), (repair, UnitState::InRepair), (loan, UnitState::OnLoan)];
            let states = states.into_iter().flat_map(|(count, state)| std::iter::repeat_n(state, count));
            let mut input = bookings();
            input.units = states.enumerate().map(|(n, state)| Unit { state, ..unit(n) }).collect();
            input.bookings.truncate(1);
            input.bookings[0].anglers = anglers;
            input.budget = budget;
            if for_sale {
                sold(&mut input);
            }
            input
        })
        .collect();
    let mut hopeless = bookings();
    hopeless.targets[0] = common::target("lure", TargetKind::Lure, -120.0);
    let mut strict = bookings();
    strict.bookings[0].min_score = 0.999;
    strict.bookings[1].min_headroom = Db::new(40.0);
    let mut uneven = bookings();
    // On the whole it would do, in its weakest point it does not.
    uneven.bookings[0].min_score = plan(&uneven, &Cancel::never()).unwrap().assignments[0].score - 0.001;
    let mut lost = hopeless.clone();
    lost.replan.kept = vec![kept("b0", "s", "main", 1)];
    let mut faulty = bookings();
    faulty.units[8].serial.clear();
    // Two parties that share a shelter, both too strict for it.
    let mut shared = strict.clone();
    let second = Booking { id: common::id("b9"), display_name: "Party 9".to_owned(), ..shared.bookings[1].clone() };
    shared.bookings.push(second);
    inputs.extend([hopeless, strict, shared, uneven, lost, replanned(), faulty]);
    inputs.extend([usize::MAX, 4, 3, 2, 0].map(moved));
    let plans = inputs.iter().map(|input| plan(input, &Cancel::never()).unwrap());
    plans
        .flat_map(|plan| {
            let changes = plan.changes.into_iter().map(|change| change.sentence);
            plan.unmet.into_iter().flat_map(|unmet| unmet.sentences).chain(plan.remarks).chain(changes)
        })
        .collect()
}

/// One booking with more units than before, one with another switch, one with another kind, one that is new, one that is gone.
fn replanned() -> FleetInput {
    let mut input = bookings();
    input.bookings.push(Booking {
        id: common::id("b3"),
        display_name: "Party 3".to_owned(),
        ..input.bookings[0].clone()
    });
    input.replan.kept = vec![
        kept("b0", "s", "main", 2),
        kept("b1", "s", "other", 2),
        kept("b2", "old", "main", 3),
        kept("gone", "s", "main", 4),
    ];
    input
}

/// So many units; each booking keeps its kind, and had another unit that is gone.
fn moved(units: usize) -> FleetInput {
    let mut input = bookings();
    input.budget = None;
    input.units.iter_mut().for_each(|unit| unit.state = UnitState::Ready);
    input.units.truncate(units);
    let price = Some(Money { currency: "EUR".to_owned(), units: 100, nanos: 0 });
    input.sensors.iter_mut().for_each(|sensor| sensor.price.clone_from(&price));
    let before = plan(&input, &Cancel::never()).unwrap();
    input.replan.kept = before
        .assignments
        .iter()
        .map(|own| {
            let place = input.options[own.option];
            let (sensor, option) = (&input.sensors[place.sensor], &input.sensors[place.sensor].options[place.option]);
            let booking = input.bookings[own.booking].id.as_str();
            Kept { units: vec![common::id("gone")], ..kept(booking, sensor.id.as_str(), option.id.as_str(), own.units) }
        })
        .collect();
    input
}

fn kept(booking: &str, sensor: &str, option: &str, units: u32) -> Kept {
    Kept {
        booking: common::id(booking),
        display_name: format!("Party {booking}"),
        gear: Gear {
            sensor: common::id(sensor),
            option: common::id(option),
            sensor_name: "Probe 1.5".to_owned(),
            beam: "200 kHz, 12.5°".to_owned(),
            units,
        },
        units: Vec::new(),
        promised: false,
    }
}

/// What findings of runs assume that leave out whatever can be left out.
pub(super) fn assumptions() -> Vec<Sentence> {
    let mut said = Vec::new();
    for input in runs_on_assumptions() {
        let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
        for spot in 0..input.spots.len() {
            let mut findings: Vec<Finding> = Vec::new();
            prepared.evaluate_spot(spot, &mut Scratch::new(), &mut findings, &Cancel::never()).unwrap();
            let assumptions = findings.into_iter().flat_map(|finding| finding.assumptions);
            said.extend(assumptions.map(|assumption| assumption.sentence));
        }
    }
    said
}

/// Titles, sources and sentences of the steps behind the findings of those runs.
pub(super) fn explained() -> Vec<Sentence> {
    let mut said = Vec::new();
    let own = GoalRecord { display_name: "Weeds first".to_owned(), ..GoalRecord::blank(Id::parse("own").unwrap()) };
    let own = Goal::Custom(Box::new(own.resolve().unwrap()));
    let goals = [Goal::SEARCH, Goal::WATCH_LURE, Goal::SCHOOL, Goal::WEED_EDGE, own];
    for (mut input, goal) in runs_on_assumptions().into_iter().zip(goals) {
        input.settings.goal = goal;
        let mut hopeless = input.clone();
        hopeless.lure.shape = TargetShape::Known(Fact::stated(TargetStrength::new(-120.0)));
        let aside = [0.3, 0.6, 0.9, 1.2, 2.4].map(|offset| {
            let mut aside = input.clone();
            aside.settings.lure_offset = Some(Metres::new(offset));
            aside.spots.iter_mut().for_each(|spot| spot.lure_height = Metres::new(0.05));
            aside
        });
        for input in [input, hopeless].into_iter().chain(aside) {
            let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
            for spot in 0..input.spots.len() {
                steps(&planning::explain::explain(&prepared, spot, 0).unwrap(), &mut said);
            }
        }
    }
    said
}

fn steps(step: &ExplainStep, said: &mut Vec<Sentence>) {
    said.push(step.title.clone());
    said.extend(step.text.iter().cloned());
    if let Some(Origin::Said(key)) = step.source {
        said.push(Sentence::plain(key));
    }
    step.inputs.iter().for_each(|input| steps(input, said));
}

/// Six runs over every pattern and source, plants of every density, and both targets of every shape; three of them in company, with neighbours of each kind.
pub(super) fn runs_on_assumptions() -> Vec<RunInput> {
    let metres = Metres::new;
    let shapes = [
        TargetShape::Known(Fact::assumed(TargetStrength::new(-45.5))),
        TargetShape::Disc { diameter: metres(0.005) },
        TargetShape::Fish { length: metres(0.25), class: FishClass::OpenSwimBladder },
        TargetShape::Fish { length: metres(0.25), class: FishClass::Vendace },
    ];
    let densities = [CanopyDensity::Sparse, CanopyDensity::Moderate, CanopyDensity::Dense];
    let canopy = |density| Canopy { height: metres(1.0), density, volume_strength: None };
    (0..6)
        .map(|n| {
            let mut spots = vec![common::spot("mud", 4.0, BottomClass::SoftMud)];
            spots.push(Spot {
                bottom_from: Provenance::Assumed,
                canopy_unknown: true,
                ..common::spot("any", 4.0, BottomClass::MediumSand)
            });
            spots.extend(densities.iter().enumerate().map(|(m, density)| Spot {
                canopy: Some(canopy(*density)),
                slope: Angle::from_degrees(2.0),
                relief: vec![Relief { kind: ReliefKind::Boulder, height: metres(0.5), offset: metres(1.0) }],
                ..common::spot(&format!("p{m}"), 5.0, BottomClass::FineSand)
            }));
            let mut input = common::run(spots, vec![assumed_sensor(n % 4)]);
            input.lure.shape = shapes[n % 4];
            input.fish.shape = shapes[3 - n % 4];
            input.shelter = (n % 2 == 1).then(|| common::shelter(6.0, 5.0, 2));
            input.settings.lean.angle = Angle::from_degrees(if n == 0 { 2.5 } else { 0.0 });
            input.spots[0].fish_layer.top = metres(0.5);
            input.others = match n {
                3 => Others::Given {
                    sensors: vec![common::piston("s", 12.0)],
                    options: vec![OptionRef { sensor: 0, option: 0 }],
                },
                5 => Others::Unknown,
                _ => Others::Same,
            };
            input
        })
        .collect()
}

fn assumed_sensor(n: usize) -> Sensor {
    let mut sensor = common::piston("s", 12.5);
    let option = &mut sensor.options[0];
    // So low that the models of small bodies end above it; once also below the tables of bottoms.
    option.frequency = Fact::assumed(Hertz::from_khz([30.5, 30.5, 25.0, 200.0][n]));
    option.sweep_bandwidth = (n == 0).then(|| Fact::assumed(Hertz::from_khz(12.5)));
    let width = |degrees| Fact::assumed(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 });
    let point = |degrees, level| PatternPoint { angle: HalfAngle::from_degrees(degrees), level: Db::new(level) };
    option.pattern = match n {
        0 => PatternKind::ShadedCircular { beamwidth: width(12.5), peak_side_lobe: Fact::assumed(Db::new(-22.5)) },
        1 => PatternKind::Rectangular { along: width(24.0), across: width(8.5) },
        2 => PatternKind::CircularPiston { beamwidth: width(19.5) },
        _ => PatternKind::Tabulated {
            points: vec![point(0.0, 0.0), point(6.0, -3.0), point(20.0, -30.0)],
            provenance: Provenance::Assumed,
        },
    };
    option.width_level_known = n == 3;
    option.source = if n == 0 {
        Source::Stated(Fact::assumed(SourceLevel::new(210.5)))
    } else {
        Source::Power { electrical: Fact::assumed(Watts::new(250.0)), kind: None, efficiency: Fact::assumed(0.555) }
    };
    for provenance in [
        &mut option.floor.provenance,
        &mut option.pulse_length.provenance,
        &mut option.receiver_bandwidth.provenance,
        &mut sensor.threshold.provenance,
        &mut sensor.max_gain.provenance,
        &mut sensor.receiver_noise.provenance,
        &mut sensor.ping_interval.provenance,
        &mut sensor.ping_jitter.provenance,
    ] {
        *provenance = Provenance::Assumed;
    }
    sensor
}

fn unit(n: usize) -> Unit {
    Unit {
        id: common::id(&format!("u{n}")),
        display_name: format!("Unit {n}"),
        notes: common::NOTES.to_owned(),
        sensor: common::id("s"),
        serial: format!("S-{n}"),
        state: UnitState::Ready,
        lent_to: None,
        back_day: None,
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
        goal: Some(Preset::WatchLure),
        custom_goal: None,
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
        goals: Vec::new(),
        bookings: vec![booking(0, 1, None), booking(1, 2, Some("hut")), booking(2, 3, None)],
        budget: None,
        gap: 0.0,
        replan: Replan::default(),
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
