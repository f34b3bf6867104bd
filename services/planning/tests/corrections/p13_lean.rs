//! Point 13: a lean is an input that lure, bottom, neighbours and coverage follow.

use std::f64::consts::PI;

use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Angle, Db, HalfAngle, Metres};
use domain::selection::{Failure, Finding, Lean, RunInput};
use domain::{Cancel, PatternKind};
use planning::selection::Prepared;
use planning::{explain, lean_cost};
use proptest::prelude::*;

use super::scene::{Scene, first, round, scenes, sends};
use crate::common::piston;

fn lean(degrees: f64, direction: Option<f64>) -> impl Fn(&mut RunInput) {
    move |input| {
        input.settings.lean =
            Lean { angle: Angle::from_degrees(degrees), direction: direction.map(Angle::from_degrees) };
    }
}

fn lost(f: &Finding) -> bool {
    f.failures.iter().any(|failure| matches!(failure, Failure::LureOutsideBeam { .. }))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn leaning_away_from_the_lure_never_pays(scene in scenes(), degrees in 0.0..12.0_f64, more in 0.1..6.0_f64) {
        let at = |degrees: f64| Scene { boulder: None, ..scene.clone() }.changed(lean(degrees, None));
        let (less, more) = (at(degrees), at(degrees + more));
        // The lure may cross side lobes on its way out of the beam, and is then lost for good.
        prop_assert!(!lost(&less) || lost(&more));
        prop_assert!(more.gains.bottom.get() >= less.gains.bottom.get() - 0.3, "{:?} and {:?}", less.gains, more.gains);
        prop_assert!(lost(&more) || more.gains.lure.get() >= less.gains.lure.get() - 1e-6, "{:?} and {:?}", less.gains, more.gains);
    }

    #[test]
    fn a_lean_towards_the_lure_brings_it_onto_the_axis(scene in scenes(), offset in 0.05..1.0_f64) {
        let scene = scene.bare();
        let place = scene.place();
        let depth = scene.depth - place.lure_height.get();
        let towards = libm::atan2(offset, depth).to_degrees();
        prop_assume!(towards < 30.0);
        let at = |degrees: f64, offset: f64| scene.changed(|input| {
            lean(degrees, Some(0.0))(input);
            input.settings.lure_offset = Some(Metres::new(offset));
        });
        let (aimed, upright) = (at(towards, offset), at(0.0, offset));
        prop_assert!(aimed.gains.lure.get() <= upright.gains.lure.get() + 1e-9);
        // Straight under an upright transducer it needs what it needs here, but for the longer way.
        let way = 40.0 * libm::log10(libm::hypot(depth, offset) / depth);
        let straight = at(0.0, 0.0).gains.lure.get();
        prop_assert!((aimed.gains.lure.get() - straight - way).abs() <= 0.05 || straight == 0.0, "{:?}, {straight} and {way} dB", aimed.gains);
    }

    #[test]
    fn all_ways_round_to_the_sides_cost_alike_on_level_ground(scene in scenes(), degrees in 0.5..12.0_f64, way in 0.0..180.0_f64) {
        let at = |way: f64| scene.clone().bare().changed(lean(degrees, Some(way)));
        let (left, right) = (at(way), at(360.0 - way));
        prop_assert!((left.gains.lure - right.gains.lure).get().abs() < 1e-6);
        prop_assert!((left.gains.bottom - right.gains.bottom).get().abs() < 1e-6);
        // Which way it looks does not matter to the bottom there.
        prop_assert!((left.gains.bottom - at(0.0).gains.bottom).get().abs() < 1e-6);
    }

    #[test]
    fn what_five_degrees_cost_is_what_a_run_with_them_finds(scene in scenes()) {
        let prepared = Prepared::new(&scene.input(piston("p", scene.width)), &Cancel::never()).unwrap();
        let cost = lean_cost(&prepared, 0, 0).unwrap();
        let (upright, leaning) = (scene.judged(), scene.changed(lean(5.0, None)));
        prop_assert!((cost.more - (leaning.gains.working - upright.gains.working)).get().abs() < 1e-6, "{cost:?}");
        prop_assert!((cost.hidden - leaning.criteria.dead_zone_height).get().abs() < 1e-6, "{cost:?}");
        prop_assert!((cost.scores[1] - leaning.score).abs() < 1e-6 && cost.lost == lost(&leaning), "{cost:?}");
        prop_assert_eq!(value(&explain(&prepared, 0, 0).unwrap(), "lean_cost_db"), Some(cost.more.get()));
    }
}

