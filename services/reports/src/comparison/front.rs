//! Page one: what to choose, why, where to set the gain, and what to beware of.

use domain::HolePlan;
use domain::selection::Finding;
use domain::{Goal, Preset};
use planning::recommend::Use;
use schemars::JsonSchema;
use serde::Serialize;

use super::names::{MAX_NAME, beam_name, full_name, option_of, sensor_name};
use super::subject::{Comparison, SpotPicture};
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
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

#[derive(Debug, Serialize, JsonSchema)]
struct Choice {
    sensor: String,
    beam: String,
    price: Option<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
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

#[derive(Debug, Serialize, JsonSchema)]
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

pub(super) fn front(report: &Comparison, say: Wording<'_>) -> Front {
    let ranking: Vec<_> = report.summary.iter().enumerate().filter_map(|(i, _)| rank_row(report, i, say)).collect();
    Front {
        asked: asked(report, say),
        choice: report.summary.first().and_then(|best| {
            let (sensor, option) = option_of(&report.input, best.option)?;
            (best.serves > 0).then(|| Choice {
                sensor: sensor_name(sensor),
                beam: beam_name(option, say),
                price: sensor.price.as_ref().map(|money| price(money, say)),
            })
        }),
        reason: reason(report, say),
        ranking_more: ranking.len().saturating_sub(RANKING_ROWS),
        ranking: ranking.into_iter().take(RANKING_ROWS).collect(),
        spots: report.spots.iter().filter_map(|s| spot_row(report, s, say)).collect(),
    }
}

fn asked(report: &Comparison, say: Wording<'_>) -> String {
    let input = &report.input;
    let goal = |goal: &Goal| match goal {
        Goal::Preset(Preset::Search) => say.word("goal-search"),
        Goal::Preset(Preset::WatchLure) => say.word("goal-watch-lure"),
        Goal::Preset(Preset::School) => say.word("goal-school"),
        Goal::Preset(Preset::WeedEdge) => say.word("goal-weed-edge"),
        Goal::Custom(goal) => say.say("goal-custom", [("goal", clean(&goal.display_name, MAX_NAME))]),
    };
    let uses = report.advice.as_ref().map_or(&[] as &[_], |advice| &advice.answer.uses);
    let several = uses.len() > 1;
    let shared = |one: &Use| say.say("share-of", [("what", goal(&one.goal)), ("share", say.percent(one.share))]);
    let goals: Vec<_> = uses.iter().map(|one| if several { shared(one) } else { goal(&one.goal) }).collect();
    let goals = if goals.is_empty() { goal(&input.settings.goal) } else { goals.join(", ") };
    let company = input.shelter.as_ref().map_or_else(
        || say.word("company-alone"),
        |shelter| {
            let people = match &shelter.holes {
                HolePlan::Drilled(holes) => holes.len(),
                HolePlan::Party(size) => usize::try_from(*size).unwrap_or(0),
            };
            let shelter = clean(&shelter.display_name, MAX_NAME);
            say.say("company-shelter", [("people", people.to_string()), ("shelter", shelter)])
        },
    );
    say.say(
        "asked",
        [
            ("spots", say.count("spots", input.spots.len())),
            ("beams", say.count("beams", input.options.len())),
            ("goal", goals),
            ("company", company),
            ("lure", clean(&input.lure.display_name, MAX_NAME)),
            ("fish", clean(&input.fish.display_name, MAX_NAME)),
        ],
    )
}

fn reason(report: &Comparison, say: Wording<'_>) -> String {
    let named = |place: usize| {
        let summary = report.summary.get(place)?;
        Some((summary, full_name(option_of(&report.input, summary.option)?, say)))
    };
    let Some((best, name)) = named(0) else { return say.word("reason-nothing") };
    if best.serves == 0 {
        return say.word("reason-none-usable");
    }
    let first = say.say(
        "reason-best",
        [
            ("name", name),
            ("serves", best.serves.to_string()),
            ("spots", say.count("spots", report.input.spots.len())),
            ("best", best.best_at.to_string()),
        ],
    );
    let Some((second, name)) = named(1).filter(|(second, _)| second.serves > 0) else { return first };
    let lead = 100.0 * (best.mean_score - second.mean_score);
    // The order is by spots where an option is best: the next may well score more on average.
    let next = if lead < -0.5 { "reason-next-ahead" } else { "reason-next" };
    let lead =
        match (0..=100_usize).find(|points| lead.abs() < 0.5 + f64::from(u8::try_from(*points).unwrap_or(u8::MAX))) {
            Some(0) => say.word("lead-under"),
            points => say.count("lead", points.unwrap_or(100)),
        };
    format!("{first} {}", say.say(next, [("name", name), ("lead", lead)]))
}

fn rank_row(report: &Comparison, index: usize, say: Wording<'_>) -> Option<RankRow> {
    let summary = report.summary.get(index)?;
    let (sensor, option) = option_of(&report.input, summary.option)?;
    Some(RankRow {
        place: index + 1,
        sensor: sensor_name(sensor),
        beam: beam_name(option, say),
        price: sensor.price.as_ref().map(|money| price(money, say)),
        best_at: summary.best_at,
        serves: summary.serves,
        score: say.number(100.0 * summary.mean_score, 0),
        share: summary.mean_score,
    })
}

fn spot_row(report: &Comparison, picture: &SpotPicture, say: Wording<'_>) -> Option<SpotRow> {
    let spot = report.input.spots.get(picture.spot)?;
    let best = picture.findings.first()?;
    let (sensor, option) = option_of(&report.input, best.option)?;
    let usable = best.failures.is_empty();
    Some(SpotRow {
        name: clean(&spot.display_name, MAX_NAME),
        lake: clean(&spot.lake, MAX_NAME),
        depth: say.text(spot.depth),
        sensor: if usable { sensor_name(sensor) } else { say.word("no-option") },
        beam: if usable { beam_name(option, say) } else { String::new() },
        start: if usable { super::gauge::dial_text(sensor, best.gains.working, say) } else { "–".to_owned() },
        limit: best.gains.clear.filter(|_| usable).map(|g| super::gauge::limit_text(sensor, g, say)),
        caution: caution(best, say),
    })
}

/// The first thing to beware of at a spot.
fn caution(best: &Finding, say: Wording<'_>) -> String {
    let first = best.failures.first().map(|reason| say.sentence(&reason.sentence()));
    first.or_else(|| best.notices.first().map(|reason| say.sentence(&reason.sentence()))).unwrap_or_default()
}

/// `129.00 USD`.
pub(super) fn price(money: &domain::Money, say: Wording<'_>) -> String {
    say.money(money.units, i64::from(money.nanos), &money.currency)
}
