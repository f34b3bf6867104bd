//! Point 11: among options that all fail a criterion, the one that fails less stands first; equal floors let no other criterion decide.

use acoustics::units::Metres;
use domain::Goal;
use domain::selection::Finding;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Spot};
use planning::selection::Prepared;
use proptest::prelude::*;

use crate::common::{piston, run, shelter, spot};

fn desirabilities(f: &Finding) -> [f64; 4] {
    let d = f.desirability;
    [d.coverage, d.clutter, d.resolution, d.interference]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn in_dense_plants_the_narrower_of_two_pistons_is_never_second(
        depth in 2.5..8.0_f64, narrow in 6.0..14.0_f64, times in 1.2..3.0_f64, above in 0.3..0.6_f64, soft in any::<bool>(),
    ) {
        let bottom = if soft { BottomClass::SoftMud } else { BottomClass::Silt };
        // Plants well over the lure: its cell is full of them, and every beam drowns it.
        let canopy = Canopy { height: Metres::new(above * depth), density: CanopyDensity::Dense, volume_strength: None };
        let place = Spot { canopy: Some(canopy), lure_height: Metres::new(0.3), ..spot("weeds", depth, bottom) };
        let mut input = run(vec![place], vec![piston("a", narrow), piston("b", narrow * times)]);
        input.settings.goal = Goal::WEED_EDGE;
        // On the axis: at the rim of the hole the narrow one may lose it.
        input.settings.lure_offset = Some(Metres::new(0.0));
        let found = Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap();
        let drowns = |f: &Finding| f.criteria.lure_over_vegetation.is_some_and(|ratio| ratio.get() < -5.0);
        prop_assume!(found.iter().all(|f| drowns(f) && f.failures.is_empty()));
        prop_assert_eq!(found[0].rank, 1, "{:?} and {:?}", desirabilities(&found[0]), desirabilities(&found[1]));
    }

    #[test]
    fn worse_in_one_criterion_and_no_better_in_any_is_second(
        depth in 1.5..30.0_f64, widths in prop::array::uniform4(5.0..45.0_f64), people in 1_u32..3, index in 0_usize..10,
        goal in prop::sample::select(Goal::PRESETS.to_vec()),
    ) {
        let sensors = widths.iter().enumerate().map(|(i, width)| piston(&format!("p{i}"), *width)).collect();
        let mut input = run(vec![spot("s", depth, BottomClass::ALL[index])], sensors);
        input.shelter = (people > 1).then(|| shelter(5.0, 3.0, people));
        input.settings.goal = goal.clone();
        let found = Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap();
        // Room to the end of the dial, to noise and neighbours and to the edge of the beam is the rest of a score.
        let roomy = |f: &Finding| f.failures.is_empty() && f.notices.is_empty()
            && f.gains.max.get() - f.gains.working.get() > 3.0 && f.gains.clear.is_none_or(|clear| clear.get() > 3.0);
        let weights = goal.weighing().weights.as_array();
        for a in found.iter().filter(|f| roomy(f)) {
            for b in found.iter().filter(|f| roomy(f)) {
                let pairs = || desirabilities(a).into_iter().zip(desirabilities(b)).zip(weights).filter(|(_, w)| *w > 0.0);
                if pairs().all(|((x, y), _)| x >= y) && pairs().any(|((x, y), _)| x > y) {
                    prop_assert!(a.score > b.score && a.rank < b.rank, "{:?} and {:?}", desirabilities(a), desirabilities(b));
                }
                // A desirability is never nothing, however bad the figure.
                prop_assert!(desirabilities(a).into_iter().all(|d| d > 0.0));
            }
        }
    }
}
