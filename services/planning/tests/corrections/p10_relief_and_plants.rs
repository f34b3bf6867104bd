//! Point 10: a boulder or log is a body that is seen where the beam touches it first; plants fill the part of a cell that they fill. And what is
//! hidden by any of them is no good view.

use std::f64::consts::PI;

use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Db, HalfAngle, Metres};
use domain::{BottomClass, PatternKind};
use planning::explain;
use planning::selection::Prepared;
use proptest::prelude::*;

use super::scene::{Scene, round, scenes};

/// The nearest point of a half ellipse that answers loud enough, by rays to many points of its outline.
fn by_rays(scene: &Scene, (height, offset): (f64, f64), (bottom, level): (f64, f64)) -> f64 {
    const RAYS: u32 = 4_000;
    let PatternKind::CircularPiston { beamwidth } = round(scene.width) else { unreachable!() };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth: beamwidth.value }, Db::new(-40.0)).unwrap();
    let mut nearest = f64::INFINITY;
    for ray in 0..=RAYS {
        let t = PI * f64::from(ray) / f64::from(RAYS);
        let (x, z) = (offset - 0.75 * height * libm::cos(t), scene.depth - height * libm::sin(t));
        let (r, angle) = (libm::hypot(x, z), libm::atan2(x.abs(), z));
        let b = pattern.level(HalfAngle::new(angle)).get();
        if bottom - 12.0 - 40.0 * libm::log10(r / scene.depth) + 2.0 * b >= level {
            nearest = nearest.min(r);
        }
    }
    nearest
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_boulder_hides_from_where_rays_meet_it_first(scene in scenes(), height in 0.2..1.2_f64, offset in 0.0..1.5_f64) {
        let scene = Scene { boulder: Some((height, offset)), ..scene.bare() };
        let prepared = Prepared::new(&scene.input(crate::common::piston("p", scene.width)), &domain::Cancel::never()).unwrap();
        let root = explain(&prepared, 0, 0).unwrap();
        let figure = |name: &str| value(&root, name);
        let rays = by_rays(&scene, (height, offset), (figure("bottom_echo_db").unwrap(), figure("hiding_level_db").unwrap()));
        let found = figure("relief_range_m").unwrap_or(f64::INFINITY);
        // Nulls are filled by the pulse's band, which one frequency does not do: side lobes aside, which are some centimetres of such a body.
        let (rays, found) = (rays.min(scene.depth), found.min(scene.depth));
        prop_assert!((rays - found).abs() <= 0.06 * height + 0.01 * scene.depth, "{found} m against {rays} m by rays: {scene:?}");
    }

    #[test]
    fn a_boulder_never_shows_less_of_what_it_hides(scene in scenes(), height in 0.2..1.2_f64, offset in 0.0..1.5_f64, more in 0.0..0.3_f64) {
        let at = |boulder| Scene { boulder, ..scene.clone() }.judged().criteria.dead_zone_height.get();
        let (without, with, higher) = (at(None), at(Some((height, offset))), at(Some((height + more, offset))));
        prop_assert!(without <= with + 1e-9, "{without} and {with} m");
        prop_assert!(with <= higher + 0.02, "{with} and {higher} m");
    }

    #[test]
    fn plants_fill_the_cell_from_below(scene in scenes(), part in 0.02..0.6_f64, more in 0.0..0.1_f64) {
        let at = |part| {
            let ratio = Scene { plants: Some(part), boulder: None, ..scene.clone() }.judged().criteria.lure_over_vegetation;
            ratio.map_or(f64::INFINITY, acoustics::units::Db::get)
        };
        prop_assert!(at(part + more) <= at(part) + 1e-9);
    }

    #[test]
    fn a_centimetre_of_a_boulder_moves_no_score_by_more_than_a_tenth(scene in scenes(), offset in 0.0..1.5_f64, height in 0.2..1.2_f64) {
        let at = |offset: f64| Scene { boulder: Some((height, offset)), ..scene.clone() }.judged();
        let (a, b) = (at(offset), at(offset + 0.01));
        prop_assume!(a.failures.is_empty() && b.failures.is_empty());
        prop_assert!((a.score - b.score).abs() <= 0.1, "{} and {}", a.score, b.score);
    }

    #[test]
    fn a_few_millimetres_of_plants_move_no_score_by_more_than_a_twentieth(scene in scenes(), part in 0.02..0.6_f64) {
        let at = |part: f64| Scene { plants: Some(part), ..scene.clone() }.judged();
        let (a, b) = (at(part), at(part + 0.0025 / scene.depth));
        prop_assume!(a.failures.is_empty() && b.failures.is_empty());
        prop_assert!((a.score - b.score).abs() <= 0.05, "{} and {}", a.score, b.score);
    }
}

fn value(step: &domain::selection::ExplainStep, name: &str) -> Option<f64> {
    if step.name == name { step.value } else { step.inputs.iter().find_map(|input| value(input, name)) }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// A lure that the bottom hides is at the floor of the clutter, however small the view shrinks there, and out of it once it is clear by as much as it
    /// is jigged.
    #[test]
    fn a_hidden_lure_is_no_good_view(scene in scenes(), part in 0.0..1.0_f64) {
        let scene = Scene { plants: None, ..scene };
        let at = |height: f64| scene.changed(|input| input.spots[0].lure_height = Metres::new(height));
        let hidden = at(0.3).criteria.dead_zone_height.get().min(0.4 * scene.depth);
        let low = at((part * hidden).max(0.01));
        // What hides it follows the level of its own echo.
        let buried = (part * hidden).max(0.01) < low.criteria.dead_zone_height.get();
        prop_assert!(!buried || low.desirability.clutter <= 0.1 / std::f64::consts::E + 1e-12, "{low:?}");
        let high = at(hidden + 0.45);
        let clear = hidden + 0.45 - high.criteria.dead_zone_height.get();
        prop_assert!(clear < 0.2 || high.desirability.clutter >= low.desirability.clutter - 1e-9, "{low:?} {high:?}");
    }
}

/// Two independent readers of the first advice found it: level silt, 9 m, the lure at 3 cm in the bottom's own echo or at half a metre in plain sight.
#[test]
fn no_width_prefers_the_lure_in_the_mud() {
    for width in [7.0, 13.0, 22.0, 38.0] {
        let scene = Scene {
            depth: 9.0,
            bottom: BottomClass::Silt,
            slope: 0.0,
            width,
            boulder: None,
            plants: None,
            threshold: 150.0,
            people: 1,
        };
        let at = |height: f64| scene.changed(|input| input.spots[0].lure_height = Metres::new(height));
        let (low, high) = (at(0.03), at(0.5));
        assert!(low.criteria.dead_zone_height.get() > 0.03 && high.criteria.dead_zone_height.get() < 0.3, "{low:?}");
        assert!(low.score < high.score, "{width}°: {} in the mud, {} in sight", low.score, high.score);
    }
}
