//! No figure jumps: what a small change of one input may move, over random spots and beams; and what slope, heading, ice and lean do.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test")]

mod common;

use acoustics::units::{Angle, Beamwidth, FullAngle, Metres, SourceLevel, WidthLevel};
use common::{piston, run, shelter, spot};
use domain::selection::Finding;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, PatternKind, Relief, ReliefKind, Sensor, Source, Spot};
use planning::selection::Prepared;
use proptest::prelude::*;

/// One spot with a boulder and plants, one beam, alone or with neighbours.
#[derive(Debug, Clone)]
struct Scene {
    depth: f64,
    bottom: BottomClass,
    slope: f64,
    width: f64,
    boulder: Option<(f64, f64)>,
    plants: Option<f64>,
    threshold: f64,
    people: u32,
}

fn scenes() -> impl Strategy<Value = Scene> {
    let place = (1.5..25.0_f64, prop::sample::select(BottomClass::ALL.to_vec()), prop_oneof![Just(0.0), 2.0..25.0_f64]);
    let clutter = (prop::option::of((0.2..1.2_f64, 0.0..1.5_f64)), prop::option::of(0.1..0.4_f64));
    (place, 6.0..40.0_f64, clutter, 140.0..160.0_f64).prop_map(
        |((depth, bottom, slope), width, (boulder, plants), threshold)| Scene {
            depth,
            bottom,
            slope,
            width,
            boulder,
            plants,
            threshold,
            people: 1,
        },
    )
}

fn place(scene: &Scene) -> Spot {
    let boulder = scene.boulder.map(|(height, offset)| Relief {
        kind: ReliefKind::Boulder,
        height: Metres::new(height),
        offset: Metres::new(offset),
    });
    let height = |part: f64| Metres::new(part * scene.depth);
    Spot {
        slope: Angle::from_degrees(scene.slope),
        relief: boulder.into_iter().collect(),
        canopy: scene.plants.map(|part| Canopy {
            height: height(part),
            density: CanopyDensity::Moderate,
            volume_strength: None,
        }),
        ..spot("s", scene.depth, scene.bottom)
    }
}

fn with(scene: &Scene, sensor: Sensor, change: impl FnOnce(&mut domain::selection::RunInput)) -> Finding {
    let mut input = run(vec![place(scene)], vec![sensor]);
    input.sensors[0].threshold = Fact::stated(acoustics::units::Level::new(scene.threshold));
    input.shelter = (scene.people > 1).then(|| shelter(4.2, 2.4, scene.people));
    change(&mut input);
    Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap().remove(0)
}

fn judged(scene: &Scene) -> Finding {
    with(scene, piston("p", scene.width), |_| ())
}

/// A sensor of one source level, whatever its pattern.
fn sends(pattern: PatternKind) -> Sensor {
    let mut sensor = piston("p", 12.0);
    sensor.options[0].pattern = pattern;
    sensor.options[0].source = Source::Stated(Fact::stated(SourceLevel::new(207.0)));
    sensor
}

fn oblong(along: f64, across: f64) -> PatternKind {
    let width = |degrees| Fact::stated(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 });
    PatternKind::Rectangular { along: width(along), across: width(across) }
}

