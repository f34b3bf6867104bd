//! Every fault of a record comes back at once, with the field path of the public API and a message that says what was
//! given, what is accepted and what to do.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

mod common;

use acoustics::units::{
    Angle, Beamwidth, Celsius, Db, FullAngle, GramsPerKilogram, HalfAngle, Hertz, Level, Metres, Seconds, SourceLevel,
    TargetStrength, VolumeStrength, Watts, WidthLevel,
};
use common::*;
use domain::selection::OptionRef;
use domain::{
    BottomClass, Canopy, CanopyDensity, Confirmation, DialPoint, Fact, Fault, FaultReason, FishClass, Floor, HolePlan,
    Money, PatternKind, PatternPoint, Point, Position, Relief, ReliefKind, Sensor, Shelter, Source, SphereMaterial,
    Spot, Target, TargetKind, TargetShape,
};

/// Asserts that exactly these fields are at fault for these reasons, and that each message has its three parts.
fn expect(what: &str, faults: Vec<Fault>, expected: &[(&str, FaultReason)]) {
    let found: Vec<(&str, FaultReason)> = faults.iter().map(|fault| (fault.field.as_str(), fault.reason)).collect();
    assert_eq!(found, expected, "{what}");
    for fault in &faults {
        let parts = fault.message.split(';').count();
        assert!(parts >= 3, "{what}: '{}' must say what was given, what is accepted, what to do", fault.message);
    }
}

type SensorCase = (fn(&mut Sensor), &'static [(&'static str, FaultReason)]);

#[test]
fn sensors() {
    use FaultReason::*;
    expect("sound", piston("s", 12.0).check(), &[]);
    let cases: &[SensorCase] = &[
        (|s| s.display_name.clear(), &[("display_name", Missing)]),
        (|s| s.display_name = "x".repeat(121), &[("display_name", TooLong)]),
        (|s| s.display_name = "a\u{7}b".to_owned(), &[("display_name", BadForm)]),
        (|s| s.notes = "x".repeat(2_001), &[("notes", TooLong)]),
        (|s| s.options.clear(), &[("options", Missing)]),
        (|s| s.options = vec![s.options[0].clone(), s.options[0].clone()], &[("options[1].option_id", Duplicate)]),
        (|s| s.threshold.value = Level::new(59.0), &[("threshold_db", OutOfRange)]),
        (|s| s.receiver_noise.value = Db::new(f64::NAN), &[("receiver_noise_db", NotFinite)]),
        (|s| s.ping_interval.value = Seconds::new(0.0), &[("ping_interval_ms", OutOfRange)]),
        (|s| s.ping_jitter.value = 0.6, &[("ping_jitter_percent", OutOfRange)]),
        (|s| s.confirmation = Confirmation { marks: 4, pings: 3 }, &[("confirm_marks", Contradiction)]),
        (|s| s.confirmation = Confirmation { marks: 1, pings: 11 }, &[("confirm_pings", OutOfRange)]),
        (|s| s.confirmation = Confirmation { marks: 0, pings: 1 }, &[("confirm_marks", OutOfRange)]),
        (|s| s.max_gain.value = Db::new(60.0), &[("dial.points[2].gain_db", Contradiction)]),
        (|s| s.dial.points.truncate(1), &[("dial.points", OutOfRange)]),
        (|s| s.dial.points[1].position = 420.0, &[("dial.points[1].position", Contradiction)]),
        (|s| s.dial.points[2].position = 1_140.0, &[("dial.points[2].position", Contradiction)]),
        (|s| s.dial.points[2].gain = Db::new(30.0), &[("dial.points[2].gain_db", Contradiction)]),
        (|s| s.dial.points[0].gain = Db::new(f64::INFINITY), &[("dial.points[0].gain_db", NotFinite)]),
        (
            |s| s.price = Some(Money { currency: "eur".to_owned(), units: -1, nanos: -1 }),
            &[("price.currency_code", BadForm), ("price.units", OutOfRange), ("price.nanos", OutOfRange)],
        ),
        (
            |s| s.price = Some(Money { currency: "EUR".to_owned(), units: 1, nanos: 1_000_000_000 }),
            &[("price.nanos", OutOfRange)],
        ),
    ];
    for (number, (spoil, expected)) in cases.iter().enumerate() {
        let mut sensor = piston("s", 12.0);
        spoil(&mut sensor);
        expect(&format!("case {number}"), sensor.check(), expected);
    }
}

