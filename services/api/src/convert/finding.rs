//! Findings, summaries and explanations: written only, they never come in.

use std::collections::HashMap;

use acoustics::units::{Db, Metres};
use domain::selection::{
    Assumption, Band, Criteria, Desirability, ExplainStep, Finding, Gains, OptionSummary, Origin, RunInput,
    Uncertainty, option_path,
};
use domain::{GainDial, Id, joined};
use proto::v1;

use super::sentence;
use crate::error::Error;
use crate::names::FindingName;

/// Writes the findings of one run.
pub(crate) struct FindingWriter<'a> {
    run: &'a Id,
    input: &'a RunInput,
}

impl<'a> FindingWriter<'a> {
    pub(crate) fn new(run: &'a Id, input: &'a RunInput) -> Self {
        Self { run, input }
    }

    /// A finding as the protocol has it. The indices in it must be those of the run.
    pub(crate) fn write(&self, finding: &Finding) -> Result<v1::Finding, Error> {
        let lost = || Error::internal(format!("a finding of runs/{} points outside of its input", self.run));
        let spot = self.input.spots.get(finding.spot).ok_or_else(lost)?;
        let option = self.input.options.get(finding.option).ok_or_else(lost)?;
        let sensor = self.input.sensors.get(option.sensor).ok_or_else(lost)?;
        let beam = sensor.options.get(option.option).ok_or_else(lost)?;
        let name = FindingName {
            run: self.run.clone(),
            spot: spot.id.clone(),
            sensor: sensor.id.clone(),
            option: beam.id.clone(),
        };
        let failures = finding.failures.iter();
        let notices = finding.notices.iter();
        Ok(v1::Finding {
            name: name.to_string(),
            spot: format!("spots/{}", spot.id),
            option: option_path(&sensor.id, &beam.id),
            rank: count(finding.rank),
            score: finding.score,
            criteria: Some(criteria(&finding.criteria)),
            gains: Some(gains(&finding.gains, &sensor.dial)),
            desirabilities: Some(desirabilities(&finding.desirability)),
            failures: failures.map(|each| reason(each.code(), each.sentence().text(), each.figures())).collect(),
            notices: notices.map(|each| reason(each.code(), each.sentence().text(), each.figures())).collect(),
            assumptions: finding.assumptions.iter().map(assumption).collect(),
            uncertainty: finding.uncertainty.as_ref().map(uncertainty),
        })
    }

    /// How an option did over all spots.
    pub(crate) fn summary(&self, summary: &OptionSummary) -> Result<v1::OptionSummary, Error> {
        let lost = || Error::internal(format!("a summary of runs/{} points outside of its input", self.run));
        let option = self.input.options.get(summary.option).ok_or_else(lost)?;
        let sensor = self.input.sensors.get(option.sensor).ok_or_else(lost)?;
        let beam = sensor.options.get(option.option).ok_or_else(lost)?;
        Ok(v1::OptionSummary {
            option: option_path(&sensor.id, &beam.id),
            best_at: count(summary.best_at),
            serves: count(summary.serves),
            near_best_at: count(summary.near_best_at),
            mean_score: summary.mean_score,
            worst_score: summary.worst_score,
        })
    }
}

/// Counts fit: a run is bounded far below two thousand million findings.
fn count(value: u32) -> i32 {
    i32::try_from(value).unwrap_or(i32::MAX)
}

fn criteria(criteria: &Criteria) -> v1::Criteria {
    v1::Criteria {
        coverage_radius_m: criteria.coverage_radius.get(),
        coverage_area_m2: criteria.coverage_area_m2,
        watch_footprint_m: criteria.watch_footprint.get(),
        range_cell_m: criteria.range_cell.get(),
        single_fish_probability: criteria.single_fish_probability,
        dead_zone_height_m: Metres::get(criteria.dead_zone_height),
        lure_over_vegetation_db: criteria.lure_over_vegetation.map(Db::get),
        headroom_db: criteria.headroom.map(Db::get),
        interference_fraction: criteria.interference_fraction,
    }
}

fn gains(gains: &Gains, dial: &GainDial) -> v1::Gains {
    // The nearest mark for all of them: rounding one up and another down would swap gains that are close.
    let reading = |gain: Db| dial.dial_reading(gain).unwrap_or_default();
    v1::Gains {
        lure_gain_db: gains.lure.get(),
        bottom_gain_db: gains.bottom.get(),
        working_gain_db: gains.working.get(),
        clear_gain_db: gains.clear.map(Db::get),
        search_gain_db: gains.search.get(),
        max_gain_db: gains.max.get(),
        working_dial: reading(gains.working),
        clear_dial: gains.clear.map(reading).unwrap_or_default(),
        search_dial: reading(gains.search),
    }
}

fn desirabilities(desirability: &Desirability) -> v1::Desirabilities {
    v1::Desirabilities {
        coverage: desirability.coverage,
        clutter: desirability.clutter,
        resolution: desirability.resolution,
        interference: desirability.interference,
    }
}

fn reason(code: &str, text: String, figures: Vec<(&'static str, f64)>) -> v1::Reason {
    let figures: HashMap<_, _> = figures.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    v1::Reason { code: code.to_owned(), text, figures }
}

fn assumption(assumption: &Assumption) -> v1::Assumption {
    v1::Assumption {
        field: assumption.field.to_string(),
        text: assumption.sentence.text(),
        text_sentence: Some(sentence::one(&assumption.sentence)),
    }
}

fn band(band: &Band) -> v1::Band {
    v1::Band { low: band.low, median: band.median, high: band.high }
}

fn uncertainty(uncertainty: &Uncertainty) -> v1::Uncertainty {
    let (dominant_uncertainty, dominant_uncertainty_share) =
        uncertainty.dominant_uncertainty.clone().unwrap_or_default();
    v1::Uncertainty {
        rank_acceptability: uncertainty.rank_acceptability.clone(),
        score: Some(band(&uncertainty.score)),
        coverage_radius_m: Some(band(&uncertainty.coverage_radius_m)),
        watch_footprint_m: Some(band(&uncertainty.watch_footprint_m)),
        dead_zone_height_m: Some(band(&uncertainty.dead_zone_height_m)),
        lure_over_vegetation_db: uncertainty.lure_over_vegetation_db.as_ref().map(band),
        headroom_db: uncertainty.headroom_db.as_ref().map(band),
        working_gain_db: Some(band(&uncertainty.working_gain_db)),
        disqualified: uncertainty.disqualified,
        pareto: uncertainty.pareto,
        dominant_uncertainty,
        dominant_uncertainty_share,
    }
}

/// An explanation as the protocol has it.
pub(crate) fn step(step: &ExplainStep) -> v1::ExplainStep {
    v1::ExplainStep {
        step: step.name.clone(),
        symbol: step.symbol.to_owned(),
        title: step.title.text(),
        value: step.value,
        unit: step.unit.to_owned(),
        formula: step.formula.to_owned(),
        source: step.source.map(Origin::text).unwrap_or_default(),
        text: joined(&step.text),
        inputs: step.inputs.iter().map(self::step).collect(),
    }
}
