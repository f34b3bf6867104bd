//! The data of the comparison and of the customer sheet: stored findings with everything computed that is drawn.
//!
//! Templates compute nothing: lengths are in the reader's unit already, sentences are whole, and every polyline is in data coordinates.

mod drawing;
mod front;
mod gauge;
mod spot;

use acoustics::units::Metres;
use jiff::Timestamp;
use planning::domain::selection::{Finding, OptionSummary, RunInput};
use planning::domain::{BeamOption, Sensor};
use planning::picture::Picture;
use planning::wording::{beam_name, number};
use serde::Serialize;
use serde_json::Value;

use crate::clean::clean;
use crate::error::ReportError;
use crate::length::Lengths;
use crate::settings::{About, Settings, SettingsView};

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
}

#[derive(Debug, Serialize)]
struct Data {
    settings: SettingsView,
    front: front::Front,
    spots: Vec<spot::SpotView>,
}

/// Everything that the template shows.
pub(crate) fn data(report: &Comparison) -> Result<Value, ReportError> {
    if report.spots.len() > MAX_SPOTS {
        return Err(ReportError::TooMuch(format!(
            "a report holds at most {MAX_SPOTS} spots, and {} were asked for; name the spots to report on",
            report.spots.len()
        )));
    }
    let lengths = Lengths::new(report.settings.length_unit);
    let data = Data {
        settings: SettingsView::new(
            &report.settings,
            &About {
                kind: "run",
                title: "Which beam for which spot",
                id: &report.run_id,
                time: report.run_time,
                fingerprint: &report.result_hash,
            },
        ),
        front: front::front(report, lengths),
        spots: report.spots.iter().filter_map(|s| spot::view(report, s, lengths)).collect(),
    };
    serde_json::to_value(&data).map_err(|e| ReportError::Data(e.to_string()))
}

/// The sensor and the option of an index into the run's options.
fn option_of(input: &RunInput, option: usize) -> Option<(&Sensor, &BeamOption)> {
    let reference = input.options.get(option)?;
    let sensor = input.sensors.get(reference.sensor)?;
    Some((sensor, sensor.options.get(reference.option)?))
}

/// Name of a sensor for people.
fn sensor_name(sensor: &Sensor) -> String {
    clean(&sensor.display_name, MAX_NAME)
}

/// A positive length or nothing.
fn positive(length: Metres) -> Option<Metres> {
    (length.get() > 0.0).then_some(length)
}
