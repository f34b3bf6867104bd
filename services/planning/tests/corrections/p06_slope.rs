//! Point 6: a slope tilts the plane for the bottom echo, the gain it needs, what neighbours scatter and what is hidden.

use acoustics::units::Angle;
use domain::selection::{Finding, Lean};
use proptest::prelude::*;

use super::scene::{Scene, scenes};

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_steeper_the_more_gain_and_what_neighbours_leave_follows_without_a_jump(scene in scenes(), slope in 1.0..25.0_f64) {
        let at = |slope: f64| Scene { slope, ..scene.clone().shared() }.judged();
        let (level, hardly, there, on) = (at(0.0), at(0.05), at(slope), at(slope * 1.01));
        prop_assert!(there.gains.bottom.get() >= level.gains.bottom.get() - 0.3);
        let clear = |f: &Finding| f.gains.clear.unwrap().get();
        prop_assert!((clear(&level) - clear(&hardly)).abs() <= 0.5, "{} and {}", clear(&level), clear(&hardly));
        prop_assert!((clear(&there) - clear(&on)).abs() <= 1.0, "{} and {}: {slope}", clear(&there), clear(&on));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn steeper_needs_more_gain_and_hides_more(scene in scenes(), slope in 0.0..24.0_f64, more in 0.2..6.0_f64) {
        let at = |slope: f64| Scene { slope, boulder: None, plants: None, ..scene.clone() }.judged();
        let (flatter, steeper) = (at(slope), at(slope + more));
        prop_assert!(steeper.gains.bottom.get() >= flatter.gains.bottom.get() - 0.3,
            "{:?} and {:?}", flatter.gains.bottom, steeper.gains.bottom);
    }

    #[test]
    fn a_unit_that_looks_square_onto_a_slope_sees_it_as_level_ground_at_its_distance(scene in scenes(), slope in 1.0..25.0_f64) {
        let bare = Scene { boulder: None, plants: None, ..scene };
        let upright = Scene { slope, ..bare.clone() };
        let square = upright.changed(|input| {
            input.settings.lean = Lean { angle: Angle::from_degrees(slope), direction: Some(Angle::new(0.0)) };
        });
        // The plane is as far away as level ground of that depth; the absorption alone is counted over the depth under the hole.
        let level = Scene { slope: 0.0, depth: bare.depth * libm::cos(slope.to_radians()), ..bare }.judged();
        let (a, b) = (square.gains.bottom.get(), level.gains.bottom.get());
        prop_assert!((a - b).abs() <= 0.3, "{a} and {b} dB");
        prop_assert!(upright.judged().gains.bottom.get() >= a - 0.05);
    }
}
