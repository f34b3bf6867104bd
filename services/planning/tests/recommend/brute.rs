//! The decision once more, from the definitions, with plain loops over everything: slow and without cleverness.

use planning::recommend::{Cost, Total, Worths};

/// What is compared.
#[derive(Debug, PartialEq)]
pub(crate) struct Brute {
    pub(crate) totals: Vec<(f64, f64)>,
    /// "take 3", "keep 1", "nowhere", "nothing".
    pub(crate) advice: String,
    pub(crate) probability: Vec<f64>,
    pub(crate) efficient: Vec<bool>,
    pub(crate) firmness: String,
    pub(crate) pair: Option<(usize, usize)>,
    pub(crate) within_five: Option<usize>,
}

/// How near two shares of the draws are the same.
const SAME: f64 = 0.05;

fn price(cost: Cost) -> Option<i128> {
    match cost {
        Cost::Owned => Some(0),
        Cost::Price(price) => Some(price),
        Cost::Unpriced => None,
    }
}

/// Indices with the largest R, or about so, whose U is within 0.02 of the best of them.
fn good(totals: &[(f64, f64)], among: &[usize], about: f64) -> Vec<usize> {
    let mut most = -1.0;
    for &i in among {
        if totals[i].0 > most {
            most = totals[i].0;
        }
    }
    let mut best = -1.0;
    for &i in among {
        if totals[i].0 >= most - about - 1e-9 && totals[i].1 > best {
            best = totals[i].1;
        }
    }
    among.iter().copied().filter(|&i| totals[i].0 >= most - about - 1e-9 && totals[i].1 >= best - 0.02 - 1e-9).collect()
}

/// The cheapest of some (unpriced last), of these the best, of these the first.
fn cheapest(totals: &[(f64, f64)], costs: &[Cost], among: &[usize]) -> Option<usize> {
    let mut found: Option<usize> = None;
    for &i in among {
        let dear = |i: usize| price(costs[i]).unwrap_or(i128::MAX);
        let better = match found {
            None => true,
            Some(j) => dear(i) < dear(j) || (dear(i) == dear(j) && totals[i].1 > totals[j].1),
        };
        if better {
            found = Some(i);
        }
    }
    found
}

/// Of those with about the largest R the one with the greatest U, of these the cheapest, of these the first.
fn best(totals: &[(f64, f64)], costs: &[Cost], among: &[usize]) -> Option<usize> {
    let mut most = -1.0;
    for &i in among {
        if totals[i].0 > most {
            most = totals[i].0;
        }
    }
    let mut found: Option<usize> = None;
    for &i in among.iter().filter(|&&i| totals[i].0 >= most - SAME - 1e-9) {
        let dear = |i: usize| price(costs[i]).unwrap_or(i128::MAX);
        if found.is_none_or(|j| totals[i].1 > totals[j].1 || (totals[i].1 == totals[j].1 && dear(i) < dear(j))) {
            found = Some(i);
        }
    }
    found
}

fn sums(w: &Worths) -> Vec<(f64, f64)> {
    let mut totals = Vec::new();
    for row in &w.expected {
        let (mut r, mut u) = (0.0, 0.0);
        for (p, worth) in row.iter().enumerate() {
            u += w.weights[p] * worth.value;
            r += w.weights[p] * worth.works;
        }
        totals.push((r, u));
    }
    totals
}

pub(crate) fn brute(w: &Worths) -> Brute {
    let n = w.costs.len();
    let totals = sums(w);
    let mut had = Vec::new();
    for i in 0..n {
        let fits = match (w.costs[i], w.budget) {
            (Cost::Owned, _) | (_, None) => true,
            (Cost::Price(p), Some(b)) => p <= b,
            (Cost::Unpriced, Some(_)) => false,
        };
        if fits {
            had.push(i);
        }
    }
    let draws: Vec<Vec<(f64, f64)>> =
        w.draws.iter().map(|d| d.iter().map(|Total { works, value }| (*works, *value)).collect()).collect();
    let rights: Vec<Vec<usize>> = draws.iter().map(|d| good(d, &had, 0.0)).collect();
    let mut probability = Vec::new();
    for i in 0..n {
        let hits = rights.iter().filter(|set| set.contains(&i)).count();
        probability.push(hits as f64 / rights.len() as f64);
    }
    let clear = |a: (f64, f64), b: (f64, f64)| a.0 > b.0 + 1e-9 || a.1 - b.1 >= 0.05 - 1e-9;
    let owned: Vec<usize> = had.iter().copied().filter(|&i| w.costs[i] == Cost::Owned).collect();
    let bought: Vec<usize> = had.iter().copied().filter(|&i| w.costs[i] != Cost::Owned).collect();
    let kept = best(&totals, &w.costs, &owned);
    let works = |i: usize| w.expected[i].iter().any(|place| place.works >= 0.5);
    // Weight of the places at which it works in half of the draws.
    let served = |i: usize| {
        let mut sum = 0.0;
        for (p, place) in w.expected[i].iter().enumerate() {
            if place.works >= 0.5 {
                sum += w.weights[p];
            }
        }
        sum
    };
    let widest = |among: Vec<usize>| -> Vec<usize> {
        let most = among.iter().map(|&i| served(i)).fold(0.0, f64::max);
        among.into_iter().filter(|&i| served(i) >= most - 1e-9).collect()
    };
    let (advice, right) = if had.is_empty() {
        ("nothing".to_owned(), None)
    } else if had.iter().all(|&i| !works(i)) {
        ("nowhere".to_owned(), None)
    } else if let Some(k) = kept {
        let often = |i: usize| draws.iter().filter(|d| clear(d[i], d[k])).count() as f64 / draws.len() as f64;
        let more = |i: usize| served(i) > served(k) + 1e-9;
        let better: Vec<usize> = bought.iter().copied().filter(|&i| more(i) || often(i) >= 0.8).collect();
        match cheapest(&totals, &w.costs, &widest(good(&totals, &better, SAME))).filter(|&i| works(i)) {
            Some(i) => (format!("take {i}"), Some(probability[i])),
            None => {
                let kept_right = draws.iter().filter(|d| !bought.iter().any(|&i| clear(d[i], d[k]))).count();
                (format!("keep {k}"), Some(kept_right as f64 / draws.len() as f64))
            }
        }
    } else {
        let i = cheapest(&totals, &w.costs, &widest(good(&totals, &had, SAME))).unwrap();
        (format!("take {i}"), Some(probability[i]))
    };
    let sensor: Option<usize> = advice.split(' ').nth(1).map(|i| i.parse().unwrap());
    Brute {
        efficient: efficient(w, &totals),
        firmness: right.map_or(String::new(), |right| firmness(right, &rights, n, sensor)),
        pair: pair(w, &totals, &had),
        within_five: sensor.and_then(|s| within_five(w, &totals, &had, s)),
        totals,
        advice,
        probability,
    }
}

