//! What holds for every run: ranks do not depend on order or chunks, a rejection breaks its limit, more neighbours never help.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test")]

mod common;

use common::{piston, run, shelter, spot};
use domain::selection::{Failure, Finding, RunInput};
use domain::{BottomClass, Cancel, HolePlan, Shelter, Spot};
use planning::selection::Prepared;
use proptest::prelude::*;

fn findings(input: &RunInput) -> Vec<Finding> {
    Prepared::new(input, &Cancel::never()).unwrap().evaluate(0..input.spots.len(), &Cancel::never()).unwrap()
}

fn input(depths: &[f64], beams: &[f64], people: u32) -> RunInput {
    let spots = depths.iter().enumerate();
    let spots =
        spots.map(|(i, d)| Spot { id: common::id(&format!("s{i}")), ..spot("s", *d, BottomClass::ALL[i % 10]) });
    let sensors = beams.iter().enumerate().map(|(i, b)| piston(&format!("p{i}"), *b)).collect();
    let mut input = run(spots.collect(), sensors);
    if people > 1 {
        input.shelter = Some(shelter(5.0, 3.0, people));
    }
    input
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn ranks_do_not_depend_on_the_order_of_the_options(
        depths in prop::collection::vec(1.5..40.0_f64, 1..4),
        beams in prop::collection::vec(5.0..50.0_f64, 2..6),
        people in 1_u32..5,
    ) {
        let forth = input(&depths, &beams, people);
        let mut back = forth.clone();
        back.options.reverse();
        let count = beams.len();
        let (a, b) = (findings(&forth), findings(&back));
        for (x, y) in a.chunks(count).zip(b.chunks(count)) {
            for (i, finding) in x.iter().enumerate() {
                let other = &y[count - 1 - i];
                prop_assert_eq!((finding.rank, finding.score.to_bits()), (other.rank, other.score.to_bits()));
            }
        }
    }

    #[test]
    fn chunks_together_are_the_whole(depths in prop::collection::vec(1.5..40.0_f64, 2..6), cut in 1_usize..5) {
        let input = input(&depths, &[9.0, 19.0], 3);
        let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
        let cut = cut.min(depths.len());
        let mut parts = prepared.evaluate(0..cut, &Cancel::never()).unwrap();
        parts.extend(prepared.evaluate(cut..depths.len(), &Cancel::never()).unwrap());
        prop_assert_eq!(parts, prepared.evaluate(0..depths.len(), &Cancel::never()).unwrap());
    }

    #[test]
    fn a_rejection_breaks_the_limit_that_it_names(depth in 0.6..150.0_f64, beam in 4.0..60.0_f64, people in 1_u32..7) {
        for f in findings(&input(&[depth], &[beam], people)) {
            prop_assert_eq!(f.score == 0.0, !f.failures.is_empty());
            for failure in &f.failures {
                let broken = match *failure {
                    Failure::LureGainBeyondMax { missing } => missing.get() > 0.0 && f.gains.lure > f.gains.max,
                    Failure::BottomGainBeyondMax { missing } => missing.get() > 0.0 && f.gains.bottom > f.gains.max,
                    Failure::LureOutsideBeam { offset, lobe_radius } => offset > lobe_radius,
                    Failure::NoClearGain { fraction_at_zero } => {
                        fraction_at_zero > 0.0 && f.gains.clear.is_some_and(|g| g.get() < 0.0)
                    }
                    Failure::NoiseBeforeLure { by } => by.get() > 0.0,
                    Failure::LureInRingDown { range, blind } => range < blind,
                };
                prop_assert!(broken, "{:?}", failure);
            }
        }
    }

    #[test]
    fn one_more_neighbour_never_raises_the_clear_gain(depth in 2.0..30.0_f64, beam in 5.0..40.0_f64) {
        // Holes that stay where they are, and more beside them: a new layout could put everybody into a lull between side lobes.
        let holes = planning::layout::holes(&shelter(5.0, 3.0, 6), &Cancel::never()).unwrap();
        let clear = |people: usize| {
            let mut input = input(&[depth], &[beam], 6);
            input.shelter = Some(Shelter { holes: HolePlan::Drilled(holes[..people].to_vec()), ..shelter(5.0, 3.0, 6) });
            findings(&input)[0].gains.clear.unwrap().get()
        };
        prop_assert!(clear(3) <= clear(2));
        prop_assert!(clear(6) <= clear(3));
    }
}
