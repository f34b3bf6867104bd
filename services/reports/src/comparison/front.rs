//! Page one: what to choose, why, where to set the gain, and what to beware of.

use planning::domain::HolePlan;
use planning::domain::selection::{Finding, Goal};
use serde::Serialize;

use super::{Comparison, MAX_NAME, SpotPicture, beam_name, number, option_of, sensor_name};
use crate::clean::clean;
use crate::length::Lengths;

#[derive(Debug, Serialize)]
pub(super) struct Front {
    /// What was asked, in a line.
    asked: String,
    /// The option that serves most spots.
    choice: Option<Choice>,
    /// Why, in a sentence.
    reason: String,
    /// Options over all spots, best first.
    ranking: Vec<RankRow>,
    /// How many options are not listed.
    ranking_more: usize,
    /// The best option at each spot.
    spots: Vec<SpotRow>,
}

#[derive(Debug, Serialize)]
struct Choice {
    sensor: String,
    beam: String,
    price: Option<String>,
}

#[derive(Debug, Serialize)]
struct RankRow {
    place: usize,
    sensor: String,
    beam: String,
    price: Option<String>,
    best_at: u32,
    serves: u32,
    /// Mean score in per cent.
    score: String,
    /// Mean score, 0 to 1.
    share: f64,
}

#[derive(Debug, Serialize)]
struct SpotRow {
    name: String,
    lake: String,
    depth: String,
    sensor: String,
    beam: String,
    /// Where to set the gain.
    start: String,
    /// Highest gain in company; none when alone.
    limit: Option<String>,
    caution: String,
}

/// Rows of the ranking on page one.
const RANKING_ROWS: usize = 12;

pub(super) fn front(report: &Comparison, lengths: Lengths) -> Front {
    let ranking: Vec<_> = report.summary.iter().enumerate().filter_map(|(i, _)| rank_row(report, i)).collect();
    Front {
        asked: asked(report),
        choice: report.summary.first().and_then(|best| {
            let (sensor, option) = option_of(&report.input, best.option)?;
            (best.serves > 0).then(|| Choice {
                sensor: sensor_name(sensor),
                beam: beam_name(option),
                price: sensor.price.as_ref().map(price),
            })
        }),
        reason: reason(report),
        ranking_more: ranking.len().saturating_sub(RANKING_ROWS),
        ranking: ranking.into_iter().take(RANKING_ROWS).collect(),
        spots: report.spots.iter().filter_map(|s| spot_row(report, s, lengths)).collect(),
    }
}

fn asked(report: &Comparison) -> String {
    let input = &report.input;
    let goal = match input.settings.goal {
        Goal::Search => "to find fish",
        Goal::WatchLure => "to watch a lure and the fish at it",
        Goal::School => "to tell the fish of a school apart",
        Goal::WeedEdge => "to fish along weeds",
    };
    let company = input.shelter.as_ref().map_or_else(
        || "fishing alone".to_owned(),
        |shelter| {
            let people = match &shelter.holes {
                HolePlan::Drilled(holes) => holes.len(),
                HolePlan::Party(size) => usize::try_from(*size).unwrap_or(0),
            };
            format!("{people} in the shelter “{}”", clean(&shelter.display_name, MAX_NAME))
        },
    );
    format!(
        "{} and {} compared {goal}; {company}. Lure: {}. Fish: {}.",
        count(input.spots.len(), "spot"),
        count(input.options.len(), "beam"),
        clean(&input.lure.display_name, MAX_NAME),
        clean(&input.fish.display_name, MAX_NAME)
    )
}

fn reason(report: &Comparison) -> String {
    let spots = report.input.spots.len();
    let Some((best, (sensor, option))) =
        report.summary.first().and_then(|b| Some((b, option_of(&report.input, b.option)?)))
    else {
        return "No option was compared.".to_owned();
    };
    if best.serves == 0 {
        return "None of the options can be used at any of these spots; the pages for the spots say why.".to_owned();
    }
    let name = format!("{} ({})", sensor_name(sensor), beam_name(option));
    let mut text = format!(
        "{name} can be used at {} of {} and is the best choice at {}.",
        best.serves,
        count(spots, "spot"),
        best.best_at
    );
    if let Some((second, (sensor, option))) =
        report.summary.get(1).and_then(|s| Some((s, option_of(&report.input, s.option)?)))
        && second.serves > 0
    {
        let lead = 100.0 * (best.mean_score - second.mean_score);
        text.push_str(&format!(
            " Next comes {} ({}), {} behind on the 100-point score.",
            sensor_name(sensor),
            beam_name(option),
            if lead < 0.5 { "less than a point".to_owned() } else { format!("{} points", number(lead, 0)) }
        ));
    }
    text
}

fn rank_row(report: &Comparison, index: usize) -> Option<RankRow> {
    let summary = report.summary.get(index)?;
    let (sensor, option) = option_of(&report.input, summary.option)?;
    Some(RankRow {
        place: index + 1,
        sensor: sensor_name(sensor),
        beam: beam_name(option),
        price: sensor.price.as_ref().map(price),
        best_at: summary.best_at,
        serves: summary.serves,
        score: number(100.0 * summary.mean_score, 0),
        share: summary.mean_score,
    })
}

fn spot_row(report: &Comparison, picture: &SpotPicture, lengths: Lengths) -> Option<SpotRow> {
    let spot = report.input.spots.get(picture.spot)?;
    let best = picture.findings.first()?;
    let (sensor, option) = option_of(&report.input, best.option)?;
    let usable = best.failures.is_empty();
    Some(SpotRow {
        name: clean(&spot.display_name, MAX_NAME),
        lake: clean(&spot.lake, MAX_NAME),
        depth: lengths.text(spot.depth),
        sensor: if usable { sensor_name(sensor) } else { "no option can be used".to_owned() },
        beam: if usable { beam_name(option) } else { String::new() },
        start: if usable { super::gauge::dial_text(sensor, best.gains.working) } else { "–".to_owned() },
        limit: best.gains.clear.filter(|_| usable).map(|g| super::gauge::limit_text(sensor, g)),
        caution: caution(best),
    })
}

/// The first thing to beware of at a spot.
fn caution(best: &Finding) -> String {
    let failure = best.failures.first().map(planning::domain::selection::Failure::sentence);
    failure.or_else(|| best.notices.first().map(planning::domain::selection::Notice::sentence)).unwrap_or_default()
}

/// `129.00 USD`.
pub(super) fn price(money: &planning::domain::Money) -> String {
    let cents = (i64::from(money.nanos.abs()) + 5_000_000) / 10_000_000;
    let (units, cents) = if cents == 100 { (money.units + 1, 0) } else { (money.units, cents) };
    format!("{units}.{cents:02} {}", clean(&money.currency, 3))
}

/// `1 spot`, `2 spots`.
fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
