//! Neighbours of several kinds around one unit: at each of their holes the kind that shows most.

use std::sync::Arc;

use acoustics::interference::{Confirmer, Received};
use acoustics::units::Level;

/// What each of some kinds of unit does at each of some distances.
pub(super) struct Mixture {
    confirmer: Arc<Confirmer>,
    /// By kind.
    sums: Vec<Received>,
    distances: usize,
}

impl Mixture {
    pub(super) fn new(confirmer: Arc<Confirmer>, sums: Vec<Received>, distances: usize) -> Self {
        Self { confirmer, sums, distances }
    }

    /// By distance: for each set of pings the chance that none shows a mark of a neighbour there that has the worst of the first so many kinds.
    pub(super) fn silence(&self, level: Level, kinds: usize) -> Vec<Vec<f64>> {
        let worst = |place: usize| {
            let all = self.sums.iter().take(kinds).map(|sum| sum.silence(place, level));
            all.reduce(|a, b| worse(&self.confirmer, a, b)).unwrap_or_else(|| self.confirmer.silence())
        };
        (0..self.distances).map(worst).collect()
    }

    /// The part of the range cells in which marks of neighbours at some distances are drawn, beside others whose silence is known.
    pub(super) fn drawn(&self, silence: &[Vec<f64>], neighbours: &[usize], others: Option<&[f64]>) -> f64 {
        let mut all = others.map_or_else(|| self.confirmer.silence(), <[f64]>::to_vec);
        for own in neighbours.iter().filter_map(|place| silence.get(*place)) {
            for (sum, none) in all.iter_mut().zip(own) {
                *sum *= none;
            }
        }
        self.confirmer.drawn(&all)
    }
}

/// Whichever shows more, as if eight of each were around: with confirmation the worst kind of one neighbour need not be the worst of many, and six stand
/// nearest in the densest packing, with more behind. ASSUMED.
pub(super) fn worse(confirmer: &Confirmer, a: Vec<f64>, b: Vec<f64>) -> Vec<f64> {
    if a == b {
        return a;
    }
    if confirmer.is_at_once() {
        return if b.last() < a.last() { b } else { a };
    }
    let shown = |silence: &[f64]| {
        let eighth = |none: f64| {
            let (two, four) = (none * none, none * none * none * none);
            two * two * four
        };
        let many: Vec<f64> = silence.iter().map(|none| eighth(*none)).collect();
        // What is never confirmed is compared by how often a single ping shows it.
        (confirmer.drawn(&many), 1.0 - silence.get(1).copied().unwrap_or(1.0))
    };
    if shown(&b) > shown(&a) { b } else { a }
}