#[test]
fn options() {
    use FaultReason::*;
    let width = |degrees| Fact::stated(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 });
    let pair = |degrees, level| PatternPoint { angle: HalfAngle::from_degrees(degrees), level: Db::new(level) };
    let table = |points| PatternKind::Tabulated { points, provenance: domain::Provenance::Measured };
    let sound = piston_option("o", 12.0);
    let with = |pattern| domain::BeamOption { pattern, ..sound.clone() };
    let cases: Vec<(domain::BeamOption, &[(&str, FaultReason)])> = vec![
        (sound.clone(), &[]),
        (
            domain::BeamOption { frequency: Fact::stated(Hertz::from_khz(5.0)), ..sound.clone() },
            &[("frequency_khz", OutOfRange)],
        ),
        (with(PatternKind::CircularPiston { beamwidth: width(181.0) }), &[("beamwidth_deg", OutOfRange)]),
        (
            with(PatternKind::ShadedCircular { beamwidth: width(0.5), peak_side_lobe: Fact::stated(Db::new(-10.0)) }),
            &[("beamwidth_deg", OutOfRange), ("peak_side_lobe_db", OutOfRange)],
        ),
        (
            with(PatternKind::Rectangular { along: width(10.0), across: width(f64::NAN) }),
            &[("cross_beamwidth_deg", NotFinite)],
        ),
        (with(table(vec![pair(0.0, 0.0), pair(5.0, -3.0)])), &[("pattern_points", OutOfRange)]),
        (
            with(table(vec![pair(1.0, -1.0), pair(5.0, 3.0), pair(4.0, -6.0)])),
            &[
                ("pattern_points[0].angle_deg", BadForm),
                ("pattern_points[0].level_db", BadForm),
                ("pattern_points[1].level_db", OutOfRange),
                ("pattern_points[2].angle_deg", Contradiction),
            ],
        ),
        (
            domain::BeamOption {
                source: Source::Stated(Fact::stated(SourceLevel::new(100.0))),
                floor: Fact::stated(Db::new(-5.0)),
                pulse_length: Fact::stated(Seconds::from_micros(1.0)),
                ..sound.clone()
            },
            &[("floor_db", OutOfRange), ("source_level_db", OutOfRange), ("pulse_length_us", OutOfRange)],
        ),
        (
            domain::BeamOption {
                source: Source::Power {
                    electrical: Fact::stated(Watts::new(0.0)),
                    kind: None,
                    efficiency: Fact::stated(1.5),
                },
                sweep_bandwidth: Some(Fact::stated(Hertz::from_khz(400.0))),
                receiver_bandwidth: Fact::stated(Hertz::from_khz(0.0)),
                ..sound.clone()
            },
            &[
                ("electrical_power_w", OutOfRange),
                ("efficiency_percent", OutOfRange),
                ("receiver_bandwidth_khz", OutOfRange),
                ("sweep_bandwidth_khz", Contradiction),
            ],
        ),
    ];
    for (number, (option, expected)) in cases.into_iter().enumerate() {
        expect(&format!("case {number}"), option.check(), expected);
    }
}

type SpotCase = (fn(&mut Spot), &'static [(&'static str, FaultReason)]);

