//! Beam surveys: known beams are found again, intervals hold what they claim, a wrong beam is noticed, bad input is named whole.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::cast_precision_loss, reason = "tests")]

mod common;

use acoustics::units::{Db, HalfAngle, Metres};
use domain::{
    BeamSurvey, BottomClass, Cancel, Cancelled, FaultReason, PatternKind, PatternPoint, Provenance, Sensor,
    SurveyOutcome, SurveyReading, Target, TargetKind, TargetShape, defaults,
};
use jiff::civil::date;
use planning::PlanningError;
use planning::selection::Prepared;
use planning::survey::{Estimate, FitSettings, SurveyFit, Truth, adopt, fit, sheet, simulate};
use rayon::prelude::*;

/// What is simulated where a test does not say otherwise.
const TRUTH: Truth = Truth {
    beamwidth_deg: 12.0,
    tilt_deg: 0.0,
    side_level_db: -40.0,
    threshold_shift_db: 0.0,
    tilt_across_deg: 0.0,
    detection_scale_db: 1.5,
    position_error: Metres::new(0.0),
};
/// No simulated surveys for the goodness of fit: most tests do not look at it.
const QUICK: FitSettings = FitSettings {
    detection_scale: Db::new(1.5),
    position_error: Metres::new(0.0),
    tilt_across_deg: 0.0,
    interval: 0.9,
    rounds: 0,
    seed: 1,
};

fn ball() -> Target {
    common::target("ball", TargetKind::Reference, -45.0)
}

fn sensor(width: f64) -> Sensor {
    common::piston("plain", width)
}

fn blank(readings: Vec<SurveyReading>) -> BeamSurvey {
    BeamSurvey {
        id: common::id("line"),
        display_name: "Line".to_owned(),
        notes: common::NOTES.to_owned(),
        sensor: common::id("plain"),
        option: common::id("main"),
        target: common::id("ball"),
        day: date(2027, 1, 15),
        bottom_temperature: defaults::BOTTOM_TEMPERATURE,
        readings,
    }
}

fn places(width: f64) -> Vec<(f64, f64)> {
    let depths = [4.0, 5.2, 6.4, 7.6, 8.8, 10.0];
    let reach = 1.3 * 10.0 * libm::tan((0.9 * width).to_radians());
    let spacing = 2.0 * reach / 11.0;
    let offsets = (0..12).map(|i| (f64::from(i) - 5.5) * spacing);
    offsets.flat_map(|x| depths.map(|z| (x, z))).collect()
}

/// Twelve holes, six depths and five gains: what the issue calls a realistic size.
fn design(width: f64) -> BeamSurvey {
    let gains = [16.0, 22.0, 28.0, 34.0, 40.0];
    let readings = places(width).into_iter().flat_map(|(x, z)| {
        gains.map(|gain| SurveyReading {
            offset: Metres::new(x),
            depth: Metres::new(z),
            outcome: SurveyOutcome::NotSeen(Db::new(gain)),
        })
    });
    blank(readings.collect())
}

/// The same holes and depths with the least gain noted in each.
fn least_gain_design(width: f64) -> BeamSurvey {
    let readings = places(width).into_iter().map(|(x, z)| SurveyReading {
        offset: Metres::new(x),
        depth: Metres::new(z),
        outcome: SurveyOutcome::LeastGain(Db::new(30.0)),
    });
    blank(readings.collect())
}

fn fitted(design: &BeamSurvey, stated: f64, truth: &Truth, seed: u64) -> SurveyFit {
    let survey = simulate(design, &sensor(stated), &ball(), truth, seed).unwrap();
    fit(&survey, &sensor(stated), &ball(), &QUICK, &Cancel::never()).unwrap()
}

/// One figure of a fit.
type Figure = fn(&SurveyFit) -> Estimate;

fn holds(estimate: Estimate, truth: f64) -> bool {
    (estimate.low..=estimate.high).contains(&truth)
}

