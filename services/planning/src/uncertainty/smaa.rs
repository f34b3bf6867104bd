//! Stochastic multicriteria acceptability analysis (SMAA-2): how often an option holds a rank when inputs and weights vary.
//!
//! Lahdelma, R. and Salminen, P. (2001), SMAA-2: Stochastic multicriteria acceptability analysis for group decision
//! making, Operations Research 49(3), 444-454, doi:10.1287/opre.49.3.444.11220. The integrals over inputs and weights are
//! taken by Monte Carlo, whose standard error is √(b(1 − b)/N).

use rand::Rng;
use rand_distr::{Distribution, Gamma};

/// Draws weights over K criteria that sum to 1: a Dirichlet distribution whose mean are the given weights. With equal
/// weights it is the uniform distribution over the simplex, SMAA's own choice where nothing is known; a criterion without
/// weight stays without.
#[derive(Debug, Clone, Copy)]
pub struct WeightSampler<const K: usize> {
    /// One gamma distribution a criterion; none where the weight is 0.
    parts: [Option<Gamma<f64>>; K],
}

impl<const K: usize> WeightSampler<K> {
    /// A sampler about these weights, of which at least one must be positive and none negative.
    #[must_use]
    pub fn about(weights: [f64; K]) -> Self {
        let total: f64 = weights.iter().sum();
        let criteria = f64::from(u32::try_from(weights.iter().filter(|w| **w > 0.0).count()).unwrap_or(u32::MAX));
        // A gamma with shape K·w/Σw and scale 1: shape 1, an exponential, for equal weights.
        Self { parts: weights.map(|weight| Gamma::new(criteria * weight / total, 1.0).ok().filter(|_| weight > 0.0)) }
    }

    /// One draw.
    pub fn draw(&self, rng: &mut impl Rng) -> [f64; K] {
        let mut weights = self.parts.map(|part| part.map_or(0.0, |gamma| gamma.sample(rng)));
        let total: f64 = weights.iter().sum();
        if total > 0.0 {
            for weight in &mut weights {
                *weight /= total;
            }
        }
        weights
    }
}

/// Counts ranks over draws. Everything is allocated at the start.
#[derive(Debug, Clone)]
pub struct Tally<const K: usize> {
    options: usize,
    draws: u32,
    /// Row by option, column by rank.
    counts: Vec<u32>,
    /// Sum of the weights of the draws that each option won.
    winning_weights: Vec<[f64; K]>,
}

impl<const K: usize> Tally<K> {
    /// A tally over that many options.
    #[must_use]
    pub fn new(options: usize) -> Self {
        Self { options, draws: 0, counts: vec![0; options * options], winning_weights: vec![[0.0; K]; options] }
    }

    /// Forgets all draws, keeps the memory.
    pub fn clear(&mut self) {
        self.draws = 0;
        self.counts.fill(0);
        self.winning_weights.fill([0.0; K]);
    }

    /// Adds one draw: the rank of each option, 1 for the best, and the weights it was drawn with.
    pub fn add(&mut self, ranks: &[u32], weights: &[f64; K]) {
        self.draws += 1;
        for ((&rank, row), won) in
            ranks.iter().zip(self.counts.chunks_mut(self.options.max(1))).zip(&mut self.winning_weights)
        {
            if let Some(count) = rank.checked_sub(1).and_then(|column| row.get_mut(usize::try_from(column).ok()?)) {
                *count += 1;
            }
            if rank == 1 {
                for (sum, weight) in won.iter_mut().zip(weights) {
                    *sum += weight;
                }
            }
        }
    }

    /// Share of draws in which the option held rank 1, 2, …
    #[must_use]
    pub fn acceptability(&self, option: usize) -> Vec<f64> {
        let row = self.counts.chunks(self.options.max(1)).nth(option).unwrap_or_default();
        row.iter().map(|&count| f64::from(count) / f64::from(self.draws.max(1))).collect()
    }

    /// Mean of the weights with which the option won; none if it never did.
    #[must_use]
    pub fn central_weights(&self, option: usize) -> Option<[f64; K]> {
        let wins = *self.counts.chunks(self.options.max(1)).nth(option)?.first()?;
        let sums = self.winning_weights.get(option)?;
        (wins > 0).then(|| sums.map(|sum| sum / f64::from(wins)))
    }
}
