//! The page of one spot.

use acoustics::units::Db;
use planning::domain::selection::{Band, Finding};
use planning::domain::{BottomClass, CanopyDensity, ReliefKind, Spot};
use serde::Serialize;

use super::drawing::{Plan, Side, plan, side};
use super::gauge::{Gauge, dial_text, gauge, limit_text};
use super::{Comparison, MAX_NAME, SpotPicture, beam_name, number, option_of, sensor_name};
use crate::clean::clean;
use crate::length::Lengths;

#[derive(Debug, Serialize)]
pub(super) struct SpotView {
    name: String,
    lake: String,
    facts: Vec<String>,
    best: String,
    usable: bool,
    /// Why the best is the best, or why nothing can be used.
    verdict: String,
    side: Option<Side>,
    plan: Option<Plan>,
    bars: Vec<Bar>,
    gauge: Option<Gauge>,
    options: Vec<OptionRow>,
    notices: Vec<String>,
    assumptions: Vec<String>,
}

/// One criterion as a bar.
#[derive(Debug, Serialize)]
struct Bar {
    title: &'static str,
    /// Desirability, 0 to 1.
    share: f64,
    figure: String,
    /// 5 % to 95 % of the figure, when the run was drawn.
    band: Option<String>,
}

#[derive(Debug, Serialize)]
struct OptionRow {
    rank: u32,
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

pub(super) fn view(report: &Comparison, picture: &SpotPicture, lengths: Lengths) -> Option<SpotView> {
    let spot = report.input.spots.get(picture.spot)?;
    let best = picture.findings.first()?;
    let (sensor, option) = option_of(&report.input, best.option)?;
    let usable = best.failures.is_empty();
    Some(SpotView {
        name: clean(&spot.display_name, MAX_NAME),
        lake: clean(&spot.lake, MAX_NAME),
        facts: facts(spot, lengths),
        best: format!("{} ({})", sensor_name(sensor), beam_name(option)),
        usable,
        verdict: verdict(report, picture, spot, lengths),
        side: picture.picture.as_ref().map(|p| side(p, lengths)),
        plan: picture.picture.as_ref().map(|p| plan(p, lengths)),
        bars: if usable { bars(best, lengths) } else { Vec::new() },
        gauge: usable.then(|| gauge(sensor, &best.gains)),
        options: picture.findings.iter().filter_map(|f| row(report, f, lengths)).collect(),
        notices: best.notices.iter().map(planning::domain::selection::Notice::sentence).collect(),
        assumptions: best.assumptions.iter().map(|a| sentence(&clean(&a.text, 300))).collect(),
    })
}

/// A clause as a sentence of its own.
fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).chain((!clause.ends_with('.')).then_some('.')).collect()
}

fn facts(spot: &Spot, lengths: Lengths) -> Vec<String> {
    let mut facts = vec![
        format!("depth {}", lengths.both(spot.depth)),
        format!("bottom: {}", bottom_name(spot.bottom)),
        format!("lure {} over the bottom", lengths.text(spot.lure_height)),
        format!("fish between {} and {}", lengths.text(spot.fish_layer.top), lengths.text(spot.fish_layer.bottom)),
    ];
    if spot.slope.get() > 0.0 {
        facts.push(format!("slope {}°", number(spot.slope.to_degrees(), 0)));
    }
    for relief in &spot.relief {
        let what = match relief.kind {
            ReliefKind::Boulder => "boulder",
            ReliefKind::Log => "log",
        };
        facts.push(format!("{what} {} high, {} off", lengths.text(relief.height), lengths.text(relief.offset)));
    }
    if let Some(canopy) = spot.canopy {
        let density = match canopy.density {
            CanopyDensity::Sparse => "sparse",
            CanopyDensity::Moderate => "moderate",
            CanopyDensity::Dense => "dense",
        };
        facts.push(format!("{density} plants {} high", lengths.text(canopy.height)));
    }
    if let Some(ice) = spot.ice_thickness {
        facts.push(format!("ice reported {}", lengths.both(ice)));
    }
    facts
}

const fn bottom_name(class: BottomClass) -> &'static str {
    match class {
        BottomClass::OrganicOoze => "organic ooze",
        BottomClass::SoftMud => "soft mud",
        BottomClass::Clay => "clay",
        BottomClass::Silt => "silt",
        BottomClass::FineSand => "fine sand",
        BottomClass::MediumSand => "medium sand",
        BottomClass::CoarseSand => "coarse sand",
        BottomClass::Gravel => "gravel",
        BottomClass::Cobble => "cobble",
        BottomClass::Rock => "rock",
    }
}

