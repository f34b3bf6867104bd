use super::*;
use domain::Cancel;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What an assignment is worth, counted plainly: every day, no matter which ones can run out.
fn recount(problem: &Problem, given: &[Option<usize>]) -> Option<(u64, i128, f64)> {
    let last = problem.jobs.iter().map(|job| job.last).max().unwrap_or(0);
    let mut cost = 0;
    for (sensor, stock) in problem.stocks.iter().enumerate() {
        let mut needed = 0;
        for day in 0..=last {
            let mut used = 0;
            for (job, own) in problem.jobs.iter().zip(given) {
                if *own == Some(sensor) && (job.first..=job.last).contains(&day) {
                    used += job.anglers;
                }
            }
            needed = needed.max(used);
        }
        if needed > stock.ready {
            cost += stock.price? * i128::from(needed - stock.ready);
        }
    }
    if problem.budget.is_some_and(|budget| cost > budget) {
        return None;
    }
    let (mut met, mut score) = (0, 0.0);
    for (job, own) in problem.jobs.iter().zip(given) {
        if let Some(sensor) = own {
            let choice = job.choices.iter().find(|choice| choice.sensor == *sensor)?;
            met += u64::from(job.anglers);
            score += f64::from(job.anglers) * choice.score;
        }
    }
    Some((met, cost, score))
}

/// The best of all assignments there are.
fn exhaustive(problem: &Problem) -> (u64, i128, f64) {
    let mut given = vec![None; problem.jobs.len()];
    let mut best = (0, 0, 0.0);
    visit(problem, 0, &mut given, &mut best);
    best
}

fn visit(problem: &Problem, job: usize, given: &mut Vec<Option<usize>>, best: &mut (u64, i128, f64)) {
    let Some(record) = problem.jobs.get(job) else {
        if let Some(found) = recount(problem, given)
            && found.0.cmp(&best.0).then(best.1.cmp(&found.1)).then(found.2.total_cmp(&best.2)).is_gt()
        {
            *best = found;
        }
        return;
    };
    for choice in std::iter::once(None).chain(record.choices.iter().map(|choice| Some(choice.sensor))) {
        given[job] = choice;
        visit(problem, job + 1, given, best);
    }
    given[job] = None;
}

fn random(rng: &mut ChaCha8Rng) -> Problem {
    let sensors = rng.random_range(1..=3);
    let jobs = rng.random_range(1..=5);
    let price = |rng: &mut ChaCha8Rng| i128::from(rng.random_range(1..=9_u32)) * 70_500_000_000;
    Problem {
        stocks: (0..sensors)
            .map(|_| Stock { ready: rng.random_range(0..=4), price: rng.random_bool(0.7).then(|| price(rng)) })
            .collect(),
        jobs: (0..jobs)
            .map(|_| {
                let first = rng.random_range(0..6);
                Job {
                    anglers: rng.random_range(1..=4),
                    first,
                    last: rng.random_range(first..6),
                    choices: (0..sensors)
                        .filter_map(|sensor| {
                            let score = f64::from(rng.random_range(30..=90_u32)) / 100.0;
                            rng.random_bool(0.75).then_some(Choice { sensor, score })
                        })
                        .collect(),
                }
            })
            .collect(),
        budget: rng.random_bool(0.5).then(|| price(rng) * 2),
        gap: 0.0,
    }
}

/// Against exhaustive enumeration: as many met, as cheap, as good, and proven.
#[test]
fn small_problems_are_solved_as_enumeration_solves_them() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let (mut paid, mut short) = (0, 0);
    for case in 0..400 {
        let problem = random(&mut rng);
        let solution = solve(&problem, &Cancel::never()).unwrap();
        let (met, cost, score) = exhaustive(&problem);
        let own = recount(&problem, &solution.given).unwrap();
        assert_eq!((own.0, own.1), (met, cost), "case {case}: {problem:?}\n{solution:?}");
        assert!((own.2 - score).abs() <= 1.0e-9 * score.max(1.0), "case {case}: {} {score}\n{problem:?}", own.2);
        assert_eq!((solution.cost, solution.least_cost), (cost, cost), "case {case}");
        assert!(
            solution.met_is_proven && solution.cost_is_proven && solution.score_is_proven,
            "case {case}: {solution:?}"
        );
        let spent: i128 =
            problem.stocks.iter().zip(&solution.bought).map(|(s, n)| s.price.unwrap_or(0) * i128::from(*n)).sum();
        assert_eq!(spent, cost, "case {case}");
        paid += u32::from(cost > 0);
        short += u32::from(met < problem.jobs.iter().map(|job| u64::from(job.anglers)).sum());
    }
    assert!(paid > 80 && short > 80, "{paid} with purchases, {short} short");
}

/// Against exhaustive enumeration: with a gap the bound is under the least cost, and the plan no dearer than the gap allows.
#[test]
fn with_a_gap_the_bound_still_holds() {
    let mut rng = ChaCha8Rng::seed_from_u64(8);
    for case in 0..100 {
        let problem = Problem { gap: 0.2, ..random(&mut rng) };
        let solution = solve(&problem, &Cancel::never()).unwrap();
        let (met, cost, _) = exhaustive(&problem);
        let own = recount(&problem, &solution.given).unwrap();
        assert_eq!((own.0, own.1), (met, solution.cost), "case {case}");
        assert!(solution.least_cost <= cost && cost <= solution.cost, "case {case}: {solution:?} {cost}");
        assert!((solution.cost - solution.least_cost) * 5 <= solution.cost, "case {case}: {solution:?}");
    }
}

#[test]
fn a_cancelled_search_ends() {
    let cancelled = Cancel::new();
    cancelled.cancel();
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let refused = (0..50).filter(|_| solve(&random(&mut rng), &cancelled).is_err()).count();
    assert!(refused > 0);
}
