//! The decision between sensors: from a table of worths to one recommendation. Pure arithmetic, no acoustics.

use std::cmp::Ordering;

use super::settle::settling;
use super::types::{
    Advice, CandidateIndex, Cost, Decision, Firmness, LIKELY, Pair, PlaceIndex, Step, Total, Whereabouts, Worths,
};

/// A U this near to the best is as good as the best.
pub const AS_GOOD: f64 = 0.02;
/// Two means of R over draws this near are the same: 256 draws tell a share to some 3 of 100.
pub const SAME: f64 = 0.05;
/// A U that much higher is clearly better, and worth a second sensor.
pub const CLEARLY: f64 = 0.05;
/// Share of the draws that makes an advice firm.
pub const FIRM: f64 = 0.8;
/// Most sensors that a toss-up names.
pub const MOST_NAMED: usize = 3;
/// A difference that rounds to a point at least.
const ONE_POINT: f64 = 0.005;
/// Sums of the same weights in another order differ by less.
const ROUNDING: f64 = 1.0e-9;

/// Decides.
#[must_use]
pub fn decide(worths: &Worths) -> Decision {
    let totals: Vec<Total> = worths.expected.iter().map(|row| total(row, &worths.weights)).collect();
    let table =
        Table { worths, totals: &totals, same: if worths.draws.is_empty() { ROUNDING } else { SAME + ROUNDING } };
    let affordable: Vec<bool> = worths.costs.iter().map(|cost| can_be_had(*cost, worths.budget)).collect();
    let had: Vec<CandidateIndex> = table.all().filter(|c| affordable.get(c.0) == Some(&true)).collect();
    let right_sets: Vec<Vec<CandidateIndex>> =
        worths.draws.iter().map(|draw| as_good_as_best(draw, &had, ROUNDING)).collect();
    let probability: Vec<f64> = table.all().map(|c| share(&right_sets, |set| set.binary_search(&c).is_ok())).collect();
    let advice = advise(&table, &had);
    let right = right(&table, advice, &had, &probability);
    let efficient: Vec<bool> = table.all().map(|c| table.efficient(c)).collect();
    let sensor = advice.sensor();
    Decision {
        advice,
        right,
        firmness: right.map(|right| firmness(right, &right_sets, &probability, sensor)),
        least: worths.expected.iter().map(|row| row.iter().map(|w| w.value).fold(1.0, f64::min)).collect(),
        regret: table.all().map(|c| regret(&worths.draws, c, &had)).collect(),
        order: table.order(),
        within_five: sensor.and_then(|sensor| table.within_five(sensor, &had)),
        cheaper: sensor.and_then(|sensor| table.cheaper(sensor, &efficient)),
        // What the budget would buy as well is told with the advice to keep.
        dearer: sensor
            .and_then(|sensor| table.dearer(sensor))
            .filter(|step| !matches!(advice, Advice::Keep { .. }) || affordable.get(step.candidate.0) == Some(&false)),
        pair: pair(&table, &had),
        settling: sensor.and_then(|sensor| {
            settling(&worths.unknowns, &right_sets, probability.get(sensor.0).copied().unwrap_or(0.0))
        }),
        probability,
        affordable,
        efficient,
        totals,
    }
}

/// R and U of one candidate over the places.
#[must_use]
pub fn total(row: &[Total], weights: &[f64]) -> Total {
    row.iter().zip(weights).fold(Total::default(), |sum, (worth, weight)| Total {
        works: sum.works + weight * worth.works,
        value: sum.value + weight * worth.value,
    })
}

fn can_be_had(cost: Cost, budget: Option<i128>) -> bool {
    match (cost, budget) {
        (Cost::Owned, _) | (Cost::Price(_) | Cost::Unpriced, None) => true,
        (Cost::Price(price), Some(budget)) => price <= budget,
        (Cost::Unpriced, Some(_)) => false,
    }
}

/// By R, then by U; sums that differ by rounding are equal.
fn compare(a: Total, b: Total) -> Ordering {
    if (a.works - b.works).abs() > ROUNDING { a.works.total_cmp(&b.works) } else { a.value.total_cmp(&b.value) }
}

