//! What a comparison is made from.

use domain::selection::{ExplainStep, Finding, OptionSummary, RunInput};
use jiff::Timestamp;
use planning::LeanCost;
use planning::picture::Picture;
use planning::recommend::{Choice, PlaceAdvice, Recommendation};

use crate::settings::Settings;

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

/// What is advised for the spots of a report.
#[derive(Debug, Clone)]
pub struct Advice {
    /// The spots, in the order of the recommendation's places, with everything else of the run.
    pub input: RunInput,
    /// What decided.
    pub choice: Choice,
    /// What came of it.
    pub answer: Recommendation,
    /// Picture of the advised sensor at the place of the greatest weight; none without such a sensor.
    pub picture: Option<Picture>,
}

impl Advice {
    /// The setting at the place of the greatest weight, for the use with the greatest share.
    #[must_use]
    pub fn most_important(&self) -> Option<&PlaceAdvice> {
        let weight = |place: &PlaceAdvice| self.answer.worths.weights.get(place.place.0).copied().unwrap_or(0.0);
        let share = |place: &PlaceAdvice| self.answer.uses.get(place.use_index).map_or(0.0, |u| u.share);
        let works = |place: &PlaceAdvice| place.hindrances.is_empty();
        // A place that it serves before any other. The first of equals: the last of a reversed list.
        self.answer.places.iter().rev().max_by(|a, b| {
            works(a).cmp(&works(b)).then(weight(a).total_cmp(&weight(b))).then(share(a).total_cmp(&share(b)))
        })
    }
}
