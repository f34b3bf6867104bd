//! The page of one spot.

use acoustics::units::{Angle, Db};
use domain::selection::{Band, Finding};
use domain::{BottomClass, CanopyDensity, Provenance, ReliefKind, Spot};
use planning::LeanCost;
use planning::recommend::{PlaceAdvice, watch_out};
use schemars::JsonSchema;
use serde::Serialize;

use super::drawing::{Plan, Side, plan, side};
use super::gauge::{Gauge, gauge, highest_text, start_text};
use super::names::{MAX_NAME, beam_name, full_name, option_of, purpose, sensor_name};
use super::subject::{Comparison, SpotPicture, Told};
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct SpotView {
    name: String,
    lake: String,
    facts: Vec<String>,
    /// The option that the page is about: the advised sensor as it is set here, or the best of the spot.
    best: String,
    usable: bool,
    /// Why it is used here and what comes next, or why it cannot be used.
    verdict: String,
    side: Option<Side>,
    plan: Option<Plan>,
    bars: Vec<Bar>,
    gauge: Option<Gauge>,
    /// What a lean of the transducer costs here; none where nothing can be used.
    lean: Option<String>,
    /// The best options by rank, and the one that the page is about wherever it stands.
    options: Vec<OptionRow>,
    /// Options that have no row.
    options_more: usize,
    /// What the points of the rows are for, where the advice counts several uses.
    scored_for: Option<String>,
    notices: Vec<String>,
    assumptions: Vec<String>,
}

/// One criterion as a bar.
#[derive(Debug, Serialize, JsonSchema)]
struct Bar {
    title: String,
    /// Desirability, 0 to 1.
    share: f64,
    figure: String,
    /// 5 % to 95 % of the figure, when the run was drawn.
    band: Option<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct OptionRow {
    rank: u32,
    /// Whether the page is about it.
    told: bool,
    sensor: String,
    beam: String,
    score: String,
    share: f64,
    coverage: String,
    watch: String,
    shadow: String,
    cover: Option<String>,
    start: String,
    limit: Option<String>,
    /// Share of draws in which it came first, per cent.
    first: Option<String>,
    failure: Option<String>,
}

pub(super) fn view(report: &Comparison, picture: &SpotPicture, say: Wording<'_>) -> Option<SpotView> {
    let spot = report.input.spots.get(picture.spot)?;
    let told = picture.told.as_ref()?;
    let best = &told.finding;
    let (sensor, option) = option_of(&report.input, best.option)?;
    let usable = best.failures.is_empty() && !told.nowhere;
    // What a lean takes from a score of nothing is nothing.
    let works = usable && told.advised.as_ref().is_none_or(|advised| advised.hindrances.is_empty());
    let options = rows(report, (picture, told), say);
    Some(SpotView {
        name: clean(&spot.display_name, MAX_NAME),
        lake: clean(&spot.lake, MAX_NAME),
        facts: facts(spot, report.input.settings.lean.angle, say),
        best: full_name((sensor, option), say),
        usable,
        verdict: verdict(report, (picture, told), spot, say),
        side: picture.picture.as_ref().map(|p| side(p, sensor, say)),
        plan: picture.picture.as_ref().map(|p| plan(p, say)),
        bars: if usable { bars(best, say) } else { Vec::new() },
        gauge: usable.then(|| gauge(sensor, &best.gains, say)),
        lean: picture.lean.filter(|_| works).map(|cost| lean(&cost, say)),
        options_more: picture.findings.len().saturating_sub(options.len()),
        options,
        scored_for: scored_apart(report)
            .then(|| say.say("scored-for", [("purpose", purpose(&report.input.settings.goal, say))])),
        notices: best.notices.iter().map(|reason| say.sentence(&reason.sentence())).collect(),
        assumptions: best.assumptions.iter().map(|a| sentence(&say.sentence(&a.sentence))).collect(),
    })
}

/// A clause as a sentence of its own.
pub(super) fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).chain((!clause.ends_with('.')).then_some('.')).collect()
}