/// Those with the largest R, or as good as the same, whose U is within 0.02 of the best among these, by position.
fn as_good_as_best(totals: &[Total], among: &[CandidateIndex], same: f64) -> Vec<CandidateIndex> {
    let totals = || among.iter().filter_map(|c| Some((*c, *totals.get(c.0)?)));
    let most = totals().map(|(_, t)| t.works).fold(f64::NEG_INFINITY, f64::max);
    let widest = || totals().filter(move |(_, t)| most - t.works <= same);
    let best = widest().map(|(_, t)| t.value).fold(f64::NEG_INFINITY, f64::max);
    widest().filter(|(_, t)| best - t.value <= AS_GOOD + ROUNDING).map(|(c, _)| c).collect()
}

/// Whether one total is clearly better than another.
fn clearly(better: Total, than: Total) -> bool {
    better.works - than.works > ROUNDING || better.value - than.value >= CLEARLY - ROUNDING
}

fn share(sets: &[Vec<CandidateIndex>], holds: impl Fn(&[CandidateIndex]) -> bool) -> f64 {
    let count = sets.iter().filter(|set| holds(set)).count();
    if sets.is_empty() { 0.0 } else { crate::selection::count(count) / crate::selection::count(sets.len()) }
}

/// What to do.
fn advise(table: &Table<'_>, had: &[CandidateIndex]) -> Advice {
    if had.is_empty() {
        let cheapest = table.all().filter(|c| table.price(*c).is_some()).min_by_key(|c| (table.price(*c), *c));
        return Advice::NothingAffordable { cheapest };
    }
    let owned: Vec<_> = had.iter().copied().filter(|c| table.owned(*c)).collect();
    if !had.iter().any(|c| table.works_somewhere(*c)) {
        return Advice::WorksNowhere;
    }
    let Some(kept) = table.best(&owned) else {
        return table.cheapest_as_good(had).map_or(Advice::WorksNowhere, Advice::Take);
    };
    let bought: Vec<_> = had.iter().copied().filter(|c| !table.owned(*c)).collect();
    let better: Vec<_> = bought.iter().copied().filter(|c| table.clearly_better(*c, kept)).collect();
    match table.cheapest_as_good(&better) {
        Some(sensor) if table.works_somewhere(sensor) => Advice::Take(sensor),
        _ => Advice::Keep { owned: kept, best: table.most_added(&bought, kept) },
    }
}

/// Share of the draws in which the advice is right.
fn right(table: &Table<'_>, advice: Advice, had: &[CandidateIndex], probability: &[f64]) -> Option<f64> {
    if table.worths.draws.is_empty() {
        return None;
    }
    match advice {
        Advice::Take(sensor) => probability.get(sensor.0).copied(),
        // Keeping is right where nothing is clearly better.
        Advice::Keep { owned, .. } => {
            let beaten = |draw: &Vec<Total>| {
                let at = |c: CandidateIndex| draw.get(c.0).copied().unwrap_or_default();
                had.iter().any(|c| !table.owned(*c) && clearly(at(*c), at(owned)))
            };
            let kept = table.worths.draws.iter().filter(|draw| !beaten(draw)).count();
            Some(crate::selection::count(kept) / crate::selection::count(table.worths.draws.len()))
        }
        Advice::WorksNowhere | Advice::NothingAffordable { .. } => None,
    }
}

fn firmness(
    right: f64,
    right_sets: &[Vec<CandidateIndex>],
    probability: &[f64],
    sensor: Option<CandidateIndex>,
) -> Firmness {
    if right >= FIRM {
        return Firmness::Firm;
    }
    if right >= LIKELY {
        return Firmness::Likely;
    }
    smallest_set(right_sets, probability, sensor)
        .map_or(Firmness::TooLittleKnown, |(among, right)| Firmness::TossUp { among, right })
}

/// The smallest set with the recommended sensor of which one is right in 80 % of the draws; of several such sets the one that is right most often, then
/// the first. None where more than three are needed.
fn smallest_set(
    right_sets: &[Vec<CandidateIndex>],
    probability: &[f64],
    sensor: Option<CandidateIndex>,
) -> Option<(Vec<CandidateIndex>, f64)> {
    let mut ranked: Vec<(f64, CandidateIndex)> = probability
        .iter()
        .enumerate()
        .map(|(i, p)| (*p, CandidateIndex(i)))
        .filter(|(p, c)| *p > 0.0 || Some(*c) == sensor)
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut search =
        SetSearch { right_sets, ranked: &ranked, sensor, found: None, chosen: Vec::with_capacity(MOST_NAMED) };
    for size in 1..=MOST_NAMED {
        search.extend(size, 0, 0.0);
        if let Some((right, mut among)) = search.found.take() {
            among.sort_unstable();
            return Some((among, right));
        }
    }
    None
}

