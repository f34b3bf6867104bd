//! proto -> domain -> proto is the identity on every whole and sound record.

mod fleet;

use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;

use domain::{Id, Record as _};
use proto::v1;

use super::{custom_goal, sensor, shelter, spot, target};

/// A figure as people write it: a decimal between two whole numbers.
fn decimal(low: i64, high: i64) -> impl Strategy<Value = f64> {
    (0_u32..7, any::<proptest::sample::Index>()).prop_map(move |(places, at)| {
        let scale = 10_i64.pow(places);
        let steps = usize::try_from((high - low) * scale).unwrap();
        let digits = low * scale + i64::try_from(at.index(steps + 1)).unwrap();
        format!("{digits}e-{places}").parse().unwrap()
    })
}

fn fact(low: i64, high: i64) -> impl Strategy<Value = Option<v1::Fact>> {
    (decimal(low, high), 1_i32..6, of(decimal(0, 3)))
        .prop_map(|(value, provenance, spread)| Some(v1::Fact { value, provenance, spread }))
}

fn text() -> impl Strategy<Value = String> {
    "[A-Za-zÄöß0-9 ,.'-]{0,40}"
}

fn name() -> impl Strategy<Value = String> {
    "[A-Z][a-zé0-9 ]{0,30}"
}

fn source() -> impl Strategy<Value = v1::BeamOption> {
    prop_oneof![
        fact(120, 260).prop_map(|source_level_db| v1::BeamOption { source_level_db, ..v1::BeamOption::default() }),
        (fact(1, 10_000), fact(1, 100), 0..4).prop_map(|(electrical_power_w, efficiency_percent, power_kind)| {
            v1::BeamOption { electrical_power_w, efficiency_percent, power_kind, ..v1::BeamOption::default() }
        }),
    ]
}

fn table() -> impl Strategy<Value = Vec<v1::PatternPoint>> {
    (decimal(-2, 0), vec((6_u32..900, decimal(-60, 0)), 2..20)).prop_map(|(near, mut rest)| {
        rest.sort_by_key(|(tenths, _)| *tenths);
        rest.dedup_by_key(|(tenths, _)| *tenths);
        // A table is at least 1° wide at −3 dB.
        let axis = [(0.0, 0.0), (0.5, near)];
        let mut points: Vec<_> =
            axis.map(|(angle_deg, level_db)| v1::PatternPoint { angle_deg, level_db }).into_iter().collect();
        points.extend(
            rest.into_iter()
                .map(|(tenths, level_db)| v1::PatternPoint { angle_deg: f64::from(tenths) / 10.0, level_db }),
        );
        points
    })
}

/// The fields that go with a shape.
fn shape() -> impl Strategy<Value = v1::BeamOption> {
    let widths = (fact(1, 180), 0_i32..4);
    prop_oneof![
        (widths, 0..3).prop_flat_map(|((beamwidth_deg, beamwidth_level), which)| {
            let plain = v1::BeamOption { beamwidth_deg, beamwidth_level, ..v1::BeamOption::default() };
            (fact(-40, -20), fact(1, 180)).prop_map(move |(lobe, cross)| match which {
                0 => v1::BeamOption { shape: v1::BeamShape::CircularPiston.into(), ..plain.clone() },
                1 => v1::BeamOption {
                    shape: v1::BeamShape::ShadedCircular.into(),
                    peak_side_lobe_db: lobe,
                    ..plain.clone()
                },
                _ => v1::BeamOption {
                    shape: v1::BeamShape::Rectangular.into(),
                    cross_beamwidth_deg: cross,
                    ..plain.clone()
                },
            })
        }),
        (table(), 1_i32..4).prop_map(|(pattern_points, pattern_provenance)| v1::BeamOption {
            shape: v1::BeamShape::Tabulated.into(),
            pattern_points,
            pattern_provenance,
            ..v1::BeamOption::default()
        }),
    ]
}