#[test]
fn known_beams_are_found_again_and_intervals_hold_them() {
    // A beam as wide as stated, one wider, leaning and weak, and a narrow one that leans the other way.
    let cases = [
        (7.5, Truth { beamwidth_deg: 7.5, ..TRUTH }),
        (12.0, Truth { beamwidth_deg: 14.0, tilt_deg: 3.0, threshold_shift_db: 6.0, ..TRUTH }),
        (23.0, Truth { beamwidth_deg: 23.0, tilt_deg: -2.0, threshold_shift_db: -3.0, ..TRUTH }),
    ];
    let seeds = 60_u64;
    for (stated, truth) in cases {
        let design = design(stated);
        let fits: Vec<SurveyFit> =
            (0..seeds).into_par_iter().map(|seed| fitted(&design, stated, &truth, seed)).collect();
        let figures: [(&str, f64, Figure); 3] = [
            ("beamwidth", truth.beamwidth_deg, |fit| fit.beamwidth_deg),
            ("tilt", truth.tilt_deg, |fit| fit.tilt_deg),
            ("shift", truth.threshold_shift_db, |fit| fit.threshold_shift_db),
        ];
        for (name, true_value, of) in figures {
            let mean = fits.iter().map(|fit| of(fit).value).sum::<f64>() / seeds as f64;
            let spread = fits.iter().map(|fit| (of(fit).high - of(fit).low) / 3.29).sum::<f64>() / seeds as f64;
            // The mean of sixty has an eighth of the spread: three of those, and a tenth of a spread for the bias of second order.
            assert!((mean - true_value).abs() < 0.5 * spread, "{stated}° {name}: {mean} for {true_value}, ± {spread}");
            let held = fits.iter().filter(|fit| holds(of(fit), true_value)).count();
            // 54 are expected of 60; 0.3 % of binomial counts lie under 47.
            assert!((47..=60).contains(&held), "{stated}° {name}: {held} of {seeds} intervals hold the truth");
        }
    }
}

#[test]
fn least_gains_tell_more_than_seen_and_not_seen() {
    let truth = Truth { beamwidth_deg: 13.0, tilt_deg: 1.5, threshold_shift_db: 4.0, ..TRUTH };
    let design = least_gain_design(12.0);
    let fits: Vec<SurveyFit> = (0..60).into_par_iter().map(|seed| fitted(&design, 12.0, &truth, seed)).collect();
    for (of, value) in [
        ((|fit: &SurveyFit| fit.beamwidth_deg) as Figure, 13.0),
        (|fit| fit.tilt_deg, 1.5),
        (|fit| fit.threshold_shift_db, 4.0),
    ] {
        let held = fits.iter().filter(|fit| holds(of(fit), value)).count();
        assert!((47..=60).contains(&held), "{held}");
    }
}

#[test]
fn a_level_beside_the_main_lobe_is_found_where_gains_reach_it() {
    let truth = Truth { side_level_db: -16.0, ..TRUTH };
    let mut design = design(12.0);
    // Holes further out at high gain look beside the lobe: at 4 m a hole 3 m away is 37° off the axis.
    for reading in &mut design.readings {
        reading.offset = Metres::new(reading.offset.get() * 1.6);
        reading.outcome = SurveyOutcome::NotSeen(Db::new(reading.outcome.gain().unwrap().get() + 16.0));
    }
    let fits: Vec<SurveyFit> = (0..40).into_par_iter().map(|seed| fitted(&design, 12.0, &truth, seed)).collect();
    let held = fits.iter().filter(|fit| fit.side_level_db.is_some_and(|side| holds(side, -16.0))).count();
    // 36 of 40 are expected; 0.2 % of binomial counts lie under 30.
    assert!(held >= 30, "{held}");
    // Gains that would show a level of −14.5 dB and do not bound it from above; lower ones say nothing of it.
    let bounded = fitted(&self::design(12.0), 12.0, &TRUTH, 1).side_level_db.unwrap();
    assert!(bounded.at_bound && bounded.high < -13.0, "{bounded:?}");
    let mut low = self::design(12.0);
    low.readings.retain(|reading| reading.outcome.gain().unwrap().get() < 30.0);
    let near = fitted(&low, 12.0, &TRUTH, 1);
    assert_eq!(near.side_level_db, None);
    assert!(near.cannot_tell.iter().any(|line| line.text().contains("beside its main lobe")));
}

#[test]
fn a_beam_of_another_kind_fits_badly_and_the_right_one_does_not() {
    let settings = FitSettings { rounds: 99, ..QUICK };
    let p = |survey: &BeamSurvey| {
        fit(survey, &sensor(12.0), &ball(), &settings, &Cancel::never()).unwrap().p_value.unwrap()
    };
    let honest: Vec<f64> = (0..20)
        .into_par_iter()
        .map(|seed| p(&simulate(&design(12.0), &sensor(12.0), &ball(), &TRUTH, seed).unwrap()))
        .collect();
    // Evenly spread between 0 and 1: the mean of twenty has a standard error of 0.065.
    let mean = honest.iter().sum::<f64>() / 20.0;
    assert!((0.24..=0.76).contains(&mean), "{mean}");
    // A beam that splits in two: both halves of the line see the target, the middle does not.
    let mut split = simulate(&design(12.0), &sensor(12.0), &ball(), &TRUTH, 3).unwrap();
    for reading in &mut split.readings {
        let gain = reading.outcome.gain().unwrap();
        let off = libm::atan2(reading.offset.get().abs(), reading.depth.get()).to_degrees();
        reading.outcome =
            if (4.0..9.0).contains(&off) { SurveyOutcome::Seen(gain) } else { SurveyOutcome::NotSeen(gain) };
    }
    assert!(p(&split) <= 0.02, "{}", p(&split));
}

