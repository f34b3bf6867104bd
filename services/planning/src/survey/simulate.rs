//! Surveys of a known beam, for tests and for planning how large a survey has to be.

use acoustics::units::Metres;

use super::input::{self, Noise};
use super::likelihood::{Parameters, Problem};
use crate::PlanningError;
use domain::{BeamSurvey, Record as _, Sensor, SurveyReading, Target};

/// A beam as it truly is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Full width at −3 dB, degrees.
    pub beamwidth_deg: f64,
    /// Tilt of the axis along the line, degrees.
    pub tilt_deg: f64,
    /// Tilt of the axis across the line, degrees.
    pub tilt_across_deg: f64,
    /// Floor of the pattern, which fills the nulls between the side lobes, dB.
    pub side_level_db: f64,
    /// Threshold over the stated one, dB.
    pub threshold_shift_db: f64,
    /// Scale of the detection curve, dB.
    pub detection_scale_db: f64,
    /// Standard deviation of where a hole truly is, along the line; one error a hole.
    pub position_error: Metres,
}

/// The survey with the same places and gains, and outcomes drawn from that beam. A reading that sought the least gain seeks it
/// again: up the marks of the dial, until the target shows.
///
/// # Errors
/// The survey, the option or the target has faults; outcomes are not looked at.
pub fn simulate(
    survey: &BeamSurvey,
    sensor: &Sensor,
    target: &Target,
    truth: &Truth,
    seed: u64,
) -> Result<BeamSurvey, PlanningError> {
    let mut faults = survey.check();
    let known = input::named(sensor, &survey.option, target).map_err(|mut found| faults.append(&mut found));
    let (Ok(known), true) = (known, faults.is_empty()) else { return Err(PlanningError::Faults(faults)) };
    let deepest = survey.readings.iter().map(|reading| reading.depth.get()).fold(0.5, f64::max);
    let depth = Metres::new(deepest);
    let scene = input::Scene::new(known, target, depth, survey.bottom_temperature)
        .map_err(|fault| PlanningError::Faults(vec![fault]))?;
    let noise = Noise { scale: truth.detection_scale_db, position: truth.position_error.get() };
    let problem = Problem::new(&scene, &survey.readings, noise);
    let Truth { beamwidth_deg, tilt_deg, threshold_shift_db, side_level_db, tilt_across_deg, .. } = *truth;
    let figures = [beamwidth_deg, tilt_deg, threshold_shift_db, side_level_db, tilt_across_deg];
    let outcomes = problem.draw(&Parameters(figures), seed, 0);
    let readings = survey.readings.iter().zip(outcomes).map(|(reading, outcome)| SurveyReading { outcome, ..*reading });
    Ok(BeamSurvey { readings: readings.collect(), ..survey.clone() })
}