fn option() -> impl Strategy<Value = v1::BeamOption> {
    (
        shape(),
        text(),
        source(),
        fact(10, 2_000),
        fact(-80, -10),
        fact(5, 10_000),
        (fact(1, 2_000), fact(10_000, 20_000)),
        of(1_u32..18),
    )
        .prop_map(|(shape, display_name, source, frequency, floor, pulse, (bandwidth, ring_down), sweep)| {
            v1::BeamOption {
                display_name,
                frequency_khz: frequency,
                floor_db: floor,
                source_level_db: source.source_level_db,
                electrical_power_w: source.electrical_power_w,
                power_kind: source.power_kind,
                efficiency_percent: source.efficiency_percent,
                pulse_length_us: pulse,
                // Less than twice the lowest frequency there is.
                sweep_bandwidth_khz: sweep.map(|khz| v1::Fact { value: f64::from(khz), provenance: 1, spread: None }),
                receiver_bandwidth_khz: bandwidth,
                // Not under the longest pulse there is.
                ring_down_us: ring_down,
                ..shape
            }
        })
}

fn dial() -> impl Strategy<Value = v1::GainDial> {
    let clock = Just(["7:00", "9:30", "12:00", "3:05", "5:00"].map(str::to_owned).to_vec());
    let numbers = vec(0_u32..1_000, 2..12).prop_map(|mut tenths| {
        tenths.sort_unstable();
        tenths.dedup();
        if tenths.len() < 2 {
            tenths.push(1_000);
        }
        tenths.into_iter().map(|tenth| (f64::from(tenth) / 10.0).to_string()).collect::<Vec<_>>()
    });
    (prop_oneof![clock.prop_map(|positions| (1, positions)), (2_i32..4, numbers)]).prop_map(|(scale, positions)| {
        let gain = |index: usize| 0.5 * f64::from(u32::try_from(index).unwrap());
        let points =
            positions.into_iter().enumerate().map(|(index, position)| v1::DialPoint { position, gain_db: gain(index) });
        v1::GainDial { scale, points: points.collect() }
    })
}

fn money() -> impl Strategy<Value = v1::Money> {
    (0_i64..100_000, 0_i32..1_000_000_000).prop_map(|(units, nanos)| v1::Money {
        currency_code: "EUR".to_owned(),
        units,
        nanos,
    })
}

fn a_sensor() -> impl Strategy<Value = v1::Sensor> {
    let receiver = (fact(60, 240), fact(10, 140), fact(0, 60), fact(1, 10_000), fact(0, 50), 1_u32..11);
    (name(), text(), of(money()), vec(option(), 1..6), dial(), receiver).prop_map(
        |(display_name, notes, price, mut options, dial, (threshold, gain, noise, interval, jitter, pings))| {
            for (index, option) in options.iter_mut().enumerate() {
                option.option_id = format!("beam-{index}");
            }
            v1::Sensor {
                name: "sensors/any".to_owned(),
                display_name,
                notes,
                price,
                options,
                threshold_db: threshold,
                max_gain_db: gain,
                dial: Some(dial),
                receiver_noise_db: noise,
                ping_interval_ms: interval,
                ping_jitter_percent: jitter,
                confirm_marks: pings.div_ceil(2),
                confirm_pings: pings,
                ..v1::Sensor::default()
            }
        },
    )
}