/// Area in which fish show under a leaning beam, by squares on planes of the layer.
fn by_squares(scene: &Scene, degrees: f64, (search, absorption, noise): (f64, f64, f64), deepest: f64) -> f64 {
    const SIDE: i32 = 240;
    const DEPTHS: u32 = 12;
    let PatternKind::CircularPiston { beamwidth } = round(scene.width) else { unreachable!() };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth: beamwidth.value }, Db::new(-40.0)).unwrap();
    let place = scene.place();
    let (top, bottom) = (place.fish_layer.top.get(), place.fish_layer.bottom.get());
    let threshold = (scene.threshold - search).max(noise);
    let (sine, cosine) = (libm::sin(degrees.to_radians()), libm::cos(degrees.to_radians()));
    let mut area = 0.0;
    for step in 0..DEPTHS {
        let z = top + (bottom - top) * (f64::from(step) + 0.5) / f64::from(DEPTHS);
        let side = 1.5 * z / f64::from(SIDE);
        for i in -SIDE..SIDE {
            for k in 0..SIDE {
                let (x, y) = ((f64::from(i) + 0.5) * side, (f64::from(k) + 0.5) * side);
                let r = libm::sqrt(x * x + y * y + z * z);
                let angle = libm::acos(((cosine * z - sine * x) / r).clamp(-1.0, 1.0));
                let b = pattern.level(HalfAngle::new(angle)).get();
                let echo = 207.0 - 40.0 * libm::log10(r) - 2.0 * absorption * r - 36.0 + 2.0 * b;
                if r <= deepest && echo >= threshold {
                    area += 2.0 * side * side / f64::from(DEPTHS);
                }
            }
        }
    }
    libm::sqrt(area / PI)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn coverage_of_a_leaning_beam_is_the_area_in_which_fish_show(scene in scenes(), degrees in 0.0..12.0_f64) {
        let scene = Scene { width: scene.width.min(28.0), ..scene.bare() };
        let mut input = scene.input(sends(round(scene.width)));
        lean(degrees, Some(180.0))(&mut input);
        input.settings.lure_offset = Some(Metres::new(0.0));
        let found = first(&input);
        let root = explain(&Prepared::new(&input, &Cancel::never()).unwrap(), 0, 0).unwrap();
        let figure = |name: &str| value(&root, name).unwrap();
        // The gain at which coverage is told, which a lure off the axis does not turn up.
        let needed = figure("lure_gain_on_axis_db").max(found.gains.bottom.get()).min(found.gains.max.get());
        let gain = (needed + 15.0).min(found.gains.max.get());
        let deepest = scene.depth - found.criteria.range_cell.get();
        let squares = by_squares(&scene, degrees, (gain, figure("absorption_db_per_m"), figure("noise_db")), deepest);
        let got = found.criteria.coverage_radius.get();
        let apart = 20.0 * libm::log10((got + 0.03) / (squares + 0.03));
        prop_assert!(apart.abs() <= 1.0, "{got} m against {squares} m: {scene:?}, {degrees}°, {:?}", found.gains);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn neighbours_follow_a_lean_without_a_jump(scene in scenes(), degrees in 0.5..10.0_f64) {
        let scene = Scene { slope: 0.0, ..scene.shared() };
        let at = |degrees: f64| scene.changed(lean(degrees, None)).gains.clear.unwrap().get();
        let (upright, there, on) = (at(0.0), at(degrees), at(degrees * 1.01));
        prop_assert!((there - on).abs() <= 1.0, "{there} and {on} dB");
        // One of the two ways leans towards the neighbour: what is heard is hardly ever less.
        prop_assert!(there <= upright + 1.0, "{upright} and {there} dB");
    }
}

fn value(step: &domain::selection::ExplainStep, name: &str) -> Option<f64> {
    if step.name == name { step.value } else { step.inputs.iter().find_map(|input| value(input, name)) }
}