/// How far two scores are apart, where neither is of an option that fails.
fn moved(a: &Finding, b: &Finding) -> f64 {
    if a.failures.is_empty() && b.failures.is_empty() { (a.score - b.score).abs() } else { 0.0 }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_tenth_of_a_decibel_of_gain_grows_no_area_by_more_than_a_fifth(scene in scenes()) {
        let quieter = Scene { threshold: scene.threshold - 0.1, ..scene.clone() };
        let (a, b) = (judged(&scene).criteria, judged(&quieter).criteria);
        for (a, b) in [(a.coverage_radius, b.coverage_radius), (a.watch_footprint, b.watch_footprint)] {
            let (a, b) = (a.get().max(0.1), b.get().max(0.1));
            let ratio = (b / a).max(a / b);
            prop_assert!(ratio * ratio <= 1.2, "{a} and {b} m: {scene:?}");
        }
    }

    #[test]
    fn a_centimetre_of_a_boulder_moves_no_score_by_more_than_a_tenth(scene in scenes(), offset in 0.0..1.5_f64, height in 0.2..1.2_f64) {
        let at = |offset: f64| judged(&Scene { boulder: Some((height, offset)), ..scene.clone() });
        let (a, b) = (at(offset), at(offset + 0.01));
        prop_assert!(moved(&a, &b) <= 0.1, "{} and {}", a.score, b.score);
    }

    #[test]
    fn a_few_millimetres_of_plants_move_no_score_by_more_than_a_twentieth(scene in scenes(), part in 0.02..0.6_f64) {
        let at = |part: f64| judged(&Scene { plants: Some(part), ..scene.clone() });
        let (a, b) = (at(part), at(part + 0.0025 / scene.depth));
        prop_assert!(moved(&a, &b) <= 0.05, "{} and {}", a.score, b.score);
    }

    #[test]
    fn one_per_cent_of_depth_moves_no_gain_by_more_than_a_decibel(scene in scenes()) {
        let (a, b) = (judged(&scene), judged(&Scene { depth: scene.depth * 1.01, ..scene.clone() }));
        for (a, b) in [(a.gains.lure, b.gains.lure), (a.gains.bottom, b.gains.bottom)] {
            prop_assert!((a - b).get().abs() <= 1.0, "{a:?} and {b:?}: {scene:?}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_steeper_the_more_gain_and_what_neighbours_leave_follows_without_a_jump(scene in scenes(), slope in 1.0..25.0_f64) {
        let at = |slope: f64| judged(&Scene { slope, people: 3, boulder: None, plants: None, ..scene.clone() });
        let (level, hardly, there, on) = (at(0.0), at(0.05), at(slope), at(slope * 1.01));
        prop_assert!(there.gains.bottom.get() >= level.gains.bottom.get() - 0.3);
        let clear = |f: &Finding| f.gains.clear.unwrap().get();
        prop_assert!((clear(&level) - clear(&hardly)).abs() <= 0.5, "{} and {}", clear(&level), clear(&hardly));
        prop_assert!((clear(&there) - clear(&on)).abs() <= 1.0, "{} and {}: {slope}", clear(&there), clear(&on));
    }

    #[test]
    fn an_oblong_beam_is_heard_less_than_its_wide_side_all_round_and_more_than_its_narrow_one(
        scene in scenes(), narrow in 7.0..15.0_f64, times in 1.5..3.5_f64,
    ) {
        let scene = Scene { people: 3, boulder: None, plants: None, slope: 0.0, ..scene };
        let clear = |along, across| with(&scene, sends(oblong(along, across)), |_| ()).gains.clear.unwrap().get();
        let (both, own, neither) = (clear(narrow * times, narrow * times), clear(narrow, narrow * times), clear(narrow, narrow));
        // Side lobes of one may stand in the nulls of the other.
        prop_assert!(own >= both - 1.0, "{own} dB against {both} dB with the wide side all round");
        prop_assert!(own <= neither + 1.0, "{own} dB against {neither} dB with the narrow side all round");
        prop_assert!((own - clear(narrow * times, narrow)).abs() <= 0.2, "which side is called first does not matter");
    }

    #[test]
    fn ice_that_sends_more_back_leaves_less_gain(scene in scenes(), ice in 0.05..1.2_f64) {
        let scene = Scene { people: 3, boulder: None, plants: None, ..scene };
        let at = |ice: Option<f64>| {
            let change = |input: &mut domain::selection::RunInput| input.spots[0].ice_thickness = ice.map(Metres::new);
            with(&scene, piston("p", scene.width), change).gains.clear.unwrap().get()
        };
        let loss = |ice: f64| {
            use acoustics::units::Hertz;
            acoustics::ice::sheet_loss(Metres::new(ice), Hertz::from_khz(200.0), Hertz::from_khz(10.0)).unwrap().get()
        };
        let (usual, there) = (at(None), at(Some(ice)));
        let (more, least) = (loss(ice) - loss(0.4), (loss(ice) - loss(0.4)).abs());
        prop_assert!((there - usual) * more >= -0.02, "{there} and {usual} dB, {more} dB more lost");
        // The first bounce does not touch the ice; the third does twice.
        prop_assert!((there - usual).abs() <= 2.0 * least + 0.02, "{there} and {usual} dB, {more} dB more lost");
    }
}
