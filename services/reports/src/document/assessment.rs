//! An assessment of units: who is sound, who is to be watched, who is to be retired.

use proto::v1::{CheckReading, Standing, SwapResult, UnitAssessment, UnitCohort, UnitStanding};
use schemars::JsonSchema;
use serde::Serialize;

use super::told::{MAX_NAME, Mark, dial, option_name, tell};
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct View {
    counts: Vec<Count>,
    axis: Axis,
    units: Vec<UnitRow>,
    cohorts: Vec<CohortRow>,
    readings: Vec<ReadingRow>,
    swaps: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Count {
    /// Key of the words.
    standing: &'static str,
    count: usize,
}

/// The common scale of the weaknesses, dB.
#[derive(Debug, Serialize, JsonSchema)]
struct Axis {
    low: f64,
    high: f64,
    /// From here on a unit is weak.
    limit: f64,
    ticks: Vec<Mark>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct UnitRow {
    name: String,
    serial: String,
    sensor: String,
    /// Key of the words.
    standing: &'static str,
    weakness: Option<f64>,
    low: f64,
    high: f64,
    figure: String,
    chance: String,
    trend: String,
    checks: u32,
    text: String,
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct CohortRow {
    option: String,
    bias: String,
    units: u32,
    checks: u32,
}

#[derive(Debug, Serialize, JsonSchema)]
struct ReadingRow {
    unit: String,
    day: String,
    expected: String,
    shown: String,
    deficit: String,
}

/// The standings, the worst first.
const STANDINGS: [Standing; 5] =
    [Standing::Weak, Standing::Doubtful, Standing::Watch, Standing::Sound, Standing::Unknown];

/// Key of a standing's words.
const fn key(standing: Standing) -> &'static str {
    match standing {
        Standing::Weak => "weak",
        Standing::Doubtful => "doubtful",
        Standing::Watch => "watch",
        Standing::Sound => "sound",
        Standing::Unknown | Standing::Unspecified => "unknown",
    }
}

/// Limit that is drawn where the spec leaves it out, dB.
const WEAK_LIMIT: f64 = 6.0;
/// Widest scale, dB either way.
const MOST: f64 = 40.0;

pub(super) fn view(assessment: &UnitAssessment, say: Wording<'_>) -> View {
    let limit = assessment.spec.as_ref().and_then(|spec| spec.weak_limit_db).unwrap_or(WEAK_LIMIT);
    let count = |standing: Standing| Count {
        standing: key(standing),
        count: assessment.units.iter().filter(|unit| unit.standing() == standing).count(),
    };
    View {
        counts: STANDINGS.into_iter().map(count).filter(|count| count.count > 0).collect(),
        axis: axis(assessment, limit, say),
        units: assessment.units.iter().map(|unit| unit_row(unit, say)).collect(),
        cohorts: assessment.cohorts.iter().map(|cohort| cohort_row(cohort, say)).collect(),
        readings: assessment.readings.iter().map(|reading| reading_row(assessment, reading, say)).collect(),
        swaps: assessment.swaps.iter().map(|swap| swap_text(assessment, swap, say)).collect(),
    }
}

fn axis(assessment: &UnitAssessment, limit: f64, say: Wording<'_>) -> Axis {
    let ends = || assessment.units.iter().flat_map(|unit| [unit.low_db, unit.high_db]).flatten();
    let low = ends().fold(-limit, f64::min).max(-MOST);
    let high = ends().fold(2.0 * limit, f64::max).min(MOST);
    let step = if high - low > 40.0 { 10.0 } else { 5.0 };
    let first = libm::ceil(low / step) * step;
    let ticks = (0..20_u32).map(|i| first + f64::from(i) * step).take_while(|at| *at <= high);
    Axis { low, high, limit, ticks: ticks.map(|at| Mark { at, label: say.number(at, 0) }).collect() }
}

fn unit_row(unit: &UnitStanding, say: Wording<'_>) -> UnitRow {
    let figure = match (unit.weakness_db, unit.low_db, unit.high_db) {
        (Some(value), Some(low), Some(high)) => interval(value, low, high, say),
        _ => "–".to_owned(),
    };
    UnitRow {
        name: clean(&unit.unit_display_name, MAX_NAME),
        serial: clean(&unit.serial, MAX_NAME),
        sensor: clean(&unit.sensor_display_name, MAX_NAME),
        standing: key(unit.standing()),
        weakness: unit.weakness_db,
        low: unit.low_db.unwrap_or(0.0),
        high: unit.high_db.unwrap_or(0.0),
        chance: if unit.checks == 0 { "–".to_owned() } else { say.percent(unit.probability_weak) },
        trend: match (unit.trend_db_per_year, unit.trend_low_db_per_year, unit.trend_high_db_per_year) {
            (Some(value), Some(low), Some(high)) => {
                say.say("trend-a-year", [("trend", interval(value, low, high, say))])
            }
            _ => "–".to_owned(),
        },
        checks: unit.checks,
        text: tell(&unit.text_sentences, say).join(" "),
        alt: say.say("alt-whisker", [("figure", figure.clone())]),
        figure,
    }
}

/// `3.2 dB (1.0 to 5.4)`.
fn interval(value: f64, low: f64, high: f64, say: Wording<'_>) -> String {
    format!("{} ({})", say.db(value, 1), say.span(say.number(low, 1), say.number(high, 1)))
}

fn cohort_row(cohort: &UnitCohort, say: Wording<'_>) -> CohortRow {
    let option = cohort.option.rsplit('/').next().unwrap_or_default();
    CohortRow {
        option: option_name(&cohort.sensor_display_name, option, say),
        bias: interval(cohort.bias_db, cohort.low_db, cohort.high_db, say),
        units: cohort.units,
        checks: cohort.checks,
    }
}

fn unit_name(assessment: &UnitAssessment, name: &str) -> String {
    let unit = assessment.units.iter().find(|unit| unit.unit == name);
    clean(unit.map_or(name, |unit| unit.unit_display_name.as_str()), MAX_NAME)
}

fn reading_row(assessment: &UnitAssessment, reading: &CheckReading, say: Wording<'_>) -> ReadingRow {
    let both = |reading: &str, gain: f64| {
        let shown = dial(reading, gain, say);
        if reading.is_empty() { shown } else { format!("{shown} ({})", say.db(gain, 0)) }
    };
    ReadingRow {
        unit: unit_name(assessment, &reading.unit),
        day: reading.day.clone(),
        expected: both(&reading.expected_dial, reading.expected_gain_db),
        shown: both(&reading.shown_dial, reading.shown_gain_db),
        deficit: say.db(reading.deficit_db, 1),
    }
}

fn swap_text(assessment: &UnitAssessment, swap: &SwapResult, say: Wording<'_>) -> String {
    let key = if swap.low_db > 0.0 {
        "swap-second-weaker"
    } else if swap.high_db < 0.0 {
        "swap-first-weaker"
    } else {
        "swap-no-difference"
    };
    say.say(
        key,
        [
            ("first", unit_name(assessment, &swap.first)),
            ("second", unit_name(assessment, &swap.second)),
            ("figure", interval(swap.difference_db, swap.low_db, swap.high_db, say)),
        ],
    )
}
