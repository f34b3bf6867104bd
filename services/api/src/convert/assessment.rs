//! Assessments of units: what is assessed, and what comes out.

use acoustics::units::Db;
use domain::selection::option_path;
use domain::{Fault, Id, UnitCheck};
use planning::units::{
    Assessment, AssessmentInput, AssessmentSettings, Cohort, Reading as CheckReading, Standing, Swap, UnitStanding,
};
use proto::v1;

use super::run::each;
use super::{Reading, sentence};
use crate::names;

/// A spec whose names are read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spec {
    /// Empty for all units that have checks.
    pub(crate) units: Vec<Id>,
    pub(crate) reading_error: Option<Db>,
    pub(crate) weak_limit: Option<Db>,
}

impl Spec {
    /// The settings that it asks for.
    pub(crate) fn settings(&self) -> AssessmentSettings {
        AssessmentSettings::with(self.reading_error, self.weak_limit)
    }
}

/// Reads a spec; paths are relative to it.
pub(crate) fn spec(message: &v1::AssessmentSpec) -> Result<Spec, Vec<Fault>> {
    let mut reading = Reading::default();
    let units = each(&mut reading, "units", &message.units, |field, name| names::parse(field, "units", name));
    let spec = Spec {
        units,
        reading_error: message.reading_error_db.map(Db::new),
        weak_limit: message.weak_limit_db.map(Db::new),
    };
    reading.finish(spec, |spec| spec.settings().check())
}

/// Writes an assessment, without name, spec and time.
pub(crate) fn to(input: &AssessmentInput, assessment: &Assessment) -> v1::UnitAssessment {
    v1::UnitAssessment {
        units: assessment.units.iter().filter_map(|standing| standing_to(input, standing)).collect(),
        cohorts: assessment.cohorts.iter().map(|cohort| cohort_to(input, cohort)).collect(),
        readings: assessment.readings.iter().filter_map(|reading| reading_to(input, reading)).collect(),
        swaps: assessment.swaps.iter().filter_map(|swap| swap_to(input, swap)).collect(),
        left_out: assessment.left_out.iter().map(super::left_out_to).collect(),
        ..v1::UnitAssessment::default()
    }
}

fn sensor_name(input: &AssessmentInput, id: &Id) -> String {
    input.sensors.iter().find(|sensor| sensor.id == *id).map(|sensor| sensor.display_name.clone()).unwrap_or_default()
}

fn unit_name(input: &AssessmentInput, index: usize) -> Option<String> {
    Some(names::of("units", &input.units.get(index)?.id))
}

fn standing_to(input: &AssessmentInput, standing: &UnitStanding) -> Option<v1::UnitStanding> {
    let unit = input.units.get(standing.unit)?;
    let verdict = match standing.standing {
        Standing::Sound => v1::Standing::Sound,
        Standing::Watch => v1::Standing::Watch,
        Standing::Weak => v1::Standing::Weak,
        Standing::Unknown => v1::Standing::Unknown,
        Standing::Doubtful => v1::Standing::Doubtful,
    };
    Some(v1::UnitStanding {
        unit: names::of("units", &unit.id),
        unit_display_name: unit.display_name.clone(),
        serial: unit.serial.clone(),
        sensor_display_name: sensor_name(input, &unit.sensor),
        standing: verdict.into(),
        weakness_db: standing.weakness.map(Db::get),
        low_db: standing.interval.map(|(low, _)| low.get()),
        high_db: standing.interval.map(|(_, high)| high.get()),
        probability_weak: standing.probability_weak,
        checks: standing.checks,
        trend_db_per_year: standing.trend.map(|trend| trend.per_year.get()),
        trend_low_db_per_year: standing.trend.map(|trend| trend.interval.0.get()),
        trend_high_db_per_year: standing.trend.map(|trend| trend.interval.1.get()),
        text: sentence::texts(&standing.text).join(" "),
        text_sentences: sentence::to(&standing.text),
    })
}

fn cohort_to(input: &AssessmentInput, cohort: &Cohort) -> v1::UnitCohort {
    v1::UnitCohort {
        option: option_path(&cohort.sensor, &cohort.option),
        sensor_display_name: sensor_name(input, &cohort.sensor),
        bias_db: cohort.bias.get(),
        low_db: cohort.interval.0.get(),
        high_db: cohort.interval.1.get(),
        units: cohort.units,
        checks: cohort.checks,
    }
}

/// The position that was typed, with its unit.
fn as_the_dial_reads(input: &AssessmentInput, check: &UnitCheck) -> Option<String> {
    let unit = input.units.iter().find(|unit| unit.id == check.unit)?;
    let dial = &input.sensors.iter().find(|sensor| sensor.id == unit.sensor)?.dial;
    let after = dial.points.first().map(|point| point.position);
    dial.scale.parse(&check.shown_at, after).ok().map(|position| dial.scale.format(position))
}

fn reading_to(input: &AssessmentInput, reading: &CheckReading) -> Option<v1::CheckReading> {
    let check = input.checks.get(reading.check)?;
    Some(v1::CheckReading {
        check: names::of("unitChecks", &check.id),
        unit: names::of("units", &check.unit),
        day: check.day.to_string(),
        expected_gain_db: reading.expected.get(),
        expected_dial: reading.expected_dial.clone().unwrap_or_default(),
        shown_gain_db: reading.shown.get(),
        shown_dial: as_the_dial_reads(input, check).unwrap_or_else(|| check.shown_at.clone()),
        deficit_db: reading.deficit.get(),
    })
}

fn swap_to(input: &AssessmentInput, swap: &Swap) -> Option<v1::SwapResult> {
    Some(v1::SwapResult {
        first: unit_name(input, swap.first)?,
        second: unit_name(input, swap.second)?,
        difference_db: swap.difference.get(),
        low_db: swap.interval.0.get(),
        high_db: swap.interval.1.get(),
    })
}
