//! The data of the comparison and of the customer sheet: stored findings with everything computed that is drawn.
//!
//! Templates compute nothing: lengths are in the reader's unit already, sentences are whole, and every polyline is in data coordinates.

mod advice;
mod appendix;
mod drawing;
mod front;
mod gauge;
mod names;
mod spot;
mod subject;

pub use subject::{Advice, Comparison, SpotPicture, Told};

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::error::ReportError;
use crate::settings::{About, SettingsView};
use crate::wording::Wording;

/// Most spots in one report.
const MAX_SPOTS: usize = 300;
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