fn efficient(w: &Worths, totals: &[(f64, f64)]) -> Vec<bool> {
    let n = totals.len();
    (0..n)
        .map(|i| {
            let Some(mine) = price(w.costs[i]) else { return false };
            for j in 0..n {
                let Some(other) = price(w.costs[j]) else { continue };
                let no_worse = other <= mine && totals[j].1 >= totals[i].1;
                if no_worse && (other < mine || totals[j].1 > totals[i].1) {
                    return false;
                }
            }
            true
        })
        .collect()
}

/// "firm", "likely", "one of 2", "too little".
fn firmness(right: f64, rights: &[Vec<usize>], n: usize, sensor: Option<usize>) -> String {
    if right >= 0.8 {
        return "firm".to_owned();
    }
    if right >= 0.5 {
        return "likely".to_owned();
    }
    for size in 1..=3_u32 {
        for mask in 0_u32..(1 << n) {
            let hit = rights.iter().filter(|set| set.iter().any(|&i| mask >> i & 1 == 1)).count();
            if mask.count_ones() == size
                && sensor.is_none_or(|s| mask >> s & 1 == 1)
                && hit as f64 / rights.len() as f64 >= 0.8
            {
                return format!("one of {size}");
            }
        }
    }
    "too little".to_owned()
}

/// Two sensors, what they cost together, and their R and U.
type Pair = ((usize, usize), i128, (f64, f64));

fn pair(w: &Worths, totals: &[(f64, f64)], had: &[usize]) -> Option<(usize, usize)> {
    let most = totals[best(totals, &w.costs, had)?];
    let mut all: Vec<Pair> = Vec::new();
    for &i in had {
        for &j in had {
            let (Some(a), Some(b)) = (price(w.costs[i]), price(w.costs[j])) else { continue };
            if i >= j || w.budget.is_some_and(|budget| a + b > budget) {
                continue;
            }
            let (mut r, mut u) = (0.0, 0.0);
            for p in 0..w.weights.len() {
                let (x, y) = (w.expected[i][p], w.expected[j][p]);
                u += w.weights[p] * if x.value > y.value { x.value } else { y.value };
                r += w.weights[p] * if x.works > y.works { x.works } else { y.works };
            }
            // One of the two alone must not do as well.
            let alone = if totals[i].1 > totals[j].1 { totals[i].1 } else { totals[j].1 };
            if u - alone > 0.05 + 1e-9 {
                all.push(((i, j), a + b, (r, u)));
            }
        }
    }
    let list: Vec<(f64, f64)> = all.iter().map(|p| p.2).collect();
    let prices: Vec<Cost> = all.iter().map(|p| Cost::Price(p.1)).collect();
    let among: Vec<usize> = (0..all.len()).collect();
    let best = cheapest(&list, &prices, &good(&list, &among, SAME))?;
    (list[best].1 - most.1 > 0.05 + 1e-9).then_some(all[best].0)
}

fn within_five(w: &Worths, totals: &[(f64, f64)], had: &[usize], sensor: usize) -> Option<usize> {
    let most = totals[best(totals, &w.costs, had)?];
    let mut found: Option<usize> = None;
    for &i in had {
        let near = totals[i].0 >= most.0 - SAME - 1e-9 && most.1 - totals[i].1 <= 0.05 + 1e-9;
        let Cost::Price(p) = w.costs[i] else { continue };
        if near && found.is_none_or(|f| p < price(w.costs[f]).unwrap()) {
            found = Some(i);
        }
    }
    let dearer = |f: usize| price(w.costs[sensor]).is_none_or(|s| price(w.costs[f]).unwrap() < s);
    found.filter(|&f| f != sensor && dearer(f))
}
