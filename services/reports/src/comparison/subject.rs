//! What a comparison is made from.

use domain::selection::{ExplainStep, Finding, OptionRef, OptionSummary, RunInput};
use jiff::Timestamp;
use planning::LeanCost;
use planning::picture::Picture;
use planning::recommend::{Choice, PlaceAdvice, Recommendation, Use};

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
    /// What its page is about; none where the run has nothing on the spot.
    pub told: Option<Told>,
    /// Picture of what is told; none when it could not be drawn.
    pub picture: Option<Picture>,
    /// What a lean of 5° costs what is told.
    pub lean: Option<LeanCost>,
    /// Every figure behind what is told, for the appendix; none where it is not asked for.
    pub working: Option<ExplainStep>,
}

/// The option that a spot's page is about.
#[derive(Debug, Clone)]
pub struct Told {
    /// Its finding.
    pub finding: Finding,
    /// What the advice says of it; none where no sensor is advised.
    pub advised: Option<PlaceAdvice>,
    /// Whether nothing that can be had works there, and this only comes nearest.
    pub nowhere: bool,
}

impl Told {
    /// The advised sensor as it is set for the greatest share of the time; where nothing that can be had works, what comes nearest; without advice the
    /// best option of the spot.
    ///
    /// `place` is the position of the spot among the places of the advice, `findings` are the spot's by rank, `options` those of the run.
    #[must_use]
    pub fn at(
        advice: Option<&Recommendation>,
        place: usize,
        findings: &[Finding],
        options: &[OptionRef],
    ) -> Option<Self> {
        let advised = advice.and_then(|answer| {
            first_of(answer.places.iter().filter(|advice| advice.place.0 == place), &answer.uses, |_| 1.0)
        });
        let Some(advised) = advised else {
            let nowhere = advice.and_then(|answer| answer.nowhere.iter().find(|nowhere| nowhere.place.0 == place));
            let nearest = nowhere.and_then(|nowhere| nowhere.nearest).map(|(sensor, _)| sensor);
            let of_nearest = |finding: &&Finding| {
                nearest
                    .is_none_or(|nearest| options.get(finding.option).is_some_and(|option| option.sensor == nearest.0))
            };
            let finding = findings.iter().find(of_nearest)?.clone();
            return Some(Self { finding, advised: None, nowhere: nowhere.is_some() });
        };
        // Bands belong to criteria, which no use changes.
        let drawn = findings.iter().find(|finding| finding.option == advised.finding.option);
        let uncertainty = drawn.and_then(|finding| finding.uncertainty.clone());
        Some(Self {
            finding: Finding { uncertainty, ..advised.finding.clone() },
            advised: Some(advised.clone()),
            nowhere: false,
        })
    }
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
        let weights = &self.answer.worths.weights;
        first_of(self.answer.places.iter(), &self.answer.uses, |place| {
            weights.get(place.place.0).copied().unwrap_or(0.0)
        })
    }
}

/// A setting that works before any other, then by weight of the place, then by share of the use; the first of equals.
fn first_of<'a>(
    places: impl DoubleEndedIterator<Item = &'a PlaceAdvice>,
    uses: &[Use],
    weight: impl Fn(&PlaceAdvice) -> f64,
) -> Option<&'a PlaceAdvice> {
    let works = |place: &PlaceAdvice| place.hindrances.is_empty();
    let share = |place: &PlaceAdvice| uses.get(place.use_index).map_or(0.0, |u| u.share);
    // The first of equals is the last of a reversed list.
    places.rev().max_by(|a, b| {
        works(a).cmp(&works(b)).then(weight(a).total_cmp(&weight(b))).then(share(a).total_cmp(&share(b)))
    })
}
