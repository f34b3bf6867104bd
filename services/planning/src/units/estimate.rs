//! Figures with their standard errors.

use acoustics::units::Db;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// A figure with its standard error and the degrees of freedom of that.
#[derive(Debug, Clone, Copy)]
pub(super) struct Estimate {
    pub(super) value: f64,
    pub(super) error: f64,
    pub(super) freedom: f64,
}

impl Estimate {
    /// Ends of the interval that holds the truth with that probability.
    pub(super) fn interval(self, probability: f64) -> (Db, Db) {
        let half = self.error * self.quantile(0.5 + 0.5 * probability);
        (Db::new(self.value - half), Db::new(self.value + half))
    }

    pub(super) fn quantile(self, p: f64) -> f64 {
        // The quantile of the library never returns with infinite degrees of freedom.
        if self.freedom.is_infinite() {
            return normal_quantile(p);
        }
        StudentsT::new(0.0, 1.0, self.freedom).map_or_else(|_| normal_quantile(p), |t| t.inverse_cdf(p))
    }

    /// Probability that the truth is above a limit.
    pub(super) fn above(self, limit: f64) -> f64 {
        let x = (self.value - limit) / self.error;
        if self.freedom.is_infinite() {
            return normal_below(x);
        }
        StudentsT::new(0.0, 1.0, self.freedom).map_or_else(|_| normal_below(x), |t| t.cdf(x))
    }
}

fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

fn normal_below(x: f64) -> f64 {
    Normal::standard().cdf(x)
}