#[test]
fn spots() {
    use FaultReason::*;
    expect("sound", spot("a", 8.0, BottomClass::Silt).check(), &[]);
    let cases: &[SpotCase] = &[
        (|s| s.depth = Metres::new(-3.0), &[("depth_m", OutOfRange)]),
        (|s| s.depth = Metres::new(f64::NAN), &[("depth_m", NotFinite)]),
        (
            |s| s.position = Some(Position { latitude_deg: 91.0, longitude_deg: f64::INFINITY }),
            &[("latitude_deg", OutOfRange), ("longitude_deg", NotFinite)],
        ),
        (|s| s.ice_thickness = Some(Metres::new(4.0)), &[("ice_thickness_m", OutOfRange)]),
        (|s| s.slope = Angle::from_degrees(70.0), &[("slope_deg", OutOfRange)]),
        (
            |s| {
                let relief = |height, offset| Relief {
                    kind: ReliefKind::Log,
                    height: Metres::new(height),
                    offset: Metres::new(offset),
                };
                s.relief = vec![relief(0.5, 1.0), relief(0.0, 101.0), relief(9.0, 1.0)];
            },
            &[
                ("relief[1].height_m", OutOfRange),
                ("relief[1].offset_m", OutOfRange),
                ("relief[2].height_m", Contradiction),
            ],
        ),
        (
            |s| {
                s.canopy = Some(Canopy {
                    height: Metres::new(9.0),
                    density: CanopyDensity::Dense,
                    volume_strength: Some(VolumeStrength::new(1.0)),
                });
            },
            &[("canopy.volume_strength_db", OutOfRange), ("canopy.height_m", Contradiction)],
        ),
        (|s| s.fish_layer.bottom = Metres::new(9.0), &[("fish_layer_bottom_m", Contradiction)]),
        (|s| s.fish_layer.top = Metres::new(8.0), &[("fish_layer_top_m", Contradiction)]),
        (|s| s.fish_layer.per_cubic_metre = -1.0, &[("fish_per_m3", OutOfRange)]),
        (|s| s.lure_height = Metres::new(8.0), &[("lure_height_m", Contradiction)]),
        (|s| s.lure_height = Metres::new(0.0), &[("lure_height_m", OutOfRange)]),
        (
            |s| {
                s.hole_radius = Metres::new(1.0);
                s.bottom_temperature = Celsius::new(-1.0);
                s.salinity = GramsPerKilogram::new(50.0);
                s.ph = 2.0;
            },
            &[
                ("hole_radius_m", OutOfRange),
                ("bottom_temperature_c", OutOfRange),
                ("salinity_g_kg", OutOfRange),
                ("ph", OutOfRange),
            ],
        ),
    ];
    for (number, (spoil, expected)) in cases.iter().enumerate() {
        let mut record = spot("a", 8.0, BottomClass::Silt);
        spoil(&mut record);
        expect(&format!("case {number}"), record.check(), expected);
    }
}

#[test]
fn targets() {
    use FaultReason::*;
    let with = |shape| Target { shape, ..target("t", TargetKind::Lure, -50.0) };
    let mm = |value: f64| Metres::new(value * 1.0e-3);
    for (shape, expected) in [
        (TargetShape::Known(Fact::stated(TargetStrength::new(-50.0))), &[] as &[_]),
        (TargetShape::Known(Fact::stated(TargetStrength::new(30.0))), &[("target_strength_db", OutOfRange)]),
        (
            TargetShape::Sphere { diameter: mm(0.5), material: SphereMaterial::Lead },
            &[("sphere.diameter_mm", OutOfRange)],
        ),
        (TargetShape::Disc { diameter: mm(600.0) }, &[("disc.diameter_mm", OutOfRange)]),
        (
            TargetShape::Cylinder { length: mm(0.1), diameter: mm(200.0) },
            &[("cylinder.diameter_mm", OutOfRange), ("cylinder.length_mm", OutOfRange)],
        ),
        (TargetShape::Fish { length: Metres::new(3.0), class: FishClass::General }, &[("fish.length_cm", OutOfRange)]),
    ] {
        expect("target", with(shape).check(), expected);
    }
}

type ShelterCase = (fn(&mut Shelter), &'static [(&'static str, FaultReason)]);

