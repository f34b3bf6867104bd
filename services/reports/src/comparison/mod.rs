//! The data of the comparison and of the customer sheet: stored findings with everything computed that is drawn.
//!
//! Templates compute nothing: lengths are in the reader's unit already, sentences are whole, and every polyline is in data coordinates.

mod advice;
mod appendix;
mod drawing;
mod front;
mod gauge;
mod spot;

pub use advice::Advice;

use acoustics::units::Metres;
use domain::selection::{ExplainStep, Finding, OptionSummary, RunInput};
use domain::{BeamOption, Sensor};
use jiff::Timestamp;
use planning::LeanCost;
use planning::picture::Picture;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::clean::clean;
use crate::error::ReportError;
use crate::settings::{About, Settings, SettingsView};
use crate::wording::Wording;

/// Most spots in one report.
const MAX_SPOTS: usize = 300;
/// Longest name that is set in full.
const MAX_NAME: usize = 60;

/// What a comparison is made from.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Last segment of the run's name.
    pub run_id: String,
    /// When the run was started.
    pub run_time: Timestamp,
    /// Fingerprint of its findings.
    pub result_hash: String,
    /// What it was computed from.
    pub input: RunInput,
    /// The spots to report on, each with its findings by rank and the picture of its best option.
    pub spots: Vec<SpotPicture>,
    /// How each option did over all spots of the run, best first.
    pub summary: Vec<OptionSummary>,
    /// Which one sensor is advised for the spots of the report; none where that would take too long.
    pub advice: Option<Advice>,
    /// How it is presented.
    pub settings: Settings,
}

/// One spot of a comparison.
#[derive(Debug, Clone)]
pub struct SpotPicture {
    /// Index into the input's spots.
    pub spot: usize,
    /// Findings by rank.
    pub findings: Vec<Finding>,
    /// Picture of the first finding; none when it could not be drawn.
    pub picture: Option<Picture>,
    /// What a lean of 5° costs the first finding.
    pub lean: Option<LeanCost>,
    /// Every figure behind the first finding, for the appendix; none where it is not asked for.
    pub working: Option<ExplainStep>,
}

/// What a report on a run gets.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct Data {
    settings: SettingsView,
    /// Which one sensor, and how it is set; none where there are too many spots and options for one advice.
    advice: Option<advice::AdviceView>,
    /// Options over all spots.
    front: front::Front,
    /// A page for each spot.
    spots: Vec<spot::SpotView>,
    /// Every figure behind the best option at each spot; empty unless asked for.
    appendix: Vec<appendix::Derivation>,
}

/// The data of the comparison and of the customer sheet.
pub(crate) fn data(report: &Comparison, say: Wording<'_>) -> Result<Value, ReportError> {
    if report.spots.len() > MAX_SPOTS {
        return Err(ReportError::TooMuch(format!(
            "a report holds at most {MAX_SPOTS} spots, and {} were asked for; name the spots to report on",
            report.spots.len()
        )));
    }
    let data = Data {
        settings: SettingsView::new(
            &report.settings,
            &About { kind: "run", id: &report.run_id, time: report.run_time, fingerprint: &report.result_hash },
            say,
        ),
        advice: report.advice.as_ref().map(|advice| advice::view(advice, say)),
        front: front::front(report, say),
        spots: report.spots.iter().filter_map(|s| spot::view(report, s, say)).collect(),
        appendix: report.spots.iter().filter_map(|s| appendix::working(report, s, say)).collect(),
    };
    serde_json::to_value(&data).map_err(|e| ReportError::Data(e.to_string()))
}

/// The sensor and the option of an index into the run's options.
fn option_of(input: &RunInput, option: usize) -> Option<(&Sensor, &BeamOption)> {
    let reference = input.options.get(option)?;
    let sensor = input.sensors.get(reference.sensor)?;
    Some((sensor, sensor.options.get(reference.option)?))
}

/// Name of a sensor and its beam: `Two-face (180 kHz, 14°)`.
fn full_name((sensor, option): (&Sensor, &BeamOption), say: Wording<'_>) -> String {
    format!("{} ({})", sensor_name(sensor), beam_name(option, say))
}

/// What sets an option apart.
fn beam_name(option: &BeamOption, say: Wording<'_>) -> String {
    say.figures(&domain::wording::beam_name(option), MAX_NAME)
}

/// Name of a sensor for people.
fn sensor_name(sensor: &Sensor) -> String {
    clean(&sensor.display_name, MAX_NAME)
}

/// A positive length or nothing.
fn positive(length: Metres) -> Option<Metres> {
    (length.get() > 0.0).then_some(length)
}
