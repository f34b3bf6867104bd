//! Which options may share a shelter, and the gain that holds for every party of them.
//!
//! Two options may be mixed where each stays within tolerance at its start gain among neighbours of which each has the worse of the two. A party of more kinds is
//! judged as a whole: each other hole holds the worst of all kinds that may stand there. Where that leaves less than the start gain, fewer kinds may.

use domain::{Cancel, Cancelled};

use super::neighbours::{LaidOutShelter, Neighbours};
use super::site::{Band, Sample};
use super::types::{Mix, Rule};

/// The kinds that may share a shelter with an option, and what gain they leave it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Party {
    /// How many of the option's companions, the quietest first, beside its kind.
    pub(super) companions: usize,
    /// The highest gain with any mixture of them.
    pub(super) gain: f64,
    /// Where that is; none where the dial ends first.
    pub(super) at: Option<Sample>,
}

/// An allowed option with its companions.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Compatible {
    pub(super) option: usize,
    /// The option itself, then others that may be mixed with it, the quietest first.
    pub(super) kinds: Vec<usize>,
    /// Parties from the largest to the option's own kind alone, of which each leaves the start gain at least; or that last one, if none does.
    pub(super) parties: Vec<Party>,
}

impl Compatible {
    /// Whether the largest party has the other option in it.
    fn has(&self, other: usize) -> bool {
        let most = self.parties.first().map_or(0, |party| party.companions);
        self.kinds.iter().skip(1).take(most).any(|kind| *kind == other)
    }
}

/// What each allowed option may be mixed with.
pub(super) fn compatible(
    neighbours: &Neighbours<'_>,
    band: &Band,
    hut: &LaidOutShelter,
    rules: &[(Rule, Option<Sample>)],
    cancel: &Cancel,
) -> Result<Vec<Compatible>, Cancelled> {
    let (allowed, limits): (Vec<&Rule>, Vec<Option<Sample>>) =
        rules.iter().filter(|(rule, _)| rule.refusal.is_none()).map(|(rule, limit)| (rule, *limit)).unzip();
    let gain = |own: &Rule, kinds: &[usize]| {
        let range = (own.start_gain.get(), own.highest_gain.get());
        band.least(|sample| neighbours.mixed_gain((own.option, kinds), sample, hut, range))
    };
    // By pair of allowed options: the gain of the first beside the second.
    let mut pairs = vec![vec![f64::NEG_INFINITY; allowed.len()]; allowed.len()];
    if hut.people() > 1 {
        for (row, own) in pairs.iter_mut().zip(&allowed) {
            for (slot, other) in row.iter_mut().zip(&allowed) {
                cancel.check()?;
                if own.option != other.option {
                    *slot = gain(own, &[own.option, other.option]).map_or(f64::NEG_INFINITY, |(gain, _)| gain);
                }
            }
        }
    }
    let beside = |a: usize, b: usize| pairs.get(a).and_then(|row| row.get(b)).copied().unwrap_or(f64::NEG_INFINITY);
    let start = |index: usize| allowed.get(index).map_or(f64::INFINITY, |rule| rule.start_gain.get());
    let mut found = Vec::with_capacity(allowed.len());
    for (index, own) in allowed.iter().enumerate() {
        let mut others: Vec<usize> = (0..allowed.len())
            .filter(|other| beside(index, *other) >= start(index) && beside(*other, index) >= start(*other))
            .collect();
        others.sort_by(|a, b| beside(index, *b).total_cmp(&beside(index, *a)));
        let others = others.into_iter().filter_map(|other| allowed.get(other)).map(|rule| rule.option);
        let kinds: Vec<usize> = std::iter::once(own.option).chain(others).collect();
        let mut parties = Vec::new();
        for companions in sizes(kinds.len() - 1) {
            cancel.check()?;
            let most = own.highest_gain.get();
            let (gain, at) = match companions {
                0 => (most, limits.get(index).copied().flatten()),
                some => gain(own, kinds.get(..=some).unwrap_or_default())
                    .map_or((f64::NEG_INFINITY, None), |(gain, sample)| (gain, Some(sample))),
            };
            if gain >= own.start_gain.get() {
                parties.push(Party { companions, gain, at });
            }
        }
        found.push(Compatible { option: own.option, kinds, parties });
    }
    Ok(found)
}

/// How many companions are tried: all, fewer, and none.
fn sizes(all: usize) -> Vec<usize> {
    let mut sizes = vec![all, all * 3 / 4, all / 2, all / 4, 0];
    sizes.dedup();
    sizes
}

/// Pairs that may be mixed: each is in the other's largest party.
pub(super) fn mixes(compatible: &[Compatible]) -> Vec<Mix> {
    let mut found = Vec::new();
    for (index, first) in compatible.iter().enumerate() {
        let others = compatible.iter().skip(index + 1);
        let fitting = others.filter(|second| first.has(second.option) && second.has(first.option));
        found.extend(fitting.map(|second| Mix { first: first.option, second: second.option }));
    }
    found
}
