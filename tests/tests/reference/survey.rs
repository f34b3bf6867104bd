//! A survey that NumPy simulated and SciPy fitted: our optimum and our profile intervals are the same.

use acoustics::units::{Celsius, Db, Hertz, Level, Metres, SourceLevel, TargetStrength};
use domain::{
    BeamSurvey, Cancel, Confirmation, Fact, GainDial, Id, PatternKind, Sensor, Source, SurveyOutcome, SurveyReading,
    Target, TargetKind, TargetShape, defaults,
};
use planning::survey::{Estimate, FitSettings, fit};
use serde::Deserialize;

/// tests/reference/survey.json, made by survey.py beside it with the library versions that it names.
#[derive(Deserialize)]
struct Stored {
    made_by: String,
    model: Model,
    optimum: Optimum,
    intervals: Intervals,
    readings: Vec<(f64, f64, f64, bool)>,
}

#[derive(Deserialize)]
struct Model {
    source_level_db: f64,
    target_strength_db: f64,
    threshold_db: f64,
    scale_db: f64,
    side_db: f64,
}

#[derive(Deserialize)]
struct Optimum {
    beamwidth_deg: f64,
    tilt_deg: f64,
    shift_db: f64,
    log_likelihood: f64,
}

#[derive(Deserialize)]
struct Intervals {
    beamwidth_deg: [f64; 2],
    tilt_deg: [f64; 2],
    shift_db: [f64; 2],
}

fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

/// At 10 kHz fresh water absorbs less than a thousandth of a decibel over these ranges: SciPy's model has no absorption.
fn sensor(model: &Model) -> Sensor {
    let beamwidth = acoustics::units::Beamwidth {
        full: acoustics::units::FullAngle::from_degrees(12.0),
        at: acoustics::units::WidthLevel::Minus3,
    };
    let points = [(0.0, 0.0), (100.0, 80.0)];
    Sensor {
        id: id("plain"),
        display_name: "Generic".to_owned(),
        notes: "Invented for tests.".to_owned(),
        price: None,
        options: vec![domain::BeamOption {
            id: id("main"),
            display_name: "12°".to_owned(),
            frequency: Fact::stated(Hertz::from_khz(10.0)),
            pattern: PatternKind::CircularPiston { beamwidth: Fact::stated(beamwidth) },
            width_level_known: true,
            floor: Fact::stated(Db::new(model.side_db)),
            source: Source::Stated(Fact::stated(SourceLevel::new(model.source_level_db))),
            pulse_length: Fact::stated(acoustics::units::Seconds::from_micros(100.0)),
            sweep_bandwidth: None,
            receiver_bandwidth: Fact::stated(Hertz::from_khz(10.0)),
            ring_down: None,
        }],
        threshold: Fact::stated(Level::new(model.threshold_db)),
        max_gain: Fact::stated(Db::new(80.0)),
        dial: GainDial {
            scale: domain::DialScale::Percent,
            points: points.map(|(position, gain)| domain::DialPoint { position, gain: Db::new(gain) }).to_vec(),
        },
        receiver_noise: defaults::RECEIVER_NOISE,
        ping_interval: defaults::PING_INTERVAL,
        ping_jitter: defaults::PING_JITTER,
        confirmation: Confirmation { marks: 1, pings: 1 },
    }
}

#[test]
fn a_survey_is_fitted_as_scipy_fits_it() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/survey.json");
    let stored: Stored = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert!(stored.made_by.contains("SciPy"), "{}", stored.made_by);
    let readings = stored.readings.iter().map(|(x, z, gain, seen)| SurveyReading {
        offset: Metres::new(*x),
        depth: Metres::new(*z),
        outcome: if *seen { SurveyOutcome::Seen(Db::new(*gain)) } else { SurveyOutcome::NotSeen(Db::new(*gain)) },
    });
    let survey = BeamSurvey {
        id: id("line"),
        display_name: "Line".to_owned(),
        notes: String::new(),
        sensor: id("plain"),
        option: id("main"),
        target: id("ball"),
        day: "2027-01-15".parse().unwrap(),
        bottom_temperature: Celsius::new(4.0),
        readings: readings.collect(),
    };
    let target = Target {
        id: id("ball"),
        display_name: "Ball".to_owned(),
        notes: String::new(),
        kind: TargetKind::Reference,
        shape: TargetShape::Known(Fact::stated(TargetStrength::new(stored.model.target_strength_db))),
    };
    let settings = FitSettings {
        detection_scale: Db::new(stored.model.scale_db),
        position_error: Metres::new(0.0),
        tilt_across_deg: 0.0,
        rounds: 0,
        ..FitSettings::default()
    };
    let ours = fit(&survey, &sensor(&stored.model), &target, &settings, &Cancel::never()).unwrap();
    assert_eq!(
        ours.side_level_db, None,
        "the gains do not reach beside the main lobe, and SciPy's fit holds that level"
    );
    let near = |name: &str, ours: Estimate, value: f64, [low, high]: [f64; 2]| {
        // Both optimisers stop within a hundredth of an interval of the optimum; the table of the main lobe is linear between its points.
        for (ours, theirs) in [(ours.value, value), (ours.low, low), (ours.high, high)] {
            assert!((ours - theirs).abs() < 0.01, "{name}: {ours} against {theirs}");
        }
    };
    near("beamwidth", ours.beamwidth_deg, stored.optimum.beamwidth_deg, stored.intervals.beamwidth_deg);
    near("tilt", ours.tilt_deg, stored.optimum.tilt_deg, stored.intervals.tilt_deg);
    near("shift", ours.threshold_shift_db, stored.optimum.shift_db, stored.intervals.shift_db);
    // With readings of seen and not seen the deviance is twice the missing log-likelihood.
    assert!((ours.deviance + 2.0 * stored.optimum.log_likelihood).abs() < 0.01, "{}", ours.deviance);
}
