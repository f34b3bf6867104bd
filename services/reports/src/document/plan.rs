//! A fleet plan: what to buy, who gets what on which day, and a card for each booking.

use jiff::civil::Date;
use proto::v1::{FleetAssignment, FleetPlan, GivenUnit, Purchase, SetUpCard};
use schemars::JsonSchema;
use serde::Serialize;

use super::told::{MAX_NAME, Mark, money, option_name, tell, told};
use crate::clean::clean;
use crate::wording::Wording;

/// Days in one strip of the calendar.
const STRIP_DAYS: i32 = 31;
/// Bookings in one strip of the calendar.
const STRIP_ROWS: usize = 30;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct View {
    /// How many bookings get their units.
    met: String,
    cost: String,
    proof: String,
    score: String,
    purchases: Vec<PurchaseRow>,
    unmet: Vec<UnmetRow>,
    remarks: Vec<String>,
    /// What is different from the plan that was kept; none where none was.
    changes: Option<Changes>,
    /// Peak use of each sensor.
    peaks: Vec<Peak>,
    assignments: Vec<AssignmentRow>,
    calendar: Vec<Strip>,
    cards: Vec<CardView>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Changes {
    /// Which plan was kept, and from which day on is planned.
    kept: String,
    /// What customers have to be told.
    customers: Vec<String>,
    /// What those who hand out have to know.
    desk: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct PurchaseRow {
    sensor: String,
    count: u32,
    price: String,
    cost: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct UnmetRow {
    booking: String,
    text: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Peak {
    sensor: String,
    used: u32,
    available: u32,
}

#[derive(Debug, Serialize, JsonSchema)]
struct AssignmentRow {
    booking: String,
    days: String,
    units: u32,
    /// Which ones, and how many are to be bought.
    which: String,
    option: String,
    score: String,
    headroom: String,
}

/// Some bookings over some days.
#[derive(Debug, Serialize, JsonSchema)]
struct Strip {
    title: String,
    days: i32,
    ticks: Vec<Mark>,
    rows: Vec<StripRow>,
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct StripRow {
    name: String,
    label: String,
    /// Days from the strip's first one, the end excluded.
    from: i32,
    to: i32,
}

#[derive(Debug, Serialize, JsonSchema)]
struct CardView {
    booking: String,
    days: String,
    place: String,
    option: String,
    units: u32,
    /// Which ones, and how many are to be bought.
    which: String,
    start: String,
    highest: Option<String>,
    spacing: Option<String>,
    hang: String,
    /// How high over the bottom the lure hangs.
    lure: String,
    steps: Vec<String>,
}

pub(super) fn view(plan: &FleetPlan, say: Wording<'_>) -> View {
    let (met, all) = (plan.assignments.len(), plan.assignments.len() + plan.unmet.len());
    let anglers: u32 = plan.assignments.iter().map(|one| one.units).sum();
    View {
        met: say
            .say("plan-served", [("met", met.to_string()), ("all", all.to_string()), ("anglers", anglers.to_string())]),
        cost: money(plan.cost.as_ref(), say),
        proof: proof(plan, say),
        score: say.number(100.0 * plan.mean_score, 0),
        purchases: plan.purchases.iter().map(|one| purchase(one, say)).collect(),
        unmet: plan
            .unmet
            .iter()
            .map(|one| UnmetRow {
                booking: clean(&one.booking_display_name, MAX_NAME),
                text: tell(&one.text_sentences, say).join(" "),
            })
            .collect(),
        remarks: tell(&plan.remark_sentences, say),
        changes: changes(plan, say),
        peaks: peaks(plan),
        assignments: in_order(plan).map(|one| assignment(one, say)).collect(),
        calendar: calendar(plan, say),
        cards: plan.cards.iter().map(|card| card_view(card, say)).collect(),
    }
}

/// What is different from the plan that was kept.
fn changes(plan: &FleetPlan, say: Wording<'_>) -> Option<Changes> {
    let spec = plan.spec.as_ref().filter(|spec| !spec.keep.is_empty())?;
    let kept = [("plan", clean(&spec.keep, MAX_NAME)), ("day", clean(&spec.from_day, MAX_NAME))];
    let of = |for_customer: bool| {
        let own = plan.changes.iter().filter(move |change| change.for_customer == for_customer);
        own.map(|change| change.text_sentence.as_ref().map(|sentence| told(sentence, say)).unwrap_or_default())
            .collect()
    };
    Some(Changes {
        kept: say.say(if spec.from_day.is_empty() { "changes-kept" } else { "changes-kept-from" }, kept),
        customers: of(true),
        desk: of(false),
    })
}

/// Who gets what, by the first day.
fn in_order(plan: &FleetPlan) -> impl Iterator<Item = &FleetAssignment> {
    let mut all: Vec<&FleetAssignment> = plan.assignments.iter().collect();
    all.sort_by_key(|one| (&one.first_day, &one.booking_display_name));
    all.into_iter()
}

/// A day, or the first and the last.
fn days(first: &str, last: &str, say: Wording<'_>) -> String {
    if first == last { first.to_owned() } else { say.span(first.to_owned(), last.to_owned()) }
}

/// The names of units, and how many are to be bought.
fn which(given: &[GivenUnit], units: u32, say: Wording<'_>) -> String {
    let mut names: Vec<String> = given.iter().map(|unit| clean(&unit.display_name, MAX_NAME)).collect();
    let to_buy = usize::try_from(units).unwrap_or(usize::MAX).saturating_sub(names.len());
    if to_buy > 0 {
        names.push(say.count("to-buy", to_buy));
    }
    names.join(", ")
}

/// What was proven, in a sentence.
fn proof(plan: &FleetPlan, say: Wording<'_>) -> String {
    let cost = if plan.cost_is_proven {
        say.word("proof-cost")
    } else {
        let gap = format!("{} %", say.number(100.0 * plan.gap, 1));
        say.say("proof-cost-within", [("least", money(plan.least_cost.as_ref(), say)), ("gap", gap)])
    };
    let score = say.word(if plan.score_is_proven { "proof-score" } else { "proof-score-open" });
    format!("{cost} {score}")
}

fn purchase(purchase: &Purchase, say: Wording<'_>) -> PurchaseRow {
    PurchaseRow {
        sensor: clean(&purchase.sensor_display_name, MAX_NAME),
        count: purchase.count,
        price: money(purchase.unit_price.as_ref(), say),
        cost: money(purchase.cost.as_ref(), say),
    }
}

/// The day on which most units of each sensor are out.
fn peaks(plan: &FleetPlan) -> Vec<Peak> {
    let mut peaks: Vec<(&str, Peak)> = Vec::new();
    for day in &plan.days {
        let name = plan.assignments.iter().find(|one| sensor_of(&one.option) == day.sensor);
        match peaks.iter_mut().find(|(sensor, _)| *sensor == day.sensor) {
            Some((_, peak)) => {
                peak.used = peak.used.max(day.used);
                peak.available = peak.available.max(day.available);
            }
            None => peaks.push((
                &day.sensor,
                Peak {
                    sensor: name
                        .map_or_else(|| clean(&day.sensor, MAX_NAME), |one| clean(&one.sensor_display_name, MAX_NAME)),
                    used: day.used,
                    available: day.available,
                },
            )),
        }
    }
    peaks.into_iter().map(|(_, peak)| peak).collect()
}

/// `sensors/a` of `sensors/a/options/b`.
fn sensor_of(option: &str) -> &str {
    option.split_once("/options/").map_or(option, |(sensor, _)| sensor)
}

fn assignment(one: &FleetAssignment, say: Wording<'_>) -> AssignmentRow {
    AssignmentRow {
        booking: clean(&one.booking_display_name, MAX_NAME),
        days: days(&one.first_day, &one.last_day, say),
        units: one.units,
        which: which(&one.given, one.units, say),
        option: option_name(&one.sensor_display_name, &one.beam, say),
        score: say.number(100.0 * one.score, 0),
        headroom: one.headroom_db.map_or_else(|| "–".to_owned(), |headroom| say.db(headroom, 0)),
    }
}

/// Bookings as bars over the days, cut into strips that fit a page.
fn calendar(plan: &FleetPlan, say: Wording<'_>) -> Vec<Strip> {
    let mut bars: Vec<(Date, Date, &FleetAssignment)> = plan
        .assignments
        .iter()
        .filter_map(|one| Some((one.first_day.parse().ok()?, one.last_day.parse().ok()?, one)))
        .collect();
    bars.sort_by(|a, b| {
        (a.0, a.1).cmp(&(b.0, b.1)).then_with(|| a.2.booking_display_name.cmp(&b.2.booking_display_name))
    });
    let (Some(first), Some(last)) = (bars.iter().map(|bar| bar.0).min(), bars.iter().map(|bar| bar.1).max()) else {
        return Vec::new();
    };
    let span = days_between(first, last) + 1;
    let mut strips = Vec::new();
    for start in (0..span).step_by(usize::try_from(STRIP_DAYS).unwrap_or(1)) {
        let days = STRIP_DAYS.min(span - start);
        let rows: Vec<StripRow> = bars
            .iter()
            .filter_map(|(from, to, one)| {
                let (from, to) = (days_between(first, *from) - start, days_between(first, *to) + 1 - start);
                (from < days && to > 0).then(|| StripRow {
                    name: clean(&one.booking_display_name, MAX_NAME),
                    label: format!("{} × {}", one.units, clean(&one.sensor_display_name, MAX_NAME)),
                    from: from.max(0),
                    to: to.min(days),
                })
            })
            .collect();
        strips.extend(pages(rows, first, start, days, say));
    }
    strips
}

/// One strip a page of rows.
fn pages(mut rows: Vec<StripRow>, first: Date, start: i32, days: i32, say: Wording<'_>) -> Vec<Strip> {
    let day = |index: i32| first.checked_add(jiff::Span::new().days(start + index)).unwrap_or(first);
    let title = say.span(day(0).to_string(), day(days - 1).to_string());
    let mut strips = Vec::new();
    while !rows.is_empty() {
        let rest = rows.split_off(rows.len().min(STRIP_ROWS));
        let step = if days > 16 { 2 } else { 1 };
        let mark = |index: i32| Mark { at: f64::from(index), label: day(index).day().to_string() };
        strips.push(Strip {
            title: title.clone(),
            days,
            ticks: (0..days).step_by(step).map(mark).collect(),
            alt: say.say("alt-calendar", [("days", title.clone()), ("bookings", say.count("bookings", rows.len()))]),
            rows,
        });
        rows = rest;
    }
    strips
}

fn days_between(from: Date, to: Date) -> i32 {
    (to - from).get_days()
}

fn card_view(card: &SetUpCard, say: Wording<'_>) -> CardView {
    CardView {
        booking: clean(&card.booking_display_name, MAX_NAME),
        place: clean(&card.place, 2 * MAX_NAME),
        option: option_name(&card.sensor_display_name, &card.beam, say),
        days: days(&card.first_day, &card.last_day, say),
        units: card.units,
        which: which(&card.given, card.units, say),
        start: card.start_sentence.as_ref().map(|sentence| told(sentence, say)).unwrap_or_default(),
        highest: card.highest_sentence.as_ref().map(|sentence| told(sentence, say)),
        spacing: card.hole_spacing_m.map(|spacing| say.metres(spacing)),
        // As the steps say it, which are told in centimetres.
        hang: say.metres((100.0 * card.hang_depth_m).round() / 100.0),
        lure: say.metres(card.lure_height_m),
        steps: tell(&card.step_sentences, say),
    }
}
