//! Beam surveys: the true shape of a beam, from a target lowered through a line of holes.
//!
//! A target at the offset x along the line and the depth z under the transducer is seen with the probability
//!
//! P = 1 / (1 + exp(−(g − g₀)/s)),  g₀ = T₀ + Δ − EL(r, θ),  r = √(x² + z²),  θ = atan(x/z) − t
//!
//! with g the gain, EL the echo level of the sonar equation, s the scale of the detection curve (dB, stated, not fitted), and
//! the unknowns: the beamwidth w, the tilt t of the axis along the line, the shift Δ of the threshold over the stated one
//! (which also takes up what the source level and the target are off), and the floor S. The pattern is that of a uniform
//! circular piston with its side lobes, 20 lg |2J₁(ka sin θ)/(ka sin θ)|, and S wherever that is lower: real nulls are filled.
//!
//! Readings are censored. A least gain lies in the interval between the mark of the dial that showed the target and the one
//! under it; "at once" is no more than that the lowest gain showed it, "never" that the highest did not. Where a hole is, is
//! known to a stated error, one for all depths of a hole, over which the likelihood is the mean. The tilt across the line, which
//! one line does not show, is drawn from a stated prior (`across`).
//!
//! Estimates are those of maximum likelihood, intervals those of the profile likelihood (S. S. Wilks, Annals of Mathematical
//! Statistics 9, 60–62 (1938), <https://doi.org/10.1214/aoms/1177732360>; D. J. Venzon and S. H. Moolgavkar, Applied Statistics 37,
//! 87–94 (1988), <https://doi.org/10.2307/2347496>). Both hold in the limit of many readings; surveys of the fitted beam are
//! simulated for what such a layout really does (`again`). The goodness of fit is the share of those that fit at least as badly
//! (B. Efron and R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 6): the deviance of single readings has no
//! tabulated distribution.

mod across;
mod again;
mod beam;
mod input;
mod likelihood;
mod search;
mod sheet;
mod simulate;
mod table;
mod types;
mod words;

pub use sheet::{DraftCell, SurveySheet, sheet};
pub use simulate::{Truth, simulate};
pub use types::{Estimate, LEAST_P, Objection, SurveyFit, objections};

use acoustics::units::{Db, Metres};
use rayon::prelude::*;

use crate::PlanningError;
use crate::uncertainty::TILT_SPREAD_DEG;
use again::{Again, normal_ends};
use domain::{BeamSurvey, Cancel, Cancelled, Id, PatternKind, PatternPoint, Provenance, Sensor, Target};
use input::Noise;
use likelihood::{Parameters, Problem};
use search::Optimum;

/// What a fit may vary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitSettings {
    /// Scale s of the detection curve; default 1.5 dB: from a quarter to three quarters seen within 3.3 dB.
    pub detection_scale: Db,
    /// Standard deviation of where a hole is, along the line; default 3 cm: a tape over ice and a cord that hangs nearly plumb
    /// (common practice).
    pub position_error: Metres,
    /// Standard deviation of the tilt across the line, which one line does not show; default 2°, as any tilt is drawn.
    pub tilt_across_deg: f64,
    /// What the intervals hold; default 0.9.
    pub interval: f64,
    /// Simulated surveys of the fitted beam, for the goodness of fit and for the intervals; default 199, 0 leaves the goodness
    /// out and takes the roots of profiles as standard normal.
    pub rounds: u32,
    /// Seed of the simulations.
    pub seed: u64,
}

impl Default for FitSettings {
    fn default() -> Self {
        Self {
            detection_scale: Db::new(1.5),
            position_error: Metres::new(0.03),
            tilt_across_deg: TILT_SPREAD_DEG,
            interval: 0.9,
            rounds: 199,
            seed: 1,
        }
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
    let problem = Problem::new(&scene, &survey.readings, Noise { scale, position: settings.position_error.get() });
    let optimum = best(&problem, cancel)?;
    let again = (settings.rounds > 0)
        .then(|| Again::new(&problem, &optimum, (settings.seed, settings.rounds), cancel))
        .transpose()?;
    let estimates = estimates(&problem, &optimum, again.as_ref(), settings, cancel)?;
    let [width, tilt, shift, side] = estimates;
    let parameters = Parameters([width.value, tilt.value, shift.value, side.value, 0.0]);
    let reach = problem.reach(&parameters);
    let fit = SurveyFit {
        beamwidth_deg: width,
        tilt_deg: tilt,
        side_level_db: optimum.side_is_fitted.then_some(side),
        threshold_shift_db: shift,
        detection_scale_db: scale,
        deviance: problem.deviance(optimum.log_likelihood),
        degrees_of_freedom: u32::try_from(survey.readings.len().saturating_sub(optimum.free())).unwrap_or(u32::MAX),
        p_value: again.map(|again| again.p_value),
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
    if !starts.iter().any(|start| problem.shows_sides(start)) {
        return Ok(without);
    }
    let with = greatest(starts, &[0, 1, 2, 3])?;
    let better = with.log_likelihood > without.log_likelihood + BETTER;
    let beam = if better { &with.parameters } else { &without.parameters };
    Ok(if problem.shows_sides(beam) { with } else { without })
}

/// Every figure with its interval, in the order of the parameters.
fn estimates(
    problem: &Problem<'_>,
    optimum: &Optimum,
    again: Option<&Again>,
    settings: &FitSettings,
    cancel: &Cancel,
) -> Result<[Estimate; 4], Cancelled> {
    let one = |index: usize| {
        cancel.check()?;
        let ends = again.map_or_else(|| normal_ends(settings.interval), |again| again.ends(index, settings.interval));
        Ok(problem.interval(optimum, index, ends))
    };
    let found: Vec<Estimate> = (0..=likelihood::SIDE).into_par_iter().map(one).collect::<Result<_, Cancelled>>()?;
    let nothing = Estimate { value: f64::NAN, low: f64::NAN, high: f64::NAN, at_bound: true };
    let upright = std::array::from_fn(|index| found.get(index).copied().unwrap_or(nothing));
    if settings.tilt_across_deg == 0.0 {
        return Ok(upright);
    }
    across::with_prior(problem, optimum, upright, (settings.tilt_across_deg, settings.interval), cancel)
}