#[test]
fn shelters() {
    use FaultReason::*;
    expect("sound", shelter(4.0, 2.4, 5).check(), &[]);
    let cases: &[ShelterCase] = &[
        (|s| s.floor = Floor::Circle { diameter: Metres::new(0.1) }, &[("floor_diameter_m", OutOfRange)]),
        (
            |s| s.floor = Floor::Rectangle { length: Metres::new(60.0), width: Metres::new(f64::NAN) },
            &[("floor_length_m", OutOfRange), ("floor_width_m", NotFinite)],
        ),
        (|s| s.wall_clearance = Metres::new(2.0), &[("wall_clearance_m", Contradiction)]),
        (|s| s.min_ice_web = Metres::new(-0.1), &[("min_ice_web_m", OutOfRange)]),
        (|s| s.hole_radius = Metres::new(0.01), &[("hole_radius_m", OutOfRange)]),
        (|s| s.holes = HolePlan::Party(0), &[("party_size", OutOfRange)]),
        (|s| s.holes = HolePlan::Party(60), &[("party_size", Contradiction)]),
        (|s| s.holes = HolePlan::Drilled(Vec::new()), &[("party_size", Missing)]),
        (
            |s| {
                let hole = |x, y| Point { x: Metres::new(x), y: Metres::new(y) };
                s.holes = HolePlan::Drilled(vec![hole(1.0, 1.0), hole(1.3, 1.0), hole(5.0, 1.0), hole(f64::NAN, 1.0)]);
            },
            &[("holes[3].x_m", NotFinite), ("holes[2]", Contradiction), ("holes[1]", Contradiction)],
        ),
    ];
    for (number, (spoil, expected)) in cases.iter().enumerate() {
        let mut record = shelter(4.0, 2.4, 5);
        spoil(&mut record);
        expect(&format!("case {number}"), record.check(), expected);
    }
}

#[test]
fn runs_prefix_the_faults_of_their_records() {
    use FaultReason::*;
    let mut input = run(vec![spot("a", 8.0, BottomClass::Silt)], three_widths());
    expect("sound", input.check(), &[]);
    input.spots.push(spot("a", 300.0, BottomClass::Silt));
    input.sensors[1].options[0].frequency.value = Hertz::from_khz(f64::NAN);
    input.options.push(OptionRef { sensor: 0, option: 0 });
    input.options.push(OptionRef { sensor: 9, option: 0 });
    input.fish.kind = TargetKind::Lure;
    input.shelter = Some(Shelter { display_name: String::new(), ..shelter(4.0, 2.4, 5) });
    input.settings.interference_tolerance = 0.0;
    input.settings.draws = 100_001;
    input.settings.lure_offset = Some(Metres::new(-1.0));
    expect(
        "spoiled",
        input.check(),
        &[
            ("interference_tolerance", OutOfRange),
            ("lure_offset_m", OutOfRange),
            ("draws", OutOfRange),
            ("spots[1].depth_m", OutOfRange),
            ("spots[1]", Duplicate),
            ("sensors[1].options[0].frequency_khz", NotFinite),
            ("shelter.display_name", Missing),
            ("fish", Contradiction),
            ("options[3]", Duplicate),
            ("options[4]", Unknown),
        ],
    );
    input.spots.clear();
    input.options.clear();
    let fields: Vec<String> = input.check().into_iter().map(|fault| fault.field).collect();
    assert!(fields.contains(&"spots".to_owned()) && fields.contains(&"options".to_owned()));
}

#[test]
fn limits_survive_the_conversion_of_units() {
    let mut sensor = piston("s", 180.0);
    sensor.options[0].pulse_length.value = Seconds::from_micros(5.0);
    sensor.options[0].frequency.value = Hertz::from_khz(2_000.0);
    sensor.ping_jitter.value = 50.0 / 100.0;
    sensor.dial.points.push(DialPoint { position: 1_080.0, gain: Db::new(70.0) });
    expect("limits", sensor.check(), &[]);
}
