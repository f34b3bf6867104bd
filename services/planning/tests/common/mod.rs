//! Invented records that the tests share. Nothing here is a real product, lake or shop.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test fixture: each test binary uses a part of it"
)]

pub(crate) mod sweep;

use acoustics::units::{
    Angle, Beamwidth, Celsius, Db, FullAngle, GramsPerKilogram, Hertz, Level, Metres, Seconds, TargetStrength, Watts,
    WidthLevel,
};
use domain::Goal;
use domain::selection::{OptionRef, RunInput, Settings};
use domain::sensor::PowerKind;
use domain::{
    BeamOption, BottomClass, Confirmation, DialPoint, DialScale, Fact, Floor, GainDial, HolePlan, Id, PatternKind,
    Sensor, Shelter, Source, Spot, Target, TargetKind, TargetShape, defaults,
};

pub(crate) const NOTES: &str = "Invented for tests.";

pub(crate) fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

/// A clock dial from 7:00 (0 dB) evenly over 12:00 to 5:00 (70 dB).
pub(crate) fn clock_dial() -> GainDial {
    let points = [(420.0, 0.0), (720.0, 35.0), (1_020.0, 70.0)];
    GainDial {
        scale: DialScale::ClockHour,
        points: points.map(|(position, gain)| DialPoint { position, gain: Db::new(gain) }).to_vec(),
    }
}

/// A uniform circular piston of that −3 dB width at 200 kHz.
pub(crate) fn piston_option(name: &str, degrees: f64) -> BeamOption {
    let full = FullAngle::from_degrees(degrees);
    BeamOption {
        id: id(name),
        display_name: format!("{degrees}° at 200 kHz"),
        frequency: Fact::stated(Hertz::from_khz(200.0)),
        pattern: PatternKind::CircularPiston { beamwidth: Fact::stated(Beamwidth { full, at: WidthLevel::Minus3 }) },
        width_level_known: true,
        floor: Fact::stated(Db::new(-40.0)),
        source: Source::Power {
            electrical: Fact::stated(Watts::new(40.0)),
            kind: Some(PowerKind::Rms),
            efficiency: Fact::stated(0.5),
        },
        pulse_length: Fact::stated(Seconds::from_micros(100.0)),
        sweep_bandwidth: None,
        receiver_bandwidth: Fact::stated(Hertz::from_khz(10.0)),
        ring_down: None,
    }
}

/// The generic sensor of the common-practice checks: 20 W acoustic, T0 150 dB, greatest gain 70 dB.
pub(crate) fn piston(name: &str, degrees: f64) -> Sensor {
    Sensor {
        id: id(name),
        display_name: format!("Generic {degrees}°"),
        notes: NOTES.to_owned(),
        price: None,
        options: vec![piston_option("main", degrees)],
        threshold: Fact::stated(Level::new(150.0)),
        max_gain: Fact::stated(Db::new(70.0)),
        dial: clock_dial(),
        receiver_noise: Fact::stated(Db::new(6.0)),
        ping_interval: Fact::stated(Seconds::new(0.1)),
        ping_jitter: Fact::stated(0.0),
        confirmation: Confirmation { marks: 1, pings: 1 },
    }
}

pub(crate) fn spot(name: &str, depth_m: f64, bottom: BottomClass) -> Spot {
    let depth = Metres::new(depth_m);
    Spot {
        id: id(name),
        display_name: format!("Spot {name}"),
        lake: "Invented Lake".to_owned(),
        notes: NOTES.to_owned(),
        position: None,
        depth,
        ice_thickness: None,
        bottom,
        bottom_from: domain::Provenance::Stated,
        slope: Angle::new(0.0),
        relief: Vec::new(),
        canopy: None,
        canopy_unknown: false,
        fish_layer: defaults::fish_layer(depth),
        lure_height: defaults::lure_height(depth),
        hole_radius: defaults::HOLE_RADIUS,
        bottom_temperature: Celsius::new(4.0),
        salinity: GramsPerKilogram::new(0.0),
        ph: defaults::PH,
    }
}

pub(crate) fn target(name: &str, kind: TargetKind, strength_db: f64) -> Target {
    Target {
        id: id(name),
        display_name: name.to_owned(),
        notes: NOTES.to_owned(),
        kind,
        shape: TargetShape::Known(Fact::stated(TargetStrength::new(strength_db))),
    }
}

pub(crate) fn shelter(length: f64, width: f64, people: u32) -> Shelter {
    Shelter {
        id: id("hut"),
        display_name: "LaidOutShelter".to_owned(),
        notes: NOTES.to_owned(),
        floor: Floor::Rectangle { length: Metres::new(length), width: Metres::new(width) },
        wall_clearance: defaults::WALL_CLEARANCE,
        min_ice_web: defaults::MIN_ICE_WEB,
        hole_radius: defaults::HOLE_RADIUS,
        holes: HolePlan::Party(people),
        transducers_recessed: false,
    }
}

/// A run of those spots over every option of those sensors, alone.
pub(crate) fn run(spots: Vec<Spot>, sensors: Vec<Sensor>) -> RunInput {
    let options = sensors
        .iter()
        .enumerate()
        .flat_map(|(sensor, record)| (0..record.options.len()).map(move |option| OptionRef { sensor, option }))
        .collect();
    RunInput {
        spots,
        sensors,
        options,
        shelter: None,
        others: domain::selection::Others::Same,
        lure: target("lure", TargetKind::Lure, -50.0),
        fish: target("fish", TargetKind::Fish, -36.0),
        settings: Settings { goal: Goal::WATCH_LURE, ..Settings::default() },
        goals: Vec::new(),
    }
}

/// Three pistons of invented widths.
pub(crate) fn three_widths() -> Vec<Sensor> {
    vec![piston("narrow", 8.0), piston("middle", 13.0), piston("wide", 22.0)]
}

/// The three generic pistons of 9°, 12° and 19°, for what practice knows of them.
pub(crate) fn three_pistons() -> Vec<Sensor> {
    vec![piston("narrow", 9.0), piston("middle", 12.0), piston("wide", 19.0)]
}

/// The case that the benchmarks time: spots from 2 to 30 m over all bottoms and beams from 6° up, shared by five.
pub(crate) fn shared_by_five(spots: u32, options: u32, draws: u32) -> RunInput {
    let spots = (0..spots)
        .map(|i| {
            let depth = 2.0 + 28.0 * f64::from(i) / f64::from(spots);
            spot(&format!("s{i}"), depth, BottomClass::ALL[i as usize % BottomClass::ALL.len()])
        })
        .collect();
    let sensors = (0..options).map(|i| piston(&format!("p{i}"), 6.0 + 2.0 * f64::from(i))).collect();
    let mut input = run(spots, sensors);
    input.shelter = Some(shelter(4.2, 2.4, 5));
    input.settings.draws = draws;
    input
}