#[test]
fn what_is_adopted_is_what_later_runs_use() {
    let truth = Truth { beamwidth_deg: 16.0, ..TRUTH };
    let fit = fitted(&least_gain_design(16.0), 12.0, &truth, 5);
    let stated = sensor(12.0);
    let measured = adopt(&stated, &common::id("main"), &fit.fitted).unwrap();
    assert!(measured.check().is_empty(), "{:?}", measured.check());
    assert!(adopt(&stated, &common::id("other"), &fit.fitted).is_none());
    let PatternKind::Tabulated { points, provenance } = &measured.options[0].pattern else { panic!("a table") };
    assert_eq!(*provenance, Provenance::Measured);
    assert!((half_power(points) - fit.beamwidth_deg.value).abs() < 0.02 * fit.beamwidth_deg.value);
    // A piston of the fitted width and the adopted table see the same footprint.
    let watch = |sensor: Sensor| {
        let input = common::run(vec![common::spot("s", 8.0, BottomClass::ALL[3])], vec![sensor]);
        Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap()[0]
            .criteria
            .watch_footprint
            .get()
    };
    let (adopted, piston, old) = (watch(measured), watch(sensor(fit.beamwidth_deg.value)), watch(stated));
    assert!((adopted - piston).abs() < 0.03 * piston, "{adopted} against {piston}");
    assert!(adopted > 1.15 * old, "{adopted} against {old}");
}

/// Full width of a table at −3 dB, degrees.
fn half_power(points: &[PatternPoint]) -> f64 {
    let pair = points.windows(2).find(|pair| pair[1].level.get() < -3.0).unwrap();
    let (a, b) = (pair[0], pair[1]);
    let share = (a.level.get() + 3.0) / (a.level.get() - b.level.get());
    2.0 * HalfAngle::new(a.angle.get() + share * (b.angle.get() - a.angle.get())).to_degrees()
}

#[test]
fn one_sided_lines_say_that_width_and_tilt_look_alike() {
    let mut survey = simulate(&design(12.0), &sensor(12.0), &ball(), &TRUTH, 2).unwrap();
    survey.readings.retain(|reading| reading.offset.get() > 0.0);
    let one_sided = fit(&survey, &sensor(12.0), &ball(), &QUICK, &Cancel::never()).unwrap();
    assert!(one_sided.cannot_tell.iter().any(|line| line.text().contains("one side")));
    let both = fitted(&design(12.0), 12.0, &TRUTH, 2);
    let wide = |fit: &SurveyFit| fit.tilt_deg.high - fit.tilt_deg.low;
    assert!(wide(&one_sided) > 2.0 * wide(&both), "{} against {}", wide(&one_sided), wide(&both));
}

fn faults(survey: &BeamSurvey, target: &Target) -> Vec<(String, FaultReason)> {
    match fit(survey, &sensor(12.0), target, &QUICK, &Cancel::never()) {
        Err(PlanningError::Faults(faults)) => faults.into_iter().map(|fault| (fault.field, fault.reason)).collect(),
        other => panic!("{other:?}"),
    }
}

fn all_but_one_seen() -> BeamSurvey {
    let mut survey = design(12.0);
    survey.readings.iter_mut().skip(1).for_each(|reading| {
        reading.outcome = SurveyOutcome::Seen(reading.outcome.gain().unwrap());
    });
    survey
}

