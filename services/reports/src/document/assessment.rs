//! An assessment of units: who is sound, who is to be watched, who is to be retired.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{MAX_NAME, Mark, Sentence, dial, option_name, tell};
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Assessment {
    spec: Spec,
    units: Vec<Unit>,
    cohorts: Vec<Cohort>,
    readings: Vec<Reading>,
    swaps: Vec<Swap>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Spec {
    weak_limit_db: Option<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Unit {
    unit: String,
    unit_display_name: String,
    serial: String,
    sensor_display_name: String,
    standing: String,
    weakness_db: Option<f64>,
    low_db: Option<f64>,
    high_db: Option<f64>,
    probability_weak: f64,
    checks: u32,
    trend_db_per_year: Option<f64>,
    trend_low_db_per_year: Option<f64>,
    trend_high_db_per_year: Option<f64>,
    text: String,
    text_sentences: Vec<Sentence>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Cohort {
    option: String,
    sensor_display_name: String,
    bias_db: f64,
    low_db: f64,
    high_db: f64,
    units: u32,
    checks: u32,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Reading {
    unit: String,
    day: String,
    expected_gain_db: f64,
    expected_dial: String,
    shown_gain_db: f64,
    shown_dial: String,
    deficit_db: f64,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Swap {
    first: String,
    second: String,
    difference_db: f64,
    low_db: f64,
    high_db: f64,
}

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

/// Keys of the standings, the worst first.
const STANDINGS: [(&str, &str); 5] = [
    ("STANDING_WEAK", "weak"),
    ("STANDING_DOUBTFUL", "doubtful"),
    ("STANDING_WATCH", "watch"),
    ("STANDING_SOUND", "sound"),
    ("STANDING_UNKNOWN", "unknown"),
];
/// Limit that is drawn where the spec leaves it out, dB.
const WEAK_LIMIT: f64 = 6.0;
/// Widest scale, dB either way.
const MOST: f64 = 40.0;

pub(super) fn view(assessment: &Assessment, say: Wording<'_>) -> View {
    let limit = assessment.spec.weak_limit_db.unwrap_or(WEAK_LIMIT);
    let count = |(name, key): (&str, &'static str)| Count {
        standing: key,
        count: assessment.units.iter().filter(|unit| unit.standing == name).count(),
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

fn axis(assessment: &Assessment, limit: f64, say: Wording<'_>) -> Axis {
    let ends = || assessment.units.iter().flat_map(|unit| [unit.low_db, unit.high_db]).flatten();
    let low = ends().fold(-limit, f64::min).max(-MOST);
    let high = ends().fold(2.0 * limit, f64::max).min(MOST);
    let step = if high - low > 40.0 { 10.0 } else { 5.0 };
    let first = libm::ceil(low / step) * step;
    let ticks = (0..20_u32).map(|i| first + f64::from(i) * step).take_while(|at| *at <= high);
    Axis { low, high, limit, ticks: ticks.map(|at| Mark { at, label: say.number(at, 0) }).collect() }
}

fn unit_row(unit: &Unit, say: Wording<'_>) -> UnitRow {
    let standing = STANDINGS.iter().find(|(name, _)| *name == unit.standing).map_or("unknown", |(_, key)| key);
    let figure = match (unit.weakness_db, unit.low_db, unit.high_db) {
        (Some(value), Some(low), Some(high)) => interval(value, low, high, say),
        _ => "–".to_owned(),
    };
    UnitRow {
        name: clean(&unit.unit_display_name, MAX_NAME),
        serial: clean(&unit.serial, MAX_NAME),
        sensor: clean(&unit.sensor_display_name, MAX_NAME),
        standing,
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
        text: tell(&unit.text_sentences, std::slice::from_ref(&unit.text), say).join(" "),
        alt: say.say("alt-whisker", [("figure", figure.clone())]),
        figure,
    }
}

/// `3.2 dB (1.0 to 5.4)`.
fn interval(value: f64, low: f64, high: f64, say: Wording<'_>) -> String {
    format!("{} ({})", say.db(value, 1), say.span(say.number(low, 1), say.number(high, 1)))
}

fn cohort_row(cohort: &Cohort, say: Wording<'_>) -> CohortRow {
    let option = cohort.option.rsplit('/').next().unwrap_or_default();
    CohortRow {
        option: option_name(&cohort.sensor_display_name, option, say),
        bias: interval(cohort.bias_db, cohort.low_db, cohort.high_db, say),
        units: cohort.units,
        checks: cohort.checks,
    }
}

fn unit_name(assessment: &Assessment, name: &str) -> String {
    let unit = assessment.units.iter().find(|unit| unit.unit == name);
    clean(unit.map_or(name, |unit| unit.unit_display_name.as_str()), MAX_NAME)
}

fn reading_row(assessment: &Assessment, reading: &Reading, say: Wording<'_>) -> ReadingRow {
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

fn swap_text(assessment: &Assessment, swap: &Swap, say: Wording<'_>) -> String {
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