/// Depth-first over sets of one size; a branch whose probabilities add up to too little is cut.
struct SetSearch<'a> {
    right_sets: &'a [Vec<CandidateIndex>],
    ranked: &'a [(f64, CandidateIndex)],
    sensor: Option<CandidateIndex>,
    chosen: Vec<CandidateIndex>,
    /// How often it is right, and the set.
    found: Option<(f64, Vec<CandidateIndex>)>,
}

impl SetSearch<'_> {
    fn extend(&mut self, left: usize, from: usize, sum: f64) {
        if left == 0 {
            return self.judge();
        }
        for (index, &(p, candidate)) in self.ranked.iter().enumerate().skip(from) {
            if sum + p * crate::selection::count(left) < FIRM - ROUNDING {
                break;
            }
            self.chosen.push(candidate);
            self.extend(left - 1, index + 1, sum + p);
            self.chosen.pop();
        }
    }

    fn judge(&mut self) {
        let right = share(self.right_sets, |set| self.chosen.iter().any(|c| set.binary_search(c).is_ok()));
        let named = self.sensor.is_none_or(|sensor| self.chosen.contains(&sensor));
        let better = self.found.as_ref().is_none_or(|(was_right, _)| right > *was_right);
        if right >= FIRM && named && better {
            self.found = Some((right, self.chosen.clone()));
        }
    }
}

/// Mean over the draws of how far a candidate's U stays under that of the best.
fn regret(draws: &[Vec<Total>], candidate: CandidateIndex, had: &[CandidateIndex]) -> f64 {
    let behind = draws.iter().filter_map(|draw| {
        let best = had.iter().filter_map(|c| draw.get(c.0)).copied().max_by(|a, b| compare(*a, *b))?;
        Some((best.value - draw.get(candidate.0)?.value).max(0.0))
    });
    let sum: f64 = behind.sum();
    if draws.is_empty() { 0.0 } else { sum / crate::selection::count(draws.len()) }
}

/// The worths with their totals.
struct Table<'a> {
    worths: &'a Worths,
    totals: &'a [Total],
    /// How near two R are the same.
    same: f64,
}