fn facts(spot: &Spot, lean: Angle, say: Wording<'_>) -> Vec<String> {
    let layer = spot.fish_layer;
    let mut facts = vec![
        say.say("fact-depth", [("depth", say.both(spot.depth))]),
        if spot.bottom_from == Provenance::Assumed {
            say.word("fact-bottom-unknown").to_owned()
        } else {
            say.say("fact-bottom", [("bottom", say.word(bottom_key(spot.bottom)))])
        },
        say.say("fact-lure", [("height", say.text(spot.lure_height))]),
        say.say("fact-fish", [("top", say.text(layer.top)), ("bottom", say.text(layer.bottom))]),
    ];
    if spot.slope.get() > 0.0 {
        facts.push(say.say("fact-slope", [("angle", say.number(spot.slope.to_degrees(), 0))]));
    }
    for relief in &spot.relief {
        let key = match relief.kind {
            ReliefKind::Boulder => "fact-boulder",
            ReliefKind::Log => "fact-log",
        };
        facts.push(say.say(key, [("height", say.text(relief.height)), ("offset", say.text(relief.offset))]));
    }
    if let Some(canopy) = spot.canopy {
        let key = match canopy.density {
            CanopyDensity::Sparse => "fact-plants-sparse",
            CanopyDensity::Moderate => "fact-plants-moderate",
            CanopyDensity::Dense => "fact-plants-dense",
        };
        facts.push(say.say(key, [("height", say.text(canopy.height))]));
    }
    if let Some(ice) = spot.ice_thickness {
        facts.push(say.say("fact-ice", [("thickness", say.both(ice))]));
    }
    if lean.get() > 0.0 {
        facts.push(say.say("fact-lean", [("angle", say.number(lean.to_degrees(), 0))]));
    }
    facts
}

const fn bottom_key(class: BottomClass) -> &'static str {
    match class {
        BottomClass::OrganicOoze => "bottom-organic-ooze",
        BottomClass::SoftMud => "bottom-soft-mud",
        BottomClass::Clay => "bottom-clay",
        BottomClass::Silt => "bottom-silt",
        BottomClass::FineSand => "bottom-fine-sand",
        BottomClass::MediumSand => "bottom-medium-sand",
        BottomClass::CoarseSand => "bottom-coarse-sand",
        BottomClass::Gravel => "bottom-gravel",
        BottomClass::Cobble => "bottom-cobble",
        BottomClass::Rock => "bottom-rock",
    }
}

/// What a lean of 5° costs here.
fn lean(cost: &LeanCost, say: Wording<'_>) -> String {
    let [before, then] = cost.scores.map(|score| say.number(100.0 * score, 0));
    let more = ("more", say.db(cost.more.get(), 0));
    if cost.lost {
        return say.say("lean-loses", [more]);
    }
    say.say("lean-costs", [more, ("hidden", say.text(cost.hidden)), ("before", before), ("then", then)])
}

/// A few sentences on what decided.
fn verdict(report: &Comparison, (picture, told): (&SpotPicture, &Told), spot: &Spot, say: Wording<'_>) -> String {
    let best = &told.finding;
    if let Some(advised) = told.advised.as_ref().filter(|advised| !advised.hindrances.is_empty()) {
        let reasons = watch_out(&spot.display_name, advised);
        return reasons
            .iter()
            .take(1)
            .map(|reason| say.sentence(reason))
            .chain(rival(report, picture, told, say))
            .collect::<Vec<_>>()
            .join(" ");
    }
    if let Some(reason) = best.failures.first() {
        return say.say("verdict-none", [("reason", say.sentence(&reason.sentence()))]);
    }
    if let Some(option) = option_of(&report.input, best.option).filter(|_| told.nowhere) {
        return say.say("verdict-nowhere", [("name", full_name(option, say))]);
    }
    let (d, c) = (best.desirability, best.criteria);
    // A strength is a sentence of its own, a weakness the end of one: word order is the language's affair.
    let points = [
        (d.coverage, "coverage", say.text(c.coverage_radius)),
        (d.clutter, "clutter", say.text(c.dead_zone_height)),
        (d.resolution, "resolution", say.text(c.watch_footprint)),
    ];
    let weakest = points.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let strongest = points.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(strong), Some(weak)) = (strongest, weakest) else { return String::new() };
    let kind = |kind: &str, point: &(f64, &str, String)| {
        say.say(&format!("verdict-{kind}-{}", point.1), [("length", point.2.clone())])
    };
    let mut sentences = vec![kind("strong", strong)];
    if strong.1 != weak.1 {
        sentences.push(kind("weak", weak));
    }
    if c.dead_zone_height.get() > spot.lure_height.get() {
        sentences.push(say.word("verdict-lift"));
    }
    let set_for = told.advised.as_ref().zip(report.advice.as_ref()).filter(|(own, advice)| {
        let here = |place: &&PlaceAdvice| place.place == own.place;
        advice.answer.places.iter().filter(here).any(|other| other.finding.option != own.finding.option)
    });
    if let Some(one) = set_for.and_then(|(advised, advice)| advice.answer.uses.get(advised.use_index)) {
        sentences.push(say.say("verdict-set-for", [("purpose", purpose(&one.goal, say))]));
    }
    sentences.extend(rival(report, picture, told, say));
    sentences.join(" ")
}