fn a_spot() -> impl Strategy<Value = v1::Spot> {
    let place = of((decimal(-90, 90), decimal(-180, 180)));
    let relief = vec((1_i32..3, decimal(1, 2), decimal(0, 100)), 0..5);
    let canopy = of((decimal(1, 2), 0_i32..4, of(decimal(-80, 0))));
    let water = (decimal(0, 30), decimal(0, 40), decimal(6, 9));
    (name(), text(), place, decimal(3, 200), of(decimal(0, 3)), 0_i32..11, decimal(0, 60), relief, canopy, water)
        .prop_map(|(display_name, lake, place, depth_m, ice, bottom_class, slope_deg, relief, canopy, water)| {
            v1::Spot {
                name: "spots/any".to_owned(),
                display_name,
                notes: lake.clone(),
                lake: lake.clone(),
                latitude_deg: place.map(|place| place.0),
                longitude_deg: place.map(|place| place.1),
                depth_m,
                ice_thickness_m: ice,
                bottom_class,
                slope_deg: Some(slope_deg),
                label: lake.clone(),
                relief: relief
                    .into_iter()
                    .map(|(kind, height_m, offset_m)| v1::Relief { kind, height_m, offset_m })
                    .collect(),
                canopy_unknown: canopy.is_none() && slope_deg > 30.0,
                canopy: canopy.map(|(height_m, density, volume_strength_db)| v1::Canopy {
                    height_m,
                    density,
                    volume_strength_db,
                }),
                fish_layer_top_m: Some(depth_m * 0.3),
                fish_layer_bottom_m: Some(depth_m * 0.9),
                fish_per_m3: Some(slope_deg),
                lure_height_m: Some(0.7),
                hole_radius_m: Some(0.125),
                bottom_temperature_c: Some(water.0),
                salinity_g_kg: Some(water.1),
                ph: Some(water.2),
                ..v1::Spot::default()
            }
        })
}

fn a_shelter() -> impl Strategy<Value = v1::Shelter> {
    let floor = prop_oneof![
        (decimal(5, 50), decimal(5, 50)).prop_map(|(length, width)| (length, width, 0.0)),
        decimal(5, 6).prop_map(|diameter| (0.0, 0.0, diameter)),
    ];
    let holes = prop_oneof![
        (1_u32..5).prop_map(|party| (party, Vec::new())),
        Just((0, vec![v1::Hole { x_m: 2.0, y_m: 2.5 }, v1::Hole { x_m: 3.0, y_m: 2.5 }])),
    ];
    (name(), text(), floor, holes, any::<bool>(), decimal(0, 1)).prop_map(
        |(display_name, notes, (length, width, diameter), (party_size, holes), transducers_recessed, web)| {
            v1::Shelter {
                name: "shelters/any".to_owned(),
                display_name,
                notes,
                floor_length_m: length,
                floor_width_m: width,
                floor_diameter_m: diameter,
                wall_clearance_m: Some(0.2),
                min_ice_web_m: Some(web / 2.0),
                hole_radius_m: Some(0.1),
                holes,
                party_size,
                transducers_recessed,
                ..v1::Shelter::default()
            }
        },
    )
}

fn a_target() -> impl Strategy<Value = v1::Target> {
    use proto::v1::target::Shape;
    let shape = prop_oneof![
        fact(-120, 20).prop_map(|fact| Shape::TargetStrengthDb(fact.unwrap())),
        (decimal(1, 100), 1_i32..6)
            .prop_map(|(diameter_mm, material)| Shape::Sphere(v1::Sphere { diameter_mm, material })),
        decimal(1, 500).prop_map(|diameter_mm| Shape::Disc(v1::Disc { diameter_mm })),
        (decimal(1, 500), decimal(1, 100))
            .prop_map(|(length_mm, diameter_mm)| Shape::Cylinder(v1::Cylinder { length_mm, diameter_mm })),
        (decimal(1, 200), 1_i32..7).prop_map(|(length_cm, fish_class)| Shape::Fish(v1::Fish { length_cm, fish_class })),
    ];
    (name(), text(), 1_i32..4, shape).prop_map(|(display_name, notes, kind, shape)| v1::Target {
        name: "targets/any".to_owned(),
        display_name,
        notes,
        kind,
        shape: Some(shape),
        ..v1::Target::default()
    })
}

/// Two figures apart from each other, the smaller one first; as left out as given.
fn ends(low: i64, high: i64) -> impl Strategy<Value = Option<(f64, f64)>> {
    let apart = (decimal(low, high), decimal(low, high)).prop_filter("equal", |(a, b)| a != b);
    of(apart.prop_map(|(a, b)| (a.min(b), a.max(b))))
}