impl Table<'_> {
    fn all(&self) -> impl Iterator<Item = CandidateIndex> + use<> {
        (0..self.worths.costs.len()).map(CandidateIndex)
    }

    fn total(&self, candidate: CandidateIndex) -> Total {
        self.totals.get(candidate.0).copied().unwrap_or_default()
    }

    fn owned(&self, candidate: CandidateIndex) -> bool {
        self.worths.costs.get(candidate.0) == Some(&Cost::Owned)
    }

    /// What it costs to have a candidate; none where the price is not given.
    fn price(&self, candidate: CandidateIndex) -> Option<i128> {
        match self.worths.costs.get(candidate.0)? {
            Cost::Owned => Some(0),
            Cost::Price(price) => Some(*price),
            Cost::Unpriced => None,
        }
    }

    /// Cheaper before dearer, unpriced last, then by position.
    fn by_price(&self, candidate: CandidateIndex) -> (bool, i128, CandidateIndex) {
        let price = self.price(candidate);
        (price.is_none(), price.unwrap_or(0), candidate)
    }

    /// The best of some: of those with about the largest R the one with the greatest U, then the cheapest.
    fn best(&self, among: &[CandidateIndex]) -> Option<CandidateIndex> {
        let most = among.iter().map(|c| self.total(*c).works).fold(f64::NEG_INFINITY, f64::max);
        among.iter().copied().filter(|c| most - self.total(*c).works <= self.same).max_by(|a, b| {
            let value = |c: &CandidateIndex| self.total(*c).value;
            value(a).total_cmp(&value(b)).then_with(|| self.by_price(*b).cmp(&self.by_price(*a)))
        })
    }

    /// Of what works about as widely as what is owned, the one that adds most.
    fn most_added(&self, bought: &[CandidateIndex], owned: CandidateIndex) -> Option<CandidateIndex> {
        let wide = |c: &&CandidateIndex| self.total(**c).works >= self.total(owned).works - self.same;
        let of_these: Vec<CandidateIndex> = bought.iter().filter(wide).copied().collect();
        let most = of_these.iter().map(|c| self.total(*c).value).fold(f64::NEG_INFINITY, f64::max);
        of_these.into_iter().filter(|c| self.total(*c).value >= most).min_by_key(|c| self.by_price(*c))
    }

    /// The cheapest of those with about the same R as the best of some and a U within 0.02 of it. None of them works at fewer places than another:
    /// what is the same by R may lie on both sides of half of the draws.
    fn cheapest_as_good(&self, among: &[CandidateIndex]) -> Option<CandidateIndex> {
        let as_good = as_good_as_best(self.totals, among, self.same);
        let most = as_good.iter().map(|c| self.served(*c)).fold(0.0, f64::max);
        // Of equal price the better one.
        as_good.into_iter().filter(|c| self.served(*c) >= most - ROUNDING).min_by(|a, b| {
            let price = |c: &CandidateIndex| (self.price(*c).is_none(), self.price(*c));
            price(a)
                .cmp(&price(b))
                .then_with(|| self.total(*b).value.total_cmp(&self.total(*a).value))
                .then_with(|| a.cmp(b))
        })
    }

    /// Weight of the places at which it works in half of the draws: those that a page says it works at.
    fn served(&self, candidate: CandidateIndex) -> f64 {
        let row = self.worths.expected.get(candidate.0);
        let places = row.into_iter().flat_map(|row| row.iter().zip(&self.worths.weights));
        places.filter(|(place, _)| place.likely_works()).map(|(_, weight)| weight).sum()
    }

    /// Whether it works at a place at least, in half of the draws.
    fn works_somewhere(&self, candidate: CandidateIndex) -> bool {
        self.worths.expected.get(candidate.0).is_some_and(|row| row.iter().any(|place| place.likely_works()))
    }

    /// Clearly better in 80 % of the draws; by the recorded figures without draws. What is owned is not kept for want of proof where it works at fewer
    /// places: who owns something poor would be advised worse than who owns nothing.
    fn clearly_better(&self, candidate: CandidateIndex, owned: CandidateIndex) -> bool {
        if self.served(candidate) > self.served(owned) + ROUNDING {
            return true;
        }
        let draws = &self.worths.draws;
        if draws.is_empty() {
            return clearly(self.total(candidate), self.total(owned));
        }
        let count = draws
            .iter()
            .filter(|draw| match (draw.get(candidate.0), draw.get(owned.0)) {
                (Some(a), Some(b)) => clearly(*a, *b),
                (None, _) | (_, None) => false,
            })
            .count();
        crate::selection::count(count) >= FIRM * crate::selection::count(draws.len())
    }

    fn efficient(&self, candidate: CandidateIndex) -> bool {
        let Some(price) = self.price(candidate) else { return false };
        let value = self.total(candidate).value;
        !self.all().any(|other| {
            self.price(other).is_some_and(|p| {
                let v = self.total(other).value;
                p <= price && v >= value && (p < price || v > value)
            })
        })
    }

    /// Best first, then the best of the rest.
    fn order(&self) -> Vec<CandidateIndex> {
        let mut rest: Vec<_> = self.all().collect();
        let mut order = Vec::with_capacity(rest.len());
        while let Some(best) = self.best(&rest) {
            rest.retain(|c| *c != best);
            order.push(best);
        }
        order
    }

    /// The cheapest with about the same R as the best and a U within five points of it, where it is cheaper than the advised one;
    /// what is owned is no purchase.
    fn within_five(&self, sensor: CandidateIndex, had: &[CandidateIndex]) -> Option<CandidateIndex> {
        let best = self.total(self.best(had)?);
        let cheapest = had
            .iter()
            .copied()
            .filter(|c| !self.owned(*c) && self.price(*c).is_some())
            .filter(|c| {
                best.works - self.total(*c).works <= self.same
                    && best.value - self.total(*c).value <= CLEARLY + ROUNDING
            })
            .min_by_key(|c| self.by_price(*c))?;
        (cheapest != sensor && self.price(sensor).is_none_or(|price| self.price(cheapest) < Some(price)))
            .then_some(cheapest)
    }

    /// The dearest efficient one that is cheaper than the advised one; what is owned is no purchase.
    fn cheaper(&self, sensor: CandidateIndex, efficient: &[bool]) -> Option<Step> {
        let price = self.price(sensor)?;
        let next = self
            .all()
            .filter(|c| !self.owned(*c) && efficient.get(c.0) == Some(&true))
            .filter(|c| self.price(*c).is_some_and(|p| p < price))
            .max_by_key(|c| (self.price(*c), std::cmp::Reverse(*c)))?;
        self.step(sensor, next)
    }

    /// The cheapest dearer one that is better by a point and works as widely, or works more widely and is as good.
    fn dearer(&self, sensor: CandidateIndex) -> Option<Step> {
        let (price, here) = (self.price(sensor)?, self.total(sensor));
        let better = |t: Total| {
            let (wider, more) = (t.works - here.works, t.value - here.value);
            (wider >= -self.same && more >= ONE_POINT) || (wider > self.same && more >= -AS_GOOD)
        };
        let next = self.all().filter(|c| self.price(*c).is_some_and(|p| p > price) && better(self.total(*c))).min_by(
            |a, b| {
                self.price(*a).cmp(&self.price(*b)).then_with(|| compare(self.total(*b), self.total(*a))).then(a.cmp(b))
            },
        )?;
        self.step(sensor, next)
    }

    fn step(&self, from: CandidateIndex, to: CandidateIndex) -> Option<Step> {
        let (a, b) = (self.total(from), self.total(to));
        let row = |c: CandidateIndex| self.worths.expected.get(c.0);
        let differences: Vec<f64> = row(to)?
            .iter()
            .zip(row(from)?)
            .zip(&self.worths.weights)
            .map(|((to, from), weight)| weight * (to.value - from.value))
            .collect();
        Some(Step {
            candidate: to,
            price: self.price(to)? - self.price(from)?,
            value: b.value - a.value,
            works: b.works - a.works,
            at: whereabouts(&differences),
        })
    }
}

