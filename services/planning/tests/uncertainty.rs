//! Draws: acceptabilities, bands, seeds; and SMAA against worked values.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::disallowed_methods
)]

mod common;

use common::{run, shelter, spot, three_pistons};
use planning::domain::BottomClass;
use planning::domain::selection::RunInput;
use planning::selection::{Prepared, Scratch};
use planning::uncertainty::smaa::{Tally, WeightSampler};
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;

/// Three spots and three beams, shared by five.
fn input(draws: u32, seed: u64) -> RunInput {
    let spots = vec![
        spot("shelf", 4.0, BottomClass::MediumSand),
        spot("flat", 8.0, BottomClass::Silt),
        spot("basin", 16.0, BottomClass::SoftMud),
    ];
    let mut input = run(spots, three_pistons());
    input.shelter = Some(shelter(4.0, 2.4, 5));
    input.settings.draws = draws;
    input.settings.seed = seed;
    input
}

/// Ranks of options under a linear utility with drawn weights.
fn acceptabilities(utilities: &[[f64; 3]], draws: u32) -> Vec<Vec<f64>> {
    let sampler = WeightSampler::about([1.0; 3]);
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut tally = Tally::<3>::new(utilities.len());
    for _ in 0..draws {
        let weights = sampler.draw(&mut rng);
        let worth: Vec<f64> =
            utilities.iter().map(|u| u.iter().zip(weights).map(|(u, w)| u * w).sum::<f64>()).collect();
        let ranks: Vec<u32> =
            worth.iter().map(|w| 1 + u32::try_from(worth.iter().filter(|o| *o > w).count()).unwrap()).collect();
        tally.add(&ranks, &weights);
    }
    (0..utilities.len()).map(|i| tally.acceptability(i)).collect()
}

#[test]
fn rank_acceptabilities_meet_exact_polygon_areas() {
    // Exact values by polygon clipping with shapely 2.2.0 (tests/reference/values.json, smaa_A_* and smaa_B_*), definition of
    // Lahdelma and Salminen (2001); tolerance 0.003 there, which is over three standard errors of 200,000 draws.
    let a = acceptabilities(&[[1.0, 0.0, 0.5], [0.3, 0.8, 0.4], [0.5, 0.4, 0.9]], 200_000);
    let b = acceptabilities(&[[0.9, 0.2, 0.3], [0.5, 0.6, 0.5], [0.2, 0.9, 0.6], [0.4, 0.4, 0.95]], 200_000);
    for (got, exact, name) in [
        (a[0][1], 0.243_621, "smaa_A_b1_2"),
        (a[1][0], 0.276_543, "smaa_A_b2_1"),
        (a[1][2], 0.506_173, "smaa_A_b2_3"),
        (a[2][0], 0.427_984, "smaa_A_b3_1"),
        (a[2][2], 0.032_922, "smaa_A_b3_3"),
        (b[1][0], 0.004_865, "smaa_B_b2_1"),
        (b[2][0], 0.368_045, "smaa_B_b3_1"),
        (b[3][0], 0.367_960, "smaa_B_b4_1"),
    ] {
        assert!((got - exact).abs() <= 0.003, "{name}: {got} against {exact}");
    }
}

#[test]
fn draws_depend_on_the_seed_and_on_nothing_else() {
    let of = |seed| Prepared::new(&input(200, seed)).unwrap().evaluate(0..3).unwrap();
    let whole = of(5);
    assert_eq!(whole, of(5));
    assert_ne!(whole, of(6));
    // In chunks, in another order, with other working memory: the same bytes.
    let prepared = Prepared::new(&input(200, 5)).unwrap();
    let options = prepared.option_count();
    for spot in [2, 0, 1] {
        let mut alone = Vec::new();
        prepared.evaluate_spot(spot, &mut Scratch::new(), &mut alone).unwrap();
        assert_eq!(alone, whole[spot * options..(spot + 1) * options]);
    }
}

#[test]
fn acceptabilities_sum_to_one_and_bands_hold_their_median() {
    let prepared = Prepared::new(&input(500, 1)).unwrap();
    let findings = prepared.evaluate(0..3).unwrap();
    for finding in &findings {
        let u = finding.uncertainty.as_ref().unwrap();
        assert!((u.rank_acceptability.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        for band in [u.score, u.coverage_radius_m, u.watch_footprint_m, u.shadow_height_m, u.working_gain_db] {
            assert!(band.low <= band.median && band.median <= band.high, "{band:?}");
        }
        assert!((0.0..=1.0).contains(&u.disqualified));
    }
    // The best option of a spot is never beaten in every criterion.
    assert!(
        findings.iter().filter(|f| f.rank == 1 && f.failures.is_empty()).all(|f| f
            .uncertainty
            .as_ref()
            .unwrap()
            .pareto)
    );
    // In one rank exactly one option: columns sum to one as well.
    let spot: Vec<_> = findings.iter().filter(|f| f.spot == 1).collect();
    for rank in 0..spot.len() {
        let sum: f64 = spot.iter().map(|f| f.uncertainty.as_ref().unwrap().rank_acceptability[rank]).sum();
        assert!((sum - 1.0).abs() < 1e-9);
    }
}