fn a_goal() -> impl Strategy<Value = v1::CustomGoal> {
    let weights = (of(decimal(1, 100)), of(decimal(0, 100)), of(decimal(0, 100)), of(decimal(0, 100)));
    let lengths = (ends(0, 100), ends(0, 100), ends(0, 20));
    let decibels = (ends(-60, 60), ends(-60, 60), ends(0, 1));
    (name(), text(), 0_i32..5, weights, lengths, decibels).prop_map(
        |(display_name, notes, starts_from, weights, (radius, footprint, height), (plants, headroom, fish))| {
            let (small, large) =
                (|ends: Option<(f64, f64)>| ends.map(|e| e.0), |ends: Option<(f64, f64)>| ends.map(|e| e.1));
            v1::CustomGoal {
                name: "goals/any".to_owned(),
                display_name,
                notes,
                starts_from,
                coverage_weight: weights.0,
                clutter_weight: weights.1,
                resolution_weight: weights.2,
                interference_weight: weights.3,
                coverage_radius_worthless_m: small(radius),
                coverage_radius_good_m: large(radius),
                watch_footprint_worthless_m: large(footprint),
                watch_footprint_good_m: small(footprint),
                dead_zone_height_worthless_m: large(height),
                dead_zone_height_good_m: small(height),
                lure_over_vegetation_worthless_db: small(plants),
                lure_over_vegetation_good_db: large(plants),
                headroom_worthless_db: small(headroom),
                headroom_good_db: large(headroom),
                single_fish_probability_worthless: small(fish),
                single_fish_probability_good: large(fish),
                ..v1::CustomGoal::default()
            }
        },
    )
}

fn id() -> Id {
    Id::parse("any").unwrap()
}

