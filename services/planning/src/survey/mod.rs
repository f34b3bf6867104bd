//! Beam surveys (stub of signatures).
#![allow(missing_docs)]

use crate::PlanningError;
use crate::domain::{BeamSurvey, Id, PatternPoint, Sensor, Target};
use acoustics::units::{Db, Metres};

#[derive(Debug, Clone, PartialEq, Default)]
pub struct FitSettings {
    pub detection_scale: Db2,
    pub interval: f64,
    pub rounds: u32,
    pub seed: u64,
}
pub type Db2 = f64;
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub at_bound: bool,
}
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyFit {
    pub beamwidth_deg: Estimate,
    pub tilt_deg: Estimate,
    pub side_level_db: Option<Estimate>,
    pub threshold_shift_db: Estimate,
    pub detection_scale_db: f64,
    pub deviance: f64,
    pub degrees_of_freedom: u32,
    pub p_value: Option<f64>,
    pub readings: u32,
    pub fitted: Vec<PatternPoint>,
    pub stated: Vec<PatternPoint>,
    pub cannot_tell: Vec<String>,
}
#[derive(Debug, Clone, PartialEq)]
pub struct DraftCell {
    pub offset: Metres,
    pub depth: Metres,
    pub expected_gain: Db,
    pub expected_dial: Option<String>,
}
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySheet {
    pub offsets: Vec<Metres>,
    pub depths: Vec<Metres>,
    pub cells: Vec<DraftCell>,
    pub steps: Vec<String>,
    pub can_tell: Vec<String>,
}
pub fn fit(
    _: &BeamSurvey,
    _: &Sensor,
    _: &Target,
    _: &FitSettings,
    _: &(dyn Fn() -> bool + Sync),
) -> Result<SurveyFit, PlanningError> {
    Err(PlanningError::NotWanted)
}
pub fn sheet(_: &Sensor, _: &Id, _: &Target, _: Metres, _: u32) -> Result<SurveySheet, PlanningError> {
    Err(PlanningError::NotWanted)
}
pub fn adopt(_: &Sensor, _: &Id, _: &[PatternPoint]) -> Option<Sensor> {
    None
}