#[test]
fn every_fault_of_a_survey_is_named_at_once() {
    let none = design(12.0);
    assert_eq!(faults(&none, &ball()), [("readings".to_owned(), FaultReason::Contradiction)]);
    let mut all = design(12.0);
    all.readings.iter_mut().for_each(|reading| reading.outcome = SurveyOutcome::Seen(reading.outcome.gain().unwrap()));
    assert_eq!(faults(&all, &ball()), [("readings".to_owned(), FaultReason::Contradiction)]);
    let mut many = blank(none.readings[..5].to_vec());
    many.readings[0].depth = Metres::new(-1.0);
    many.option = common::id("other");
    let lure = common::target("lure", TargetKind::Lure, -50.0);
    let found = faults(&many, &lure);
    for expected in [
        ("readings[0].depth_m", FaultReason::OutOfRange),
        ("readings", FaultReason::Contradiction),
        ("readings", FaultReason::Missing),
        ("option", FaultReason::Unknown),
        ("target", FaultReason::Contradiction),
    ] {
        assert!(found.contains(&(expected.0.to_owned(), expected.1)), "{expected:?} in {found:?}");
    }
    // A disc has a beam of its own; what is known to echo alike from everywhere is a ball.
    let disc = Target { shape: TargetShape::Disc { diameter: Metres::new(0.05) }, ..ball() };
    assert_eq!(faults(&all_but_one_seen(), &disc), [("target".to_owned(), FaultReason::Contradiction)]);
    // A gain is missing where the outcome is about one, and not where it is about an end of the dial.
    let mut open = all_but_one_seen();
    open.readings[1].outcome = SurveyOutcome::AtOnce;
    open.readings[2].outcome = SurveyOutcome::LeastGain(Db::new(f64::NAN));
    assert_eq!(faults(&open, &ball()), [("readings[2].gain_db".to_owned(), FaultReason::Missing)]);
    let given_up = simulate(&none, &sensor(12.0), &ball(), &TRUTH, 1).unwrap();
    let cancel = Cancel::new();
    cancel.cancel();
    assert_eq!(fit(&given_up, &sensor(12.0), &ball(), &QUICK, &cancel), Err(PlanningError::Cancelled(Cancelled)));
}

#[test]
fn a_sheet_says_where_to_drill_and_holds_what_it_promises() {
    let sensor = sensor(12.0);
    // Weak enough that no box asks for less than the dial's lowest gain.
    let bead = common::target("ball", TargetKind::Reference, -58.0);
    let drawn = sheet(&sensor, &common::id("main"), &bead, Metres::new(9.0), 12).unwrap();
    assert_eq!((drawn.offsets.len(), drawn.cells.len()), (12, 12 * drawn.depths.len()));
    assert!(drawn.offsets.iter().any(|offset| offset.get() == 0.0), "the transducer's own hole is one of them");
    for pair in drawn.offsets.windows(2) {
        assert!(pair[1].get() - pair[0].get() >= 0.5 - 1e-9, "the ice between two holes");
    }
    assert!(drawn.depths.iter().all(|depth| depth.get() <= 8.7));
    assert!(drawn.steps[0].text().contains("local authority"), "cautions come first");
    // What the sheet promises is what surveys of that layout reach: the target sought in every box, many times over, with holes off
    // by 3 cm and tilts across the line of the prior, here one to either side.
    let readings = drawn.cells.iter().map(|cell| SurveyReading {
        offset: cell.offset,
        depth: cell.depth,
        outcome: SurveyOutcome::Never,
    });
    let design = blank(readings.collect());
    let settings = FitSettings { rounds: 0, ..FitSettings::default() };
    let width = |seed: u64| {
        let tilt_across_deg = if seed.is_multiple_of(2) { settings.tilt_across_deg } else { -settings.tilt_across_deg };
        let truth = Truth { tilt_across_deg, position_error: settings.position_error, ..TRUTH };
        let survey = simulate(&design, &sensor, &bead, &truth, seed).unwrap();
        fit(&survey, &sensor, &bead, &settings, &Cancel::never()).unwrap().beamwidth_deg.value
    };
    let widths: Vec<f64> = (0..60).into_par_iter().map(width).collect();
    let mean = widths.iter().sum::<f64>() / 60.0;
    let deviation = (widths.iter().map(|width| (width - mean) * (width - mean)).sum::<f64>() / 59.0).sqrt();
    let promised: f64 =
        drawn.can_tell[1].text().split_once("about ±").unwrap().1.split('°').next().unwrap().parse().unwrap();
    // Sixty surveys give a standard deviation to 9 %; the promise is printed to a tenth of a degree.
    assert!((1.645 * deviation - promised).abs() < 0.3 * 1.645 * deviation + 0.05, "{deviation} against {promised}");
    let bad = sheet(&sensor, &common::id("none"), &common::target("l", TargetKind::Lure, -50.0), Metres::new(1.0), 2);
    let Err(PlanningError::Faults(found)) = bad else { panic!("{bad:?}") };
    let fields: Vec<_> = found.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(fields, ["depth_m", "holes", "option", "target"]);
}
