//! Surveys of the fitted beam, simulated and fitted again: how well they fit, and how far their profiles stray.
//!
//! The signed root of the drop of a profile at the truth is standard normal in the limit of many readings. A few readings at the
//! steep side of a null decide much, so that here it is neither quite central nor of spread 1. Mean and spread are taken from the
//! simulated surveys (T. J. DiCiccio, M. A. Martin and S. E. Stern, Canadian Journal of Statistics 29, 67–76 (2001),
//! <https://doi.org/10.2307/3316051>; from memory), and the quantile is that of the next draw after so few, a t.

use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::likelihood::Problem;
use super::search::Optimum;
use domain::{Cancel, Cancelled};

/// Figures whose roots are simulated: beamwidth, tilt and shift. The floor is often at a bound, where it has none.
const ROOTS: usize = 3;
/// An end is never closer to the estimate than so much of the root.
const LEAST_ROOT: f64 = 0.2;

/// What simulated surveys say.
pub(super) struct Again {
    /// Share of them that fit at least as badly, the survey itself counted among them.
    pub(super) p_value: f64,
    rounds: u32,
    /// Mean and standard deviation of the signed root, by figure.
    roots: [(f64, f64); ROOTS],
}

impl Again {
    pub(super) fn new(
        problem: &Problem<'_>,
        optimum: &Optimum,
        (seed, rounds): (u64, u32),
        cancel: &Cancel,
    ) -> Result<Self, Cancelled> {
        let deviance = problem.deviance(optimum.log_likelihood);
        let one = |round: u32| {
            cancel.check()?;
            let readings = problem.draw(&optimum.parameters, seed, u64::from(round));
            let again = problem.of(&readings);
            let refitted = again.maximise(&optimum.parameters, optimum.free_indices());
            let worse = again.deviance(refitted.log_likelihood) >= deviance;
            let mut index = 0;
            let roots = [(); ROOTS].map(|()| {
                let root = signed_root(&again, &refitted, index, optimum.parameters.at(index));
                index += 1;
                root
            });
            Ok((u32::from(worse), roots))
        };
        let found: Vec<(u32, [f64; ROOTS])> = (0..rounds).into_par_iter().map(one).collect::<Result<_, Cancelled>>()?;
        let worse: u32 = found.iter().map(|(worse, _)| worse).sum();
        let mut index = 0;
        let roots = [(); ROOTS].map(|()| {
            let all: Vec<f64> = found.iter().filter_map(|(_, roots)| roots.get(index).copied()).collect();
            index += 1;
            moments(&all)
        });
        Ok(Self { p_value: f64::from(worse + 1) / f64::from(rounds + 1), rounds, roots })
    }

    /// Roots of the drop at the lower and the upper end of an interval.
    pub(super) fn ends(&self, index: usize, interval: f64) -> (f64, f64) {
        let students = (self.rounds > 1).then(|| StudentsT::new(0.0, 1.0, f64::from(self.rounds - 1)).ok()).flatten();
        match (students, self.roots.get(index)) {
            (Some(students), Some((mean, deviation))) if mean.is_finite() && deviation.is_finite() => {
                let next = libm::sqrt(1.0 + 1.0 / f64::from(self.rounds));
                let reach = students.inverse_cdf(0.5 + 0.5 * interval) * next * deviation;
                // Roots of the drop of the log-likelihood, of which the signed root takes twice.
                let end = |root: f64| root.max(LEAST_ROOT) * std::f64::consts::FRAC_1_SQRT_2;
                (end(reach + mean), end(reach - mean))
            }
            _ => normal_ends(interval),
        }
    }
}

/// The same where roots are taken as standard normal.
pub(super) fn normal_ends(interval: f64) -> (f64, f64) {
    let quantile = Normal::new(0.0, 1.0).map_or(f64::NAN, |normal| normal.inverse_cdf(0.5 + 0.5 * interval));
    let end = quantile * std::f64::consts::FRAC_1_SQRT_2;
    (end, end)
}

/// The signed root of a survey at the truth: positive where the estimate lies over it.
fn signed_root(survey: &Problem<'_>, fit: &Optimum, index: usize, truth: f64) -> f64 {
    let others: Vec<usize> = fit.free_indices().iter().copied().filter(|free| *free != index).collect();
    let held = survey.maximise(&fit.parameters.with(index, truth), &others);
    let root = libm::sqrt(2.0 * (fit.log_likelihood - held.log_likelihood).max(0.0));
    if fit.parameters.at(index) < truth { -root } else { root }
}

fn moments(values: &[f64]) -> (f64, f64) {
    let count = crate::selection::count(values.len());
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    (mean, libm::sqrt(squares / (count - 1.0)))
}
