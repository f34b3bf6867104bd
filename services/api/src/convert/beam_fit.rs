//! Fits of a beam to a survey, and drafts of surveys.

use domain::selection::option_path;
use domain::wording::beam_name;
use domain::{BeamSurvey, Id, PatternPoint, Sensor, Target};
use planning::survey::{Estimate, SurveyFit, SurveySheet};
use proto::v1;

use super::{beam_survey, option, sentence};

/// Writes a fit, without name and time.
pub(crate) fn to(survey: &BeamSurvey, sensor: &Sensor, fit: &SurveyFit) -> v1::BeamFit {
    let surveyed = sensor.options.iter().find(|option| option.id == survey.option);
    v1::BeamFit {
        survey: format!("beamSurveys/{}", survey.id),
        survey_display_name: survey.display_name.clone(),
        option: option_path(&survey.sensor, &survey.option),
        sensor_display_name: sensor.display_name.clone(),
        beam: surveyed.map(beam_name).unwrap_or_default(),
        day: survey.day.to_string(),
        beamwidth_deg: Some(estimate(&fit.beamwidth_deg)),
        tilt_deg: Some(estimate(&fit.tilt_deg)),
        side_level_db: fit.side_level_db.as_ref().map(estimate),
        threshold_shift_db: Some(estimate(&fit.threshold_shift_db)),
        detection_scale_db: fit.detection_scale_db,
        deviance: fit.deviance,
        degrees_of_freedom: fit.degrees_of_freedom,
        p_value: fit.p_value,
        readings: fit.readings,
        fitted: points(&fit.fitted),
        stated: points(&fit.stated),
        cannot_tell: sentence::texts(&fit.cannot_tell),
        cannot_tell_sentences: sentence::to(&fit.cannot_tell),
        seen: survey.readings.iter().map(beam_survey::reading_to).collect(),
        ..v1::BeamFit::default()
    }
}

fn estimate(figure: &Estimate) -> v1::Estimate {
    v1::Estimate { value: figure.value, low: figure.low, high: figure.high, at_bound: figure.at_bound }
}

fn points(points: &[PatternPoint]) -> Vec<v1::PatternPoint> {
    points.iter().map(option::point_to).collect()
}

/// Reads back what a fit says of the pattern: the measured table, as adoption stores it.
pub(crate) fn measured(fit: &v1::BeamFit) -> Vec<PatternPoint> {
    fit.fitted.iter().map(option::point).collect()
}

/// Writes a draft, without name, time and what was asked.
pub(crate) fn draft_to(sensor: &Sensor, option: &Id, target: &Target, sheet: &SurveySheet) -> v1::BeamSurveyDraft {
    let surveyed = sensor.options.iter().find(|known| known.id == *option);
    let cells = sheet.cells.iter().map(|cell| v1::DraftCell {
        offset_m: cell.offset.get(),
        depth_m: cell.depth.get(),
        expected_gain_db: cell.expected_gain.get(),
        expected_dial: cell.expected_dial.clone().unwrap_or_default(),
    });
    v1::BeamSurveyDraft {
        sensor_display_name: sensor.display_name.clone(),
        beam: surveyed.map(beam_name).unwrap_or_default(),
        target_display_name: target.display_name.clone(),
        offsets_m: sheet.offsets.iter().map(|offset| offset.get()).collect(),
        depths_m: sheet.depths.iter().map(|depth| depth.get()).collect(),
        cells: cells.collect(),
        steps: sentence::texts(&sheet.steps),
        step_sentences: sentence::to(&sheet.steps),
        can_tell: sentence::texts(&sheet.can_tell),
        can_tell_sentences: sentence::to(&sheet.can_tell),
        ..v1::BeamSurveyDraft::default()
    }
}
