//! The demo catalog: invented, sound, and varied enough to show what the service tells apart.

use std::collections::{BTreeMap, BTreeSet};

use acoustics::bottom::BottomClass;
use catalog::exchange::csv::{self, CsvRecord};
use domain::{
    BeamSurvey, Booking, Cancel, DialScale, GoalRecord, PatternKind, Sensor, SensorRecord, ShelterRecord, SpotRecord,
    TargetKind, TargetRecord, Unit, UnitCheck, UnitState, duplicate_serials,
};

use planning::survey::FitSettings;

use super::root;

fn read<R: CsvRecord>(file: &str) -> Vec<R> {
    let bytes = std::fs::read(root().join("demo-catalog").join(file)).expect("the demo catalog is there");
    let parsed = csv::read::<R>(&bytes, &BTreeMap::new());
    assert_eq!(parsed.faults, [], "{file}");
    parsed.records.into_iter().map(|(_, record)| record).collect()
}

/// The same as they are computed with.
fn known<R: CsvRecord>(file: &str) -> Vec<R::Known> {
    read::<R>(file).iter().map(|record| record.known().expect("a sound record")).collect()
}

#[test]
fn every_record_is_sound_and_says_that_it_is_invented() {
    let notes: Vec<_> = (read::<SensorRecord>("sensors.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<SpotRecord>("spots.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<ShelterRecord>("shelters.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<TargetRecord>("targets.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<GoalRecord>("goals.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<Unit>("units.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<Booking>("bookings.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<UnitCheck>("unit-checks.csv").into_iter().map(|one| (one.id, one.notes)))
        .chain(read::<BeamSurvey>("beam-surveys.csv").into_iter().map(|one| (one.id, one.notes)))
        .collect();
    for (id, note) in notes {
        assert!(note.starts_with("Invented for the demo."), "{id}: {note}");
    }
}

#[test]
fn sensors_cover_the_shapes_and_dials_that_people_meet() {
    let sensors = known::<SensorRecord>("sensors.csv");
    let options: Vec<_> = sensors.iter().flat_map(|sensor| &sensor.options).collect();
    assert_eq!((sensors.len(), options.len()), (13, 23));
    let shapes: BTreeSet<_> = options
        .iter()
        .map(|option| match option.pattern {
            PatternKind::CircularPiston { .. } => "piston",
            PatternKind::ShadedCircular { .. } => "shaded",
            PatternKind::Rectangular { .. } => "rectangular",
            PatternKind::Tabulated { .. } => "tabulated",
        })
        .collect();
    assert_eq!(shapes.len(), 4);
    for scale in [DialScale::ClockHour, DialScale::Percent, DialScale::Step] {
        assert!(sensors.iter().any(|sensor| sensor.dial.scale == scale), "{scale:?}");
    }
    let kilohertz: Vec<_> = options.iter().map(|option| option.frequency.value.to_khz()).collect();
    assert_eq!(kilohertz.iter().copied().fold(f64::INFINITY, f64::min), 46.0);
    assert_eq!(kilohertz.iter().copied().fold(0.0, f64::max), 610.0);
}

#[test]
fn sensors_differ_in_more_than_their_names_and_are_not_the_ones_of_common_practice() {
    let sensors = known::<SensorRecord>("sensors.csv");
    let of_practice = [9.0, 12.0, 19.0];
    for (index, one) in sensors.iter().enumerate() {
        for option in &one.options {
            if let PatternKind::CircularPiston { beamwidth } = &option.pattern {
                let degrees = beamwidth.value.full.to_degrees();
                assert!(of_practice.iter().all(|known| (known - degrees).abs() > 0.1), "{}: {degrees}°", one.id);
            }
        }
        let figures = |sensor: &Sensor| {
            sensor.options.iter().map(|option| (option.pattern.clone(), option.frequency)).collect::<Vec<_>>()
        };
        for other in sensors.iter().skip(index + 1) {
            assert_ne!(figures(one), figures(other), "{} and {}", one.id, other.id);
        }
    }
}

#[test]
fn spots_cover_depths_bottoms_and_cover_on_three_lakes() {
    let spots = known::<SpotRecord>("spots.csv");
    let lakes: BTreeSet<_> = spots.iter().map(|spot| spot.lake.as_str()).collect();
    assert_eq!((spots.len(), lakes.len()), (40, 3));
    for class in BottomClass::ALL {
        assert!(spots.iter().any(|spot| spot.bottom == class), "no spot on {class:?}");
    }
    assert!(spots.iter().any(|spot| spot.canopy.is_some()) && spots.iter().any(|spot| !spot.relief.is_empty()));
    let depths: Vec<_> = spots.iter().map(|spot| spot.depth.get()).collect();
    assert!(depths.iter().any(|depth| *depth < 1.0) && depths.iter().any(|depth| *depth > 50.0));
}

#[test]
fn shelters_and_targets_serve_every_kind_of_run() {
    assert_eq!(read::<ShelterRecord>("shelters.csv").len(), 4);
    let targets = known::<TargetRecord>("targets.csv");
    assert_eq!(targets.len(), 8);
    for kind in [TargetKind::Lure, TargetKind::Fish, TargetKind::Reference] {
        assert!(targets.iter().any(|target| target.kind == kind), "{kind:?}");
    }
}

#[test]
fn the_fleet_has_units_in_every_state_checks_and_a_survey() {
    let units = read::<Unit>("units.csv");
    assert_eq!(duplicate_serials(&units), []);
    for state in [UnitState::Ready, UnitState::InRepair, UnitState::OnLoan, UnitState::Retired] {
        assert!(units.iter().any(|unit| unit.state == state), "{state:?}");
    }
    let checks = read::<UnitCheck>("unit-checks.csv");
    assert!(checks.iter().all(|check| units.iter().any(|unit| unit.id == check.unit)));
    assert_eq!(checks.iter().filter(|check| !check.swap.is_empty()).count(), 2, "one pair was swapped");
    let spots = read::<SpotRecord>("spots.csv");
    let bookings = read::<Booking>("bookings.csv");
    assert!(bookings.iter().all(|booking| spots.iter().any(|spot| spot.id == booking.spot)));
    assert!(bookings.iter().any(|booking| booking.shelter.is_none()) && bookings.iter().any(|b| b.anglers > 4));
    let surveys = read::<BeamSurvey>("beam-surveys.csv");
    assert_eq!((surveys.len(), surveys[0].readings.len()), (1, 72));
    // What the demo shows as a beam that was measured is one.
    let survey = &surveys[0];
    let sensors = known::<SensorRecord>("sensors.csv");
    let sensor = sensors.iter().find(|sensor| sensor.id == survey.sensor).expect("its sensor");
    let targets = known::<TargetRecord>("targets.csv");
    let target = targets.iter().find(|target| target.id == survey.target).expect("its target");
    let fit = planning::survey::fit(survey, sensor, target, &FitSettings::default(), &Cancel::never()).expect("a fit");
    assert_eq!(fit.objections(), [], "{fit:?}");
}