/// A sentence on what decided.
fn verdict(report: &Comparison, picture: &SpotPicture, spot: &Spot, lengths: Lengths) -> String {
    let Some(best) = picture.findings.first() else { return String::new() };
    if let Some(failure) = best.failures.first() {
        return format!("None of the options can be used here. The nearest to it: {}", failure.sentence());
    }
    let (d, c) = (best.desirability, best.criteria);
    let strengths = [
        (d.coverage, format!("shows fish within {} of the hole", lengths.text(c.coverage_radius))),
        (d.clutter, format!("shows the lure down to {} over the bottom", lengths.text(c.shadow_height))),
        (d.resolution, format!("keeps the view at the lure to {} across", lengths.text(c.watch_footprint))),
    ];
    let weakest = strengths.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let strongest = strengths.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(strong), Some(weak)) = (strongest, weakest) else { return String::new() };
    let rival = picture
        .findings
        .get(1)
        .filter(|f| f.failures.is_empty())
        .and_then(|f| Some((f, option_of(&report.input, f.option)?)))
        .map_or_else(String::new, |(f, (sensor, option))| {
            format!(
                " {} ({}) comes next with {} points.",
                sensor_name(sensor),
                beam_name(option),
                number(100.0 * f.score, 0)
            )
        });
    let seen = if c.shadow_height.get() > spot.lure_height.get() {
        " The lure must be lifted over that to be seen."
    } else {
        ""
    };
    if strong.1 == weak.1 {
        format!("It {}.{seen}{rival}", strong.1)
    } else {
        format!("It {}; its weakest point is that it {}.{seen}{rival}", strong.1, weak.1)
    }
}

fn bars(best: &Finding, lengths: Lengths) -> Vec<Bar> {
    let (d, c, u) = (best.desirability, best.criteria, best.uncertainty.as_ref());
    let metres = |b: Band| {
        let m = acoustics::units::Metres::new;
        format!("{} to {}", lengths.text(m(b.low)), lengths.text(m(b.high)))
    };
    let decibels = |b: Band| format!("{} to {} dB", number(b.low, 0), number(b.high, 0));
    let mut bars = vec![
        Bar {
            title: "Coverage: radius in which fish show",
            share: d.coverage,
            figure: lengths.text(c.coverage_radius),
            band: u.map(|u| metres(u.coverage_radius_m)),
        },
        Bar {
            title: c
                .cover_ratio
                .map_or("Clutter: hidden height at the bottom", |_| "Clutter: hidden height, and lure over plants"),
            share: d.clutter,
            figure: c.cover_ratio.map_or_else(
                || lengths.text(c.shadow_height),
                |ratio| format!("{}, {} dB", lengths.text(c.shadow_height), number(ratio.get(), 0)),
            ),
            band: u.map(|u| metres(u.shadow_height_m)),
        },
        Bar {
            title: "Resolution: width of the view at the lure",
            share: d.resolution,
            figure: lengths.text(c.watch_footprint),
            band: u.map(|u| metres(u.watch_footprint_m)),
        },
    ];
    if let Some(headroom) = c.headroom {
        bars.push(Bar {
            title: "Company: gain left before neighbours show",
            share: d.interference,
            figure: format!("{} dB", number(headroom.get(), 0)),
            band: u.and_then(|u| u.headroom_db).map(decibels),
        });
    }
    bars
}

fn row(report: &Comparison, finding: &Finding, lengths: Lengths) -> Option<OptionRow> {
    let (sensor, option) = option_of(&report.input, finding.option)?;
    let c = finding.criteria;
    let usable = finding.failures.is_empty();
    Some(OptionRow {
        rank: finding.rank,
        sensor: sensor_name(sensor),
        beam: beam_name(option),
        score: number(100.0 * finding.score, 0),
        share: finding.score,
        coverage: lengths.text(c.coverage_radius),
        watch: lengths.text(c.watch_footprint),
        shadow: lengths.text(c.shadow_height),
        cover: c.cover_ratio.map(|r: Db| format!("{} dB", number(r.get(), 0))),
        start: if usable { dial_text(sensor, finding.gains.working) } else { "–".to_owned() },
        limit: finding.gains.clear.map(|g| limit_text(sensor, g)),
        first: finding
            .uncertainty
            .as_ref()
            .and_then(|u| u.rank_acceptability.first())
            .map(|share| format!("{} %", number(100.0 * share, 0))),
        failure: finding.failures.first().map(planning::domain::selection::Failure::sentence),
    })
}
