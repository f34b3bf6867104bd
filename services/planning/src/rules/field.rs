//! Neighbours of every option at many distances.

use std::cell::OnceCell;
use std::sync::Arc;

use acoustics::interference::{Confirmer, Received};
use acoustics::units::Level;

use super::mixture::worse;
use super::neighbours::Neighbours;
use super::site::Sample;

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