/// What comes next at this spot, or what would come first if this spot were all there is.
fn rival(report: &Comparison, picture: &SpotPicture, told: &Told, say: Wording<'_>) -> Option<String> {
    // Both at their best for the goal of the run: the page may show the sensor as it is set for another use.
    let sensor = |finding: &Finding| report.input.options.get(finding.option).map(|option| option.sensor);
    let own = picture.findings.iter().find(|finding| sensor(finding) == sensor(&told.finding))?;
    let apart = |finding: &&Finding| match told.advised {
        Some(_) => sensor(finding) != sensor(own),
        None => finding.option != own.option,
    };
    let other = picture.findings.iter().find(|finding| apart(finding) && finding.failures.is_empty())?;
    let name = ("name", full_name(option_of(&report.input, other.option)?, say));
    let points = |finding: &Finding| say.number(100.0 * finding.score, 0);
    // As many points are no reason for a sentence.
    if points(own) == points(other) {
        return None;
    }
    if own.rank < other.rank {
        return Some(say.say("verdict-next", [name, ("points", points(other))]));
    }
    let purpose = ("purpose", purpose(&report.input.settings.goal, say));
    Some(say.say("verdict-alone", [name, ("points", points(other)), ("own", points(own)), purpose]))
}

fn bars(best: &Finding, say: Wording<'_>) -> Vec<Bar> {
    let (d, c, u) = (best.desirability, best.criteria, best.uncertainty.as_ref());
    let metres = |b: Band| say.span(say.metres(b.low), say.metres(b.high));
    let bar =
        |key: &str, share: f64, figure: String, band: Option<String>| Bar { title: say.word(key), share, figure, band };
    let shadow = say.text(c.dead_zone_height);
    let (clutter, hidden) = match c.lure_over_vegetation {
        None => ("bar-clutter", shadow),
        Some(ratio) => ("bar-clutter-plants", format!("{shadow}; {}", say.db(ratio.get(), 0))),
    };
    let mut bars = vec![
        bar("bar-coverage", d.coverage, say.text(c.coverage_radius), u.map(|u| metres(u.coverage_radius_m))),
        bar(clutter, d.clutter, hidden, u.map(|u| metres(u.dead_zone_height_m))),
        bar("bar-resolution", d.resolution, say.text(c.watch_footprint), u.map(|u| metres(u.watch_footprint_m))),
    ];
    if let Some(headroom) = c.headroom {
        let decibels = |b: Band| say.span(say.number(b.low, 0), say.db(b.high, 0));
        let band = u.and_then(|u| u.headroom_db).map(decibels);
        bars.push(bar("bar-company", d.interference, say.db(headroom.get(), 0), band));
    }
    bars
}

/// So many of the best options have a row; what the page is about has one wherever it stands.
const BEST_OPTIONS: usize = 5;

/// Whether the points of a run's findings are for something else than what the advice counts.
fn scored_apart(report: &Comparison) -> bool {
    let uses = report.advice.as_ref().map_or(&[] as &[_], |advice| &advice.answer.uses);
    uses.iter().any(|one| one.goal != report.input.settings.goal)
}

fn rows(report: &Comparison, (picture, told): (&SpotPicture, &Told), say: Wording<'_>) -> Vec<OptionRow> {
    let shown = picture.findings.iter().enumerate();
    shown
        .filter(|(at, finding)| *at < BEST_OPTIONS || finding.option == told.finding.option)
        .filter_map(|(_, finding)| {
            let is_told = finding.option == told.finding.option;
            // Gains as they are advised: beside most neighbours, where none holds beside all.
            let gains = if is_told { told.finding.gains } else { finding.gains };
            row(report, &Finding { gains, ..finding.clone() }, is_told, say)
        })
        .collect()
}

fn row(report: &Comparison, finding: &Finding, told: bool, say: Wording<'_>) -> Option<OptionRow> {
    let (sensor, option) = option_of(&report.input, finding.option)?;
    let c = finding.criteria;
    let usable = finding.failures.is_empty();
    Some(OptionRow {
        rank: finding.rank,
        told,
        sensor: sensor_name(sensor),
        beam: beam_name(option, say),
        score: say.number(100.0 * finding.score, 0),
        share: finding.score,
        coverage: say.text(c.coverage_radius),
        watch: say.text(c.watch_footprint),
        shadow: say.text(c.dead_zone_height),
        cover: c.lure_over_vegetation.map(|r: Db| say.db(r.get(), 0)),
        start: if usable { start_text(sensor, &finding.gains, say) } else { "–".to_owned() },
        limit: finding.gains.clear.map(|_| highest_text(sensor, &finding.gains, say)),
        first: finding.uncertainty.as_ref().and_then(|u| u.rank_acceptability.first()).map(|share| say.percent(*share)),
        failure: finding.failures.first().map(|reason| say.sentence(&reason.sentence())),
    })
}