proptest! {
    #[test]
    fn sensors_come_back_the_same(message in a_sensor()) {
        prop_assert_eq!(sensor::to(&sensor::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn spots_come_back_the_same(message in a_spot()) {
        prop_assert_eq!(spot::to(&spot::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn shelters_come_back_the_same(message in a_shelter()) {
        prop_assert_eq!(shelter::to(&shelter::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn targets_come_back_the_same(message in a_target()) {
        prop_assert_eq!(target::to(&target::from(id(), message.clone()).unwrap()), message);
    }

    #[test]
    fn goals_come_back_the_same(message in a_goal()) {
        prop_assert_eq!(custom_goal::to(&custom_goal::from(id(), message.clone()).unwrap()), message);
    }
}

/// What is left out stays so, and is assumed where it is computed with.
#[test]
fn what_is_left_out_comes_back_left_out() {
    let message = v1::Spot { display_name: "S".to_owned(), depth_m: 8.0, bottom_class: 4, ..v1::Spot::default() };
    let record = spot::from(id(), message.clone()).unwrap();
    assert_eq!(spot::to(&record), v1::Spot { name: "spots/any".to_owned(), ..message });
    let known = record.known().unwrap();
    assert_eq!((known.fish_layer.top.get(), known.fish_layer.bottom.get(), known.lure_height.get()), (4.0, 8.0, 0.5));

    let fact = |value| Some(v1::Fact { value, provenance: v1::Provenance::Stated.into(), spread: None });
    let leaflet = v1::Sensor {
        display_name: "S".to_owned(),
        options: vec![v1::BeamOption {
            option_id: "a".to_owned(),
            frequency_khz: fact(200.0),
            beamwidth_deg: fact(12.0),
            ..v1::BeamOption::default()
        }],
        ..v1::Sensor::default()
    };
    let record = sensor::from(id(), leaflet.clone()).unwrap();
    assert_eq!(sensor::to(&record), v1::Sensor { name: "sensors/any".to_owned(), ..leaflet });
    let known = record.known().unwrap();
    let assumed = domain::Provenance::Assumed;
    assert_eq!((known.threshold.provenance, known.max_gain.provenance), (assumed, assumed));
    assert_eq!((known.check(), known.dial.points.len()), (vec![], 0));
}

/// Every fault of one record comes back at once, each field once, with its path.
#[test]
fn all_faults_of_a_record_come_back_at_once() {
    let cases: [(v1::Spot, &[&str]); 4] = [
        (
            v1::Spot { depth_m: f64::NAN, slope_deg: Some(f64::INFINITY), bottom_class: 99, ..v1::Spot::default() },
            &["bottom_class", "display_name", "depth_m", "slope_deg"],
        ),
        (
            v1::Spot {
                display_name: "x".repeat(121),
                depth_m: -3.0,
                bottom_class: 1,
                relief: vec![v1::Relief { kind: 7, height_m: -1.0, offset_m: 0.0 }],
                ..v1::Spot::default()
            },
            &["relief[0].kind", "display_name", "depth_m", "relief[0].height_m"],
        ),
        // What contradicts what is told once every field can be read.
        (
            v1::Spot {
                display_name: "S".to_owned(),
                depth_m: 3.0,
                bottom_class: 1,
                latitude_deg: Some(1.0),
                ..v1::Spot::default()
            },
            &["longitude_deg"],
        ),
        (v1::Spot::default(), &["display_name", "depth_m"]),
    ];
    for (message, expected) in cases {
        let faults = spot::from(id(), message).unwrap_err();
        assert_eq!(faults.iter().map(|fault| fault.field.as_str()).collect::<Vec<_>>(), expected);
    }
}

/// Fields that contradict each other are refused instead of dropped; once every field can be read.
#[test]
fn options_refuse_what_does_not_belong_to_their_shape() {
    let stated = |value| Some(v1::Fact { value, provenance: v1::Provenance::Stated.into(), spread: None });
    let contradicts = v1::Sensor {
        display_name: "S".to_owned(),
        options: vec![v1::BeamOption {
            option_id: "a".to_owned(),
            frequency_khz: stated(170.0),
            shape: v1::BeamShape::CircularPiston.into(),
            beamwidth_deg: stated(13.0),
            beamwidth_level: 1,
            cross_beamwidth_deg: stated(5.0),
            source_level_db: stated(200.0),
            electrical_power_w: stated(10.0),
            pattern_provenance: 1,
            ..v1::BeamOption::default()
        }],
        ..v1::Sensor::default()
    };
    let mut fields: Vec<_> =
        sensor::from(id(), contradicts).unwrap_err().into_iter().map(|fault| fault.field).collect();
    fields.sort();
    let expected = ["cross_beamwidth_deg", "electrical_power_w", "pattern_provenance"];
    assert_eq!(fields, expected.map(|field| format!("options[0].{field}")));
    let unsaid = Some(v1::Fact { value: 200.0, provenance: 0, spread: None });
    let message = v1::Sensor {
        display_name: "S".to_owned(),
        options: vec![
            v1::BeamOption {
                option_id: "Beam".to_owned(),
                frequency_khz: unsaid,
                shape: v1::BeamShape::CircularPiston.into(),
                beamwidth_deg: stated(181.0),
                beamwidth_level: 0,
                cross_beamwidth_deg: stated(5.0),
                source_level_db: stated(200.0),
                electrical_power_w: stated(10.0),
                pulse_length_us: stated(1.0),
                pattern_provenance: 1,
                ..v1::BeamOption::default()
            },
            v1::BeamOption {
                option_id: "b".to_owned(),
                shape: 4,
                beamwidth_deg: stated(9.0),
                ..v1::BeamOption::default()
            },
        ],
        threshold_db: stated(f64::NEG_INFINITY),
        ..v1::Sensor::default()
    };
    let mut fields: Vec<_> = sensor::from(id(), message).unwrap_err().into_iter().map(|fault| fault.field).collect();
    fields.sort();
    assert_eq!(
        fields,
        [
            "options[0].beamwidth_deg",
            "options[0].frequency_khz.provenance",
            "options[0].option_id",
            "options[0].pulse_length_us",
            "options[1].frequency_khz",
            "options[1].pattern_points",
            "options[1].pattern_provenance",
            "threshold_db",
        ]
    );
}
