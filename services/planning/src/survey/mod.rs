//! Beam surveys: the true shape of a beam, from a target lowered through a line of holes.
//!
//! A target at the offset x along the line and the depth z under the transducer is seen with the probability
//!
//! P = 1 / (1 + exp(−(g − g₀)/s)),  g₀ = T₀ + Δ − EL(r, θ),  r = √(x² + z²),  θ = atan(x/z) − t
//!
//! with g the gain, EL the echo level of the sonar equation, s the scale of the detection curve (dB, stated, not fitted), and
//! four unknowns: the beamwidth w, the tilt t of the axis along the line, the shift Δ of the threshold over the stated one
//! (which also takes up what the source level and the target are off), and the level S beside the main lobe. The pattern is
//! the main lobe of a uniform circular piston, 20 lg |2J₁(ka sin θ)/(ka sin θ)|, and S wherever that is lower; a real beam has
//! lobes and nulls there, of which S is the mean that the readings see.
//!
//! A reading of the least gain is a draw from the density of that curve: dials are read more finely than s.
//!
//! Estimates are those of maximum likelihood (Nelder and Mead 1965), intervals those of the profile likelihood
//! (D. J. Venzon and S. H. Moolgavkar, Applied Statistics 37, 87–94 (1988), <https://doi.org/10.2307/2347496>), and the goodness
//! of fit the share of simulated surveys of the fitted beam that fit at least as badly (B. Efron and R. J. Tibshirani, An
//! Introduction to the Bootstrap (1993), chapter 6): the deviance of single readings has no tabulated distribution.

mod beam;
mod input;
mod likelihood;
mod sheet;
mod simulate;
mod table;
mod types;
mod words;

pub use sheet::{DraftCell, SurveySheet, sheet};
pub use simulate::{Truth, simulate};
pub use types::{Estimate, SurveyFit};

use acoustics::units::Db;
use rayon::prelude::*;

use crate::PlanningError;
use domain::{BeamSurvey, Cancel, Cancelled, Id, PatternKind, PatternPoint, Provenance, Sensor, Target};
use likelihood::{Optimum, Parameters, Problem};

/// What a fit may vary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitSettings {
    /// Scale s of the detection curve; default 1.5 dB: from a quarter to three quarters seen within 3.3 dB.
    pub detection_scale: Db,
    /// What the intervals hold; default 0.9.
    pub interval: f64,
    /// Simulated surveys for the goodness of fit; default 199, 0 leaves it out.
    pub rounds: u32,
    /// Seed of the simulations.
    pub seed: u64,
}

impl Default for FitSettings {
    fn default() -> Self {
        Self { detection_scale: Db::new(1.5), interval: 0.9, rounds: 199, seed: 1 }
    }
}

/// Fits a beam to a survey, on all threads of the current pool. `cancel` is checked now and then.
///
/// # Errors
/// Every fault of the input at once, a survey without a detection (or with nothing else) included; or the work is cancelled.
pub fn fit(
    survey: &BeamSurvey,
    sensor: &Sensor,
    target: &Target,
    settings: &FitSettings,
    cancel: &Cancel,
) -> Result<SurveyFit, PlanningError> {
    let scene = input::scene(survey, sensor, target).map_err(PlanningError::Faults)?;
    let scale = settings.detection_scale.get();
    let problem = Problem::new(&scene, &survey.readings, scale);
    let optimum = best(&problem, cancel)?;
    let estimates = estimates(&problem, &optimum, settings.interval, cancel)?;
    let rounds = settings.rounds;
    let p_value = if rounds == 0 { None } else { Some(goodness(&problem, &optimum, settings, cancel)?) };
    let parameters = optimum.parameters;
    let reach = problem.reach(&parameters);
    let [width, tilt, shift, side] = estimates;
    let fit = SurveyFit {
        beamwidth_deg: width,
        tilt_deg: tilt,
        side_level_db: optimum.side_is_fitted.then_some(side),
        threshold_shift_db: shift,
        detection_scale_db: scale,
        deviance: problem.deviance(optimum.log_likelihood),
        degrees_of_freedom: u32::try_from(survey.readings.len().saturating_sub(optimum.free())).unwrap_or(u32::MAX),
        p_value,
        readings: u32::try_from(survey.readings.len()).unwrap_or(u32::MAX),
        fitted: table::fitted(&scene, &parameters, optimum.side_is_fitted.then_some(reach)),
        stated: Vec::new(),
        cannot_tell: Vec::new(),
    };
    let stated = table::stated(&scene, &fit.fitted);
    let cannot_tell = words::cannot_tell(survey, &fit);
    Ok(SurveyFit { stated, cannot_tell, ..fit })
}

