use super::*;
use rand::{RngExt, SeedableRng};
#[test]
fn bench() {
    let sensors = 24;
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let stocks: Vec<Stock> = (0..sensors).map(|_| Stock { ready: if rng.random_bool(0.4) { rng.random_range(1..8) } else { 0 }, price: Some(rng.random_range(20..90) * 10) }).collect();
    let jobs = (0..300).map(|_| {
        let first = rng.random_range(0..30);
        let choices = (0..sensors).filter_map(|sensor| rng.random_bool(0.5).then(|| Choice { sensor, score: rng.random_range(0.3..0.9) })).collect();
        Job { anglers: rng.random_range(1..7), first, last: (first + rng.random_range(0..4)).min(29), choices }
    }).collect();
    let p = Problem { stocks, jobs, budget: None, gap: 0.01 };
    solve(&p, &|| true);
}
