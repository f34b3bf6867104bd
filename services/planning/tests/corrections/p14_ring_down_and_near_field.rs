//! Point 14: ring-down hides what is near, and the far-field formula is flagged where it does not hold.

use acoustics::levels::ring_down;
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Db, Hertz, Metres, Seconds};
use domain::selection::{Failure, Notice, RunInput};
use domain::{Fact, FishLayer, Provenance};
use proptest::prelude::*;

use super::scene::{Scene, scenes, width};

fn pulses(micros: f64, khz: f64) -> impl Fn(&mut RunInput) {
    move |input| {
        let option = &mut input.sensors[0].options[0];
        option.pulse_length = Fact::stated(Seconds::from_micros(micros));
        option.frequency = Fact::stated(Hertz::from_khz(khz));
        option.receiver_bandwidth = Fact::stated(Hertz::new(1.0e6 / micros));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_lure_is_flagged_just_where_the_beam_still_forms(scene in scenes(), narrow in 2.0..15.0_f64, khz in 50.0..400.0_f64, depth in 0.6..6.0_f64) {
        let scene = Scene { depth, width: narrow, ..scene }.bare();
        let found = scene.changed(pulses(100.0, khz));
        let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth: width(narrow).value }, Db::new(-40.0)).unwrap();
        let speed = speed(&scene);
        let far = pattern.far_field_distance(Metres::new(speed / (1.0e3 * khz))).unwrap().get();
        let place = scene.place();
        let range = libm::hypot(depth - place.lure_height.get(), place.hole_radius.get());
        let flagged = found.notices.iter().any(|notice| matches!(notice, Notice::NearField { .. }));
        prop_assume!((range - far).abs() > 0.01);
        prop_assert_eq!(flagged, range < far);
    }

    #[test]
    fn fish_come_out_of_the_ring_down_without_a_jump(scene in scenes(), micros in 50.0..800.0_f64, khz in 50.0..400.0_f64, top in 0.05..0.9_f64) {
        let scene = Scene { depth: scene.depth.max(3.0), ..scene.bare() };
        let within = |input: &mut RunInput, top: f64, bottom: f64| {
            pulses(micros, khz)(input);
            input.spots[0].fish_layer = FishLayer {
                top: Metres::new(top), bottom: Metres::new(bottom), ..input.spots[0].fish_layer
            };
        };
        // A layer that begins higher is counted from where the ring-down ends, without a jump; how much, is held in point 2.
        let at = |top: f64| scene.changed(|input| within(input, top, top + 0.5)).criteria.coverage_radius.get();
        let (near, far) = (at(top), at(top * 1.01));
        prop_assert!((near - far).abs() <= 0.05 * (near + far) + 0.02, "{near} and {far} m");
    }

    #[test]
    fn a_lure_inside_the_ring_down_is_lost_and_the_score_has_come_down_before(scene in scenes(), micros in 300.0..3_000.0_f64, khz in 50.0..400.0_f64) {
        let scene = Scene { depth: scene.depth.clamp(2.0, 4.0), ..scene.bare() };
        let blind = 0.5 * speed(&scene) * ring_down(Seconds::from_micros(micros), Hertz::from_khz(khz)).get();
        let at = |range: f64| scene.changed(|input| {
            pulses(micros, khz)(input);
            input.settings.lure_offset = Some(Metres::new(0.0));
            input.spots[0].lure_height = Metres::new(scene.depth - range);
        });
        prop_assume!(1.002 * blind < 0.9 * scene.depth);
        let (inside, outside) = (at(0.998 * blind), at(1.002 * blind));
        let lost = |f: &domain::selection::Finding| f.failures.iter().any(|x| matches!(x, Failure::LureInRingDown { .. }));
        prop_assert!(lost(&inside) && !lost(&outside), "{:?} and {:?}", inside.failures, outside.failures);
        prop_assert!(outside.score <= 0.0101, "{}", outside.score);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_stated_ring_down_takes_the_place_of_the_assumed_one_and_is_drawn_more_narrowly(
        scene in scenes(), stated in 150.0..2_000.0_f64, khz in 50.0..400.0_f64,
    ) {
        let scene = Scene { depth: 3.0, ..scene.bare() };
        let blind = 0.5 * speed(&scene) * stated * 1.0e-6;
        // The lure hangs where the ring-down ends in the middle, so that a draw loses it or does not.
        let at = |range: f64, ring_down: Option<Fact<Seconds>>, draws: u32| scene.changed(|input| {
            pulses(100.0, khz)(input);
            input.sensors[0].options[0].ring_down = ring_down;
            input.settings.lure_offset = Some(Metres::new(0.0));
            input.settings.draws = draws;
            input.spots[0].lure_height = Metres::new(scene.depth - range);
        });
        let told = Some(Fact::stated(Seconds::from_micros(stated)));
        let lost = |f: &domain::selection::Finding| f.failures.iter().any(|x| matches!(x, Failure::LureInRingDown { .. }));
        prop_assert!(lost(&at(0.998 * blind, told, 0)) && !lost(&at(1.002 * blind, told, 0)));
        let assumes = |f: &domain::selection::Finding| f.assumptions.iter().any(|x| x.field == "ring_down_us");
        prop_assert!(!assumes(&at(blind, told, 0)));
        let taken = Some(Fact { value: Seconds::from_micros(stated), provenance: Provenance::Assumed });
        prop_assert!(assumes(&at(1.002 * blind, taken, 0)));
        // One and a half times as far is four spreads of the one and a spread of the other (a sixth of the draws).
        let far = |ring_down| at(1.5 * blind, ring_down, 64);
        prop_assume!(far(told).failures.is_empty());
        let share = |f: domain::selection::Finding| f.uncertainty.map_or(0.0, |u| u.disqualified);
        let (told, taken) = (share(far(told)), share(far(taken)));
        prop_assert!(taken >= told + 0.04, "{told} of the draws lose it, {taken} where it is assumed");
    }
}

/// Mean sound speed under the scene's spot.
fn speed(scene: &Scene) -> f64 {
    let column = acoustics::water::WaterColumn::under_ice(Metres::new(scene.depth), scene.place().bottom_temperature);
    column.mean_sound_speed().unwrap().get()
}