/// Makes a measured table the pattern of an option; none where the sensor has no such option.
#[must_use]
pub fn adopt(sensor: &Sensor, option: &Id, measured: &[PatternPoint]) -> Option<Sensor> {
    let mut changed = sensor.clone();
    let adopted = changed.options.iter_mut().find(|known| known.id == *option)?;
    adopted.pattern = PatternKind::Tabulated { points: measured.to_vec(), provenance: Provenance::Measured };
    Some(changed)
}

/// How much better the likelihood has to be before a level beside the main lobe is believed where the beam without one would
/// explain the readings as a wider lobe: half the 90 % quantile of χ² with one degree of freedom.
const BETTER: f64 = 1.353;

/// The optimum: with the pattern's floor beside the main lobe, or with that level free if readings can show it.
fn best(problem: &Problem<'_>, cancel: &Cancel) -> Result<Optimum, Cancelled> {
    let greatest = |starts: Vec<Parameters>, free: &[usize]| -> Result<Optimum, Cancelled> {
        let mut best = problem.maximise(&problem.stated(), free);
        for start in starts {
            cancel.check()?;
            let found = problem.maximise(&start, free);
            if found.log_likelihood > best.log_likelihood {
                best = found;
            }
        }
        Ok(best)
    };
    let without = greatest(problem.starts(&[problem.floor()]), &[0, 1, 2])?;
    let mut starts = problem.starts(&[-13.0, -20.0, -30.0]);
    starts.push(without.parameters);
    let with = greatest(starts, &[0, 1, 2, 3])?;
    let better = with.log_likelihood > without.log_likelihood + BETTER;
    let beam = if better { &with.parameters } else { &without.parameters };
    Ok(if problem.shows_sides(beam) { with } else { without })
}

/// Every figure with its interval, in the order of the parameters.
fn estimates(
    problem: &Problem<'_>,
    optimum: &Optimum,
    interval: f64,
    cancel: &Cancel,
) -> Result<[Estimate; 4], Cancelled> {
    let drop = likelihood::profile_drop(interval);
    let one = |index: usize| cancel.check().map(|()| problem.interval(optimum, index, drop));
    let found: Vec<Estimate> = (0..Parameters::COUNT).into_par_iter().map(one).collect::<Result<_, _>>()?;
    let nothing = Estimate { value: f64::NAN, low: f64::NAN, high: f64::NAN, at_bound: true };
    Ok(std::array::from_fn(|index| found.get(index).copied().unwrap_or(nothing)))
}

/// Share of simulated surveys of the fitted beam that fit at least as badly, the survey itself counted among them.
fn goodness(
    problem: &Problem<'_>,
    optimum: &Optimum,
    settings: &FitSettings,
    cancel: &Cancel,
) -> Result<f64, Cancelled> {
    let deviance = problem.deviance(optimum.log_likelihood);
    let worse = |round: u32| {
        cancel.check()?;
        let readings = problem.draw(&optimum.parameters, settings.seed, u64::from(round));
        let again = problem.of(&readings);
        let refitted = again.maximise(&optimum.parameters, optimum.free_indices());
        Ok(u32::from(again.deviance(refitted.log_likelihood) >= deviance))
    };
    let worse: u32 = (0..settings.rounds).into_par_iter().map(worse).sum::<Result<u32, _>>()?;
    Ok(f64::from(worse + 1) / f64::from(settings.rounds + 1))
}
