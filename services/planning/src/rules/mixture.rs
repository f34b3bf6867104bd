//! Neighbours of several kinds around one unit: at each of their holes the kind that shows most.

use std::cell::OnceCell;
use std::sync::Arc;

use acoustics::interference::{Confirmer, Received};
use acoustics::units::Level;

use super::neighbours::Neighbours;
use super::site::Sample;

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
fn worse(confirmer: &Confirmer, a: Vec<f64>, b: Vec<f64>) -> Vec<f64> {
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

/// All kinds at many distances, each worked out when it is first asked for.
pub(super) struct Field<'a> {
    neighbours: &'a Neighbours<'a>,
    option: usize,
    sample: Sample,
    recessed: bool,
    confirmer: Arc<Confirmer>,
    /// By distance: the distance, and all kinds there.
    nodes: Vec<(f64, OnceCell<Option<Received>>)>,
}

impl<'a> Field<'a> {
    pub(super) fn new(
        neighbours: &'a Neighbours<'a>,
        option: usize,
        sample: Sample,
        distances: &[f64],
        recessed: bool,
    ) -> Option<Self> {
        let confirmer = Arc::clone(&neighbours.gear(option)?.confirmer);
        let nodes = distances.iter().map(|distance| (*distance, OnceCell::new())).collect();
        Some(Self { neighbours, option, sample, recessed, confirmer, nodes })
    }

    /// At a level.
    pub(super) fn at(&self, level: Level) -> FieldAt<'_> {
        let unknown = || (0..self.nodes.len()).map(|_| OnceCell::new()).collect();
        FieldAt { field: self, level, silence: unknown(), bins: unknown() }
    }

    fn node(&self, node: usize) -> Option<&Received> {
        let (distance, known) = self.nodes.get(node)?;
        let made = || {
            let mut sum = Received::new();
            for kind in 0..self.neighbours.option_count() {
                self.neighbours.hear(&mut sum, (self.option, kind), self.sample, &[*distance], self.recessed)?;
            }
            Some(sum)
        };
        known.get_or_init(made).as_ref()
    }
}

/// What all kinds do at a level.
pub(super) struct FieldAt<'a> {
    field: &'a Field<'a>,
    level: Level,
    /// By distance: for each set of pings the chance that none shows a mark of a neighbour of the worst kind.
    silence: Vec<OnceCell<Vec<f64>>>,
    /// By bin, between a distance and the next: the logarithms of the worse one of both; empty where all are certain.
    bins: Vec<OnceCell<Vec<f64>>>,
}

impl FieldAt<'_> {
    fn silence(&self, node: usize) -> Option<&Vec<f64>> {
        let confirmer = &self.field.confirmer;
        let worst = || {
            let Some(sum) = self.field.node(node) else { return confirmer.silence() };
            let all = (0..self.field.neighbours.option_count()).map(|kind| sum.silence(kind, self.level));
            all.reduce(|a, b| worse(confirmer, a, b)).unwrap_or_else(|| confirmer.silence())
        };
        Some(self.silence.get(node)?.get_or_init(worst))
    }

    pub(super) fn bin(&self, bin: usize) -> &[f64] {
        let logarithms = || {
            let silence = match (self.silence(bin), self.silence(bin + 1)) {
                (Some(near), Some(far)) => worse(&self.field.confirmer, near.clone(), far.clone()),
                (one, other) => one.or(other).cloned().unwrap_or_default(),
            };
            let certain = silence.iter().all(|none| *none >= 1.0);
            if certain { Vec::new() } else { silence.into_iter().map(libm::log).collect() }
        };
        self.bins.get(bin).map_or(&[], |known| known.get_or_init(logarithms))
    }
}
