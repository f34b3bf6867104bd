//! The advice: which one sensor, how sure, how it is set at each place, and price against value.

use domain::selection::{Notice, RunInput};
use domain::setting::{Start, setting};
use domain::{Sentence, Spot};
use planning::recommend::{CandidateIndex, Firmness, PlaceAdvice, Use, highest, start, watch_out, words};
use schemars::JsonSchema;
use serde::Serialize;

use super::drawing::{Side, side};
use super::front::price;
use super::names::{MAX_NAME, option_of, purpose, sensor_name};
use super::subject::Advice;
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct AdviceView {
    /// What to do, such as `Take the Birch.`
    headline: String,
    /// Name of the advised sensor; none where none is advised.
    sensor: Option<String>,
    price: Option<String>,
    /// `firm`, `likely` or `toss-up` in the reader's language; none without draws.
    sure: Option<String>,
    /// How sure in a sentence, then where it works, then what less and more money buys.
    standing: Option<String>,
    works: Vec<String>,
    money: Vec<String>,
    settling: Option<String>,
    notes: Vec<String>,
    /// A row a place and use.
    rows: Vec<SettingRow>,
    /// How to start at every place where it works, where that is the same procedure everywhere; none where a place has a position of its own.
    start_everywhere: Option<String>,
    /// Whether the places have neighbours, so that there is a limit.
    limited: bool,
    /// Whether rows are for several uses.
    several_uses: bool,
    picture: Option<Side>,
    picture_title: String,
    /// Every sensor, best first.
    candidates: Vec<CandidateRow>,
    /// Price against value; none without two prices.
    chart: Option<Chart>,
    /// What was assumed and decides something.
    assumptions: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct SettingRow {
    place: String,
    /// Lake and depth.
    detail: String,
    /// Depth alone, for crowded pages.
    depth: String,
    purpose: String,
    switch: String,
    works: bool,
    start: String,
    highest: String,
    shows: String,
    watch_out: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct CandidateRow {
    sensor: String,
    price: Option<String>,
    /// Points of 100.
    points: String,
    /// Share of the places where it works.
    works: String,
    /// Share of draws in which it is right; none without draws.
    right: Option<String>,
    /// `owned`, `above the money`, or nothing.
    remark: String,
    efficient: bool,
    advised: bool,
}

/// Price against value as numbers.
#[derive(Debug, Serialize, JsonSchema)]
struct Chart {
    dots: Vec<Dot>,
    most_price: f64,
    least_points: f64,
    most_points: f64,
    /// Most that may be spent.
    budget: Option<f64>,
    currency: String,
    /// Points within five of the best that can be had: from, to.
    band: (f64, f64),
}

#[derive(Debug, Serialize, JsonSchema)]
struct Dot {
    /// Its row in the table, from 1.
    number: usize,
    price: f64,
    points: f64,
    name: String,
    efficient: bool,
    advised: bool,
}

/// What stands for the position of a switch that there is none of.
const NO_SWITCH: &str = "–";
/// Rows of a table of candidates.
const MOST_CANDIDATES: usize = 24;

pub(super) fn view(advice: &Advice, say: Wording<'_>) -> AdviceView {
    let (answer, input) = (&advice.answer, &advice.input);
    let decision = &answer.decision;
    let told = words(answer, &advice.choice, input);
    let advised = decision.advice.sensor().and_then(|c| input.sensors.get(c.0));
    let all = |sentences: &[Sentence]| sentences.iter().map(|s| say.sentence(s)).collect();
    let main = advice.most_important();
    let pictured = main.and_then(|main| option_of(input, main.finding.option)).map(|(sensor, _)| sensor);
    let rows = rows(advice, say);
    AdviceView {
        headline: say.sentence(&told.headline),
        sensor: advised.map(sensor_name),
        price: advised
            .filter(|sensor| !advice.choice.owned.contains(&sensor.id))
            .and_then(|sensor| sensor.price.as_ref())
            .map(|money| price(money, say)),
        sure: decision.firmness.as_ref().map(|firmness| say.word(sure_key(firmness))),
        standing: told.standing.as_ref().map(|s| say.sentence(s)),
        works: all(&told.works),
        money: all(&told.money),
        settling: told.settling.as_ref().map(|s| say.sentence(s)),
        notes: all(&told.notes),
        start_everywhere: start_everywhere(advice, &rows, say),
        several_uses: rows.iter().any(|row| !row.purpose.is_empty()),
        rows,
        limited: input.shelter.is_some(),
        picture: advice.picture.as_ref().zip(pictured).map(|(picture, sensor)| side(picture, sensor, say)),
        picture_title: main.and_then(|main| title(input, main)).unwrap_or_default(),
        candidates: decision.order.iter().take(MOST_CANDIDATES).filter_map(|c| candidate(advice, *c, say)).collect(),
        chart: chart(advice),
        assumptions: assumptions(advice, say),
    }
}

const fn sure_key(firmness: &Firmness) -> &'static str {
    match firmness {
        Firmness::Firm => "sure-firm",
        Firmness::Likely => "sure-likely",
        Firmness::TossUp { .. } | Firmness::TooLittleKnown => "sure-toss-up",
    }
}

/// Place and switch position of the picture.
fn title(input: &RunInput, main: &PlaceAdvice) -> Option<String> {
    let spot = input.spots.get(main.place.0)?;
    let (_, option) = option_of(input, main.finding.option)?;
    Some(format!("{} · {}", clean(&spot.display_name, MAX_NAME), clean(&option.display_name, MAX_NAME)))
}

/// A row a place; one for each use only where the switch has to be turned between them.
fn rows(advice: &Advice, say: Wording<'_>) -> Vec<SettingRow> {
    let of_places = advice.answer.places.chunk_by(|a, b| a.place == b.place);
    of_places
        .flat_map(|uses| {
            let alike =
                uses.iter().all(|one| uses.first().is_some_and(|first| first.finding.option == one.finding.option));
            // Of uses that share a position, the one that works least is told.
            let worst = uses.iter().max_by_key(|one| one.hindrances.len());
            let told: Vec<&PlaceAdvice> = if alike { worst.into_iter().collect() } else { uses.iter().collect() };
            told.into_iter().filter_map(move |one| {
                let row = row(advice, one, say)?;
                Some(if alike { SettingRow { purpose: String::new(), ..row } } else { row })
            })
        })
        .collect()
}

/// The procedure to start with, where no position of a dial is known at any place and all places have the same.
fn start_everywhere(advice: &Advice, rows: &[SettingRow], say: Wording<'_>) -> Option<String> {
    let known = advice.answer.places.iter().any(|place| {
        let sensor = option_of(&advice.input, place.finding.option).map(|(sensor, _)| sensor);
        sensor.is_some_and(|sensor| matches!(setting(sensor, &place.finding.gains).start, Start::At(_)))
    });
    let mut starts = rows.iter().filter(|row| row.works).map(|row| &row.start);
    let first = starts.next().filter(|_| !known)?;
    // A sensor with one beam has no switch.
    let switched = rows.iter().any(|row| row.switch != NO_SWITCH);
    let told = if switched { format!("{} {first}", say.word("sheet-switch")) } else { first.clone() };
    starts.all(|start| start == first).then_some(told)
}

fn row(advice: &Advice, place: &PlaceAdvice, say: Wording<'_>) -> Option<SettingRow> {
    let spot = advice.input.spots.get(place.place.0)?;
    let (sensor, option) = option_of(&advice.input, place.finding.option)?;
    let works = place.hindrances.is_empty();
    let set = setting(sensor, &place.finding.gains);
    let radius = place.finding.criteria.coverage_radius;
    let uses = &advice.answer.uses;
    let shared =
        |one: &Use| say.say("share-of", [("what", purpose(&one.goal, say)), ("share", say.percent(one.share))]);
    let purpose =
        uses.get(place.use_index).map(|one| if uses.len() > 1 { shared(one) } else { purpose(&one.goal, say) });
    Some(SettingRow {
        place: clean(&spot.display_name, MAX_NAME),
        detail: detail(spot, say),
        depth: say.text(spot.depth),
        purpose: purpose.unwrap_or_default(),
        switch: if sensor.options.len() > 1 { clean(&option.display_name, MAX_NAME) } else { NO_SWITCH.to_owned() },
        works,
        start: if works { say.sentence(&start(&set.start, &set.highest)) } else { "–".to_owned() },
        highest: if works { say.sentence(&highest(&set.highest)) } else { "–".to_owned() },
        shows: if works { say.say("sheet-shows", [("radius", say.text(radius))]) } else { String::new() },
        watch_out: warning(spot, place, say),
    })
}

fn detail(spot: &Spot, say: Wording<'_>) -> String {
    let depth = say.text(spot.depth);
    if spot.lake.is_empty() { depth } else { format!("{}, {depth}", clean(&spot.lake, MAX_NAME)) }
}

/// The first thing to watch out for; lengths in the reader's unit.
fn warning(spot: &Spot, place: &PlaceAdvice, say: Wording<'_>) -> String {
    let hidden = place.finding.notices.iter().find_map(|notice| match notice {
        Notice::LureInDeadZone { shadow, .. } => Some(*shadow),
        Notice::LureDrownsInCover { .. }
        | Notice::LureNearLobeEdge { .. }
        | Notice::NearField { .. }
        | Notice::NeighboursShow { .. }
        | Notice::NoCoverage => None,
    });
    let first = watch_out(&spot.display_name, place).into_iter().next();
    match (first, hidden) {
        (Some(sentence), Some(height)) if sentence.key == "watch-dead-zone" => {
            say.say("watch-dead-zone", [("height", say.text(height))])
        }
        (Some(sentence), _) => say.sentence(&sentence),
        (None, _) => say.word("watch-nothing"),
    }
}

fn candidate(advice: &Advice, candidate: CandidateIndex, say: Wording<'_>) -> Option<CandidateRow> {
    let decision = &advice.answer.decision;
    let at = candidate.0;
    let sensor = advice.input.sensors.get(at)?;
    let owned = advice.choice.owned.contains(&sensor.id);
    let affordable = *decision.affordable.get(at)?;
    let remark = match (owned, affordable, &sensor.price) {
        (true, _, _) => say.word("candidate-owned"),
        (false, false, None) => say.word("candidate-no-price"),
        (false, false, Some(_)) => say.word("candidate-too-dear"),
        (false, true, _) => String::new(),
    };
    let drawn = advice.answer.draws > 0 && affordable;
    Some(CandidateRow {
        sensor: sensor_name(sensor),
        price: sensor.price.as_ref().map(|money| price(money, say)),
        points: say.number(100.0 * decision.totals.get(at)?.value, 0),
        works: say.percent(decision.totals.get(at)?.works),
        right: drawn.then(|| decision.probability.get(at).map(|p| say.percent(*p))).flatten(),
        remark,
        efficient: *decision.efficient.get(at)?,
        advised: decision.advice.sensor() == Some(candidate),
    })
}

/// Price against value, where at least two sensors have a price.
fn chart(advice: &Advice) -> Option<Chart> {
    let decision = &advice.answer.decision;
    let amount = |units: i64, nanos: i32| lossless(units) + f64::from(nanos) / 1.0e9;
    let dots: Vec<Dot> = advice
        .input
        .sensors
        .iter()
        .enumerate()
        .filter(|(_, sensor)| !advice.choice.owned.contains(&sensor.id))
        .filter_map(|(at, sensor)| {
            let money = sensor.price.as_ref()?;
            Some(Dot {
                number: decision.order.iter().position(|c| c.0 == at)? + 1,
                price: amount(money.units, money.nanos),
                points: 100.0 * decision.totals.get(at)?.value,
                name: sensor_name(sensor),
                efficient: *decision.efficient.get(at)?,
                advised: decision.advice.sensor() == Some(CandidateIndex(at)),
            })
        })
        .collect();
    if dots.len() < 2 {
        return None;
    }
    let fold = |values: &mut dyn Iterator<Item = f64>, from: f64, pick: fn(f64, f64) -> f64| values.fold(from, pick);
    let budget = advice.choice.budget.as_ref().map(|b| amount(b.units, b.nanos));
    let most_price = fold(&mut dots.iter().map(|d| d.price).chain(budget), 0.0, f64::max);
    let lowest = fold(&mut dots.iter().map(|d| d.points), 100.0, f64::min);
    let highest = fold(&mut dots.iter().map(|d| d.points), 0.0, f64::max);
    let best = decision.order.iter().find(|c| decision.affordable.get(c.0) == Some(&true));
    let best = 100.0 * best.and_then(|c| decision.totals.get(c.0)).map_or(0.0, |total| total.value);
    let currency = advice.input.sensors.iter().find_map(|s| s.price.as_ref()).map(|m| clean(&m.currency, 3));
    Some(Chart {
        dots,
        most_price,
        least_points: 10.0 * libm::floor(lowest / 10.0),
        most_points: (10.0 * libm::ceil((highest + 0.001) / 10.0)).min(100.0),
        budget,
        currency: currency.unwrap_or_default(),
        band: (best - 5.0, best),
    })
}

/// Prices are far under what a float holds exactly; what is not is drawn at the edge.
fn lossless(units: i64) -> f64 {
    f64::from(i32::try_from(units).unwrap_or(i32::MAX))
}

/// Assumptions of the advised sensor, each once, in the order of the places.
fn assumptions(advice: &Advice, say: Wording<'_>) -> Vec<String> {
    let mut told: Vec<String> = Vec::new();
    for assumption in advice.answer.places.iter().flat_map(|place| &place.finding.assumptions) {
        if !DECIDING.contains(&&*assumption.field) {
            continue;
        }
        let text = super::spot::sentence(&say.sentence(&assumption.sentence));
        if !told.contains(&text) {
            told.push(text);
        }
    }
    told
}

/// Assumptions that a customer can check or that move a setting.
const DECIDING: [&str; 5] =
    ["threshold_db", "lure_height_m", "fish_layer_top_m", "electrical_power_w", "beamwidth_deg"];
