//! Which unknown, once known, would make the advice right most often.
//!
//! The expected value of partial perfect information (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961),
//! with the share of right advice as the value: draws are cut into bins by one unknown, and in each bin the sensor is
//! chosen that is right there most often. A choice made and judged on the same few draws would flatter every unknown, so
//! it is made on one half of a bin's draws and judged on the other, both ways.

use super::types::{CandidateIndex, Settling};
use crate::selection::count;

/// Bins of a figure that runs through many values.
const BINS: usize = 4;
/// Fewest draws in a half of a bin.
const LEAST: usize = 8;
/// A gain below this is noise of the draws.
const LEAST_GAIN: f64 = 0.01;

/// The unknown with the greatest gain; none where no unknown gains anything.
pub(super) fn settling(unknowns: &[Vec<f64>], right: &[Vec<CandidateIndex>], now: f64) -> Option<Settling> {
    let mut best: Option<Settling> = None;
    for (unknown, values) in unknowns.iter().enumerate() {
        let Some(known) = right_when_known(values, right) else { continue };
        let gain = known - now;
        if gain > LEAST_GAIN && best.is_none_or(|b| gain > b.gain) {
            best = Some(Settling { unknown, gain });
        }
    }
    best
}

/// Share of draws in which the choice is right once this unknown is known; none for too few draws or a fixed value.
fn right_when_known(values: &[f64], right: &[Vec<CandidateIndex>]) -> Option<f64> {
    let mut draws: Vec<usize> = (0..values.len().min(right.len())).collect();
    let value = |draw: &usize| values.get(*draw).copied().unwrap_or(0.0);
    draws.sort_by(|a, b| value(a).total_cmp(&value(b)).then(a.cmp(b)));
    let mut distinct: Vec<&[usize]> = draws.chunk_by(|a, b| value(a) == value(b)).collect();
    if distinct.len() < 2 {
        return None;
    }
    if distinct.len() > 2 * BINS {
        distinct = draws.chunks(draws.len().div_ceil(BINS)).collect();
    }
    let mut hits = 0;
    for bin in &distinct {
        let even: Vec<usize> = bin.iter().copied().step_by(2).collect();
        let odd: Vec<usize> = bin.iter().copied().skip(1).step_by(2).collect();
        if odd.len() < LEAST {
            return None;
        }
        hits += hits_of(most_often_right(&even, right), &odd, right);
        hits += hits_of(most_often_right(&odd, right), &even, right);
    }
    Some(count(hits) / count(draws.len()))
}

/// The candidate that is right most often in some draws, the first of equals.
fn most_often_right(draws: &[usize], right: &[Vec<CandidateIndex>]) -> Option<CandidateIndex> {
    let mut tally = std::collections::BTreeMap::new();
    for candidate in draws.iter().filter_map(|draw| right.get(*draw)).flatten() {
        *tally.entry(*candidate).or_insert(0_usize) += 1;
    }
    tally.into_iter().max_by(|a, b| a.1.cmp(&b.1).then(b.0.cmp(&a.0))).map(|(candidate, _)| candidate)
}

fn hits_of(candidate: Option<CandidateIndex>, draws: &[usize], right: &[Vec<CandidateIndex>]) -> usize {
    let Some(candidate) = candidate else { return 0 };
    draws.iter().filter_map(|draw| right.get(*draw)).filter(|set| set.binary_search(&candidate).is_ok()).count()
}