/// Where a sum of differences comes from.
fn whereabouts(differences: &[f64]) -> Whereabouts {
    let sum: f64 = differences.iter().sum();
    let share = |d: &f64| d * sum.signum();
    let Some((place, most)) = differences
        .iter()
        .enumerate()
        .rev()
        .max_by(|a, b| share(a.1).total_cmp(&share(b.1)))
        .map(|(i, d)| (i, share(d)))
    else {
        return Whereabouts::Spread;
    };
    let others = differences.iter().enumerate().filter(|(i, _)| *i != place).map(|(_, d)| d.abs()).fold(0.0, f64::max);
    if most > 0.0 && others < ONE_POINT.min(0.1 * sum.abs()) {
        Whereabouts::All(PlaceIndex(place))
    } else if most > 0.5 * sum.abs() {
        Whereabouts::Mostly(PlaceIndex(place))
    } else {
        Whereabouts::Spread
    }
}

/// The best pair within the budget, where its U beats the best single one's by more than 0.05.
fn pair(table: &Table<'_>, had: &[CandidateIndex]) -> Option<Pair> {
    let single = table.total(table.best(had)?);
    let mut pairs = Vec::new();
    for (index, a) in had.iter().enumerate() {
        for b in had.iter().skip(index + 1) {
            let (Some(price), Some(first), Some(second)) = (
                table.price(*a).zip(table.price(*b)).map(|(a, b)| a + b),
                table.worths.expected.get(a.0),
                table.worths.expected.get(b.0),
            ) else {
                continue;
            };
            if table.worths.budget.is_some_and(|budget| price > budget) {
                continue;
            }
            // The better of the two at each place, as chosen before the place is seen.
            let better: Vec<Total> = first
                .iter()
                .zip(second)
                .map(|(a, b)| Total { value: a.value.max(b.value), works: a.works.max(b.works) })
                .collect();
            let both = total(&better, &table.worths.weights);
            // One of the two alone must not do as well.
            if both.value - table.total(*a).value.max(table.total(*b).value) > CLEARLY + ROUNDING {
                pairs.push(([*a, *b], price, both));
            }
        }
    }
    let totals: Vec<Total> = pairs.iter().map(|(_, _, total)| *total).collect();
    let all: Vec<CandidateIndex> = (0..pairs.len()).map(CandidateIndex).collect();
    let (both, price, total) = as_good_as_best(&totals, &all, table.same)
        .into_iter()
        .filter_map(|pair| pairs.get(pair.0))
        .min_by(|a, b| a.1.cmp(&b.1).then_with(|| b.2.value.total_cmp(&a.2.value)).then_with(|| a.0.cmp(&b.0)))?;
    let gain = total.value - single.value;
    (gain > CLEARLY + ROUNDING).then_some(Pair { both: *both, price: *price, total: *total, gain })
}
