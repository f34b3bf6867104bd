//! A beam as measured: where the target showed, the fitted pattern beside the stated one, and what the survey cannot tell.

use acoustics::units::Metres;
use planning::survey::{Objection, objections};
use proto::v1::{BeamFit, Estimate, PatternPoint, SurveyOutcome};
use schemars::JsonSchema;
use serde::Serialize;

use super::told::{MAX_NAME, Mark, option_name, tell};
use crate::clean::clean;
use crate::length::ticks;
use crate::wording::Wording;

/// Level under which patterns are not drawn, dB.
const PLOT_FLOOR: f64 = -50.0;
/// Widest angle that is drawn, degrees.
const PLOT_ANGLE: f64 = 60.0;
/// Classes of the least gain at which the target showed.
const CLASSES: usize = 4;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct View {
    facts: Vec<String>,
    verdict: String,
    figures: Vec<Figure>,
    goodness: String,
    map: Map,
    pattern: Pattern,
    cannot_tell: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Figure {
    /// Key of the words.
    key: &'static str,
    value: String,
    interval: String,
    stated: String,
}

/// Section along the line of holes.
#[derive(Debug, Serialize, JsonSchema)]
struct Map {
    half_width: f64,
    depth: f64,
    x_ticks: Vec<Mark>,
    z_ticks: Vec<Mark>,
    cells: Vec<Cell>,
    /// What each class of gain means.
    classes: Vec<String>,
    /// Edges of the main lobe at half power: fitted and stated.
    fitted: Vec<(f64, f64)>,
    axis: Vec<(f64, f64)>,
    stated: Vec<(f64, f64)>,
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Cell {
    x: f64,
    z: f64,
    /// Class of the least gain that showed the target, 0 the lowest; none where no gain that was tried did.
    class: Option<usize>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Pattern {
    angle: f64,
    floor: f64,
    x_ticks: Vec<Mark>,
    y_ticks: Vec<Mark>,
    fitted: Vec<(f64, f64)>,
    stated: Vec<(f64, f64)>,
    alt: String,
}

pub(super) fn view(fit: &BeamFit, say: Wording<'_>) -> View {
    View {
        facts: vec![
            clean(&fit.survey_display_name, MAX_NAME),
            option_name(&fit.sensor_display_name, &fit.beam, say),
            fit.day.clone(),
            say.count("readings", usize::try_from(fit.readings).unwrap_or(0)),
        ],
        verdict: verdict(fit, say),
        figures: figures(fit, say),
        goodness: goodness(fit, say),
        map: map(fit, say),
        pattern: pattern(fit, say),
        cannot_tell: tell(&fit.cannot_tell_sentences, say),
    }
}

/// Full width between the half-power directions of a table, degrees; none where it never falls that far.
fn width(points: &[PatternPoint]) -> Option<f64> {
    let half_power = -3.0;
    points.windows(2).find_map(|pair| match pair {
        [a, b] if a.level_db >= half_power && b.level_db < half_power => {
            let share = (a.level_db - half_power) / (a.level_db - b.level_db);
            Some(2.0 * (a.angle_deg + share * (b.angle_deg - a.angle_deg)))
        }
        _ => None,
    })
}

/// What it comes to, in a few sentences.
fn verdict(fit: &BeamFit, say: Wording<'_>) -> String {
    if contradictory(fit) {
        return say.word("fit-contradictory");
    }
    let degrees = |value: f64| format!("{}°", say.number(value, 1));
    let measured = fit.beamwidth_deg.unwrap_or_default();
    let found = ("width", degrees(measured.value));
    let width = match width(&fit.stated) {
        Some(stated) if stated < measured.low || stated > measured.high => {
            say.say("fit-width-differs", [found, ("stated", degrees(stated))])
        }
        Some(stated) => say.say("fit-width-agrees", [found, ("stated", degrees(stated))]),
        None => say.say("fit-width", [found]),
    };
    let tilt = fit.tilt_deg.unwrap_or_default();
    let leaning = if tilt.low > 0.0 || tilt.high < 0.0 {
        let key = if tilt.value > 0.0 { "fit-leans-positive" } else { "fit-leans-negative" };
        say.say(key, [("tilt", degrees(tilt.value.abs()))])
    } else {
        say.word("fit-hangs-straight")
    };
    let shift = fit.threshold_shift_db.unwrap_or_default();
    let sensitivity = if shift.low > 0.0 {
        say.say("fit-needs-more", [("shift", say.db(shift.value, 0))])
    } else if shift.high < 0.0 {
        say.say("fit-needs-less", [("shift", say.db(-shift.value, 0))])
    } else {
        say.word("fit-as-stated")
    };
    [width, leaning, sensitivity].join(" ")
}

fn figures(fit: &BeamFit, say: Wording<'_>) -> Vec<Figure> {
    let figure = |key, estimate: Estimate, unit: &str, stated: String| Figure {
        key,
        value: format!("{}{unit}", say.number(estimate.value, 1)),
        interval: {
            let ends = say.span(say.number(estimate.low, 1), format!("{}{unit}", say.number(estimate.high, 1)));
            if estimate.at_bound { say.say("interval-open", [("ends", ends)]) } else { ends }
        },
        stated,
    };
    let stated_width = width(&fit.stated).map_or_else(|| "–".to_owned(), |width| format!("{}°", say.number(width, 1)));
    let mut figures = vec![
        figure("beamwidth", fit.beamwidth_deg.unwrap_or_default(), "°", stated_width),
        figure("tilt", fit.tilt_deg.unwrap_or_default(), "°", "0°".to_owned()),
        figure("shift", fit.threshold_shift_db.unwrap_or_default(), " dB", "0 dB".to_owned()),
    ];
    figures.extend(fit.side_level_db.map(|side| {
        let shown = figure("side", side, " dB", "–".to_owned());
        // Bounded from above only: the estimate itself says nothing.
        if side.at_bound {
            Figure { value: say.say("under", [("level", say.db(side.high, 1))]), ..shown }
        } else {
            shown
        }
    }));
    figures
}

/// Whether no such beam gives such readings.
fn contradictory(fit: &BeamFit) -> bool {
    let figures = [fit.beamwidth_deg, fit.tilt_deg, fit.threshold_shift_db];
    objections(fit.p_value, figures.map(|figure| figure.unwrap_or_default().at_bound))
        .contains(&Objection::Contradictory)
}

fn goodness(fit: &BeamFit, say: Wording<'_>) -> String {
    let deviance = ("deviance", say.number(fit.deviance, 0));
    let freedom = ("freedom", fit.degrees_of_freedom.to_string());
    match fit.p_value {
        None => say.say("goodness", [deviance, freedom]),
        Some(p) => {
            let key = if contradictory(fit) { "goodness-bad" } else { "goodness-fair" };
            say.say(key, [deviance, freedom, ("surveys", say.number(100.0 * p, 0))])
        }
    }
}

fn map(fit: &BeamFit, say: Wording<'_>) -> Map {
    let value = |metres: f64| say.value(Metres::new(metres));
    let depth = fit.seen.iter().map(|reading| reading.depth_m).fold(1.0, f64::max);
    let reach = fit.seen.iter().map(|reading| reading.offset_m.abs()).fold(0.5, f64::max);
    let least = least_gains(fit);
    let gains: Vec<f64> = least.iter().filter_map(|(_, _, gain)| *gain).collect();
    let (low, high) = (gains.iter().copied().fold(f64::INFINITY, f64::min), gains.iter().copied().fold(0.0, f64::max));
    let step = ((high - low) / 4.0).max(1e-9);
    let class = |gain: f64| (0..CLASSES).rev().find(|class| gain >= low + step * count(*class)).unwrap_or(0);
    let ray = |degrees: f64| (value(depth * libm::tan(degrees.to_radians())), value(depth));
    let half = 0.5 * fit.beamwidth_deg.unwrap_or_default().value;
    let tilt = fit.tilt_deg.unwrap_or_default().value;
    let edges = |half: f64, tilt: f64| vec![ray(tilt - half), (0.0, 0.0), ray(tilt + half)];
    let half_width = value(reach * 1.1);
    Map {
        half_width,
        depth: value(depth * 1.06),
        x_ticks: ticks(half_width, 3.0)
            .into_iter()
            .flat_map(|t| if t == 0.0 { vec![t] } else { vec![-t, t] })
            .map(|at| Mark { at, label: say.number(at, 1) })
            .collect(),
        z_ticks: ticks(value(depth), 5.0).into_iter().map(|at| Mark { at, label: say.number(at, 1) }).collect(),
        cells: least.iter().map(|(x, z, gain)| Cell { x: value(*x), z: value(*z), class: gain.map(class) }).collect(),
        classes: (0..CLASSES)
            .filter(|_| !gains.is_empty())
            .map(|class| {
                let from = low + step * count(class);
                say.span(say.number(from, 0), say.db(from + step, 0))
            })
            .collect(),
        fitted: edges(half, tilt),
        axis: vec![(0.0, 0.0), ray(tilt)],
        stated: width(&fit.stated).map_or_else(Vec::new, |width| edges(0.5 * width, 0.0)),
        alt: say.say("alt-survey", [("depth", say.metres(depth))]),
    }
}

fn count(number: usize) -> f64 {
    f64::from(u32::try_from(number).unwrap_or(u32::MAX))
}

/// For each hole and depth the least gain that showed the target; none where none did.
fn least_gains(fit: &BeamFit) -> Vec<(f64, f64, Option<f64>)> {
    let mut cells: Vec<(f64, f64, Option<f64>)> = Vec::new();
    for reading in &fit.seen {
        let shown = match reading.outcome() {
            SurveyOutcome::NotSeen | SurveyOutcome::Never => None,
            // Without a gain: the lowest that there is.
            SurveyOutcome::AtOnce => Some(0.0),
            SurveyOutcome::Seen | SurveyOutcome::LeastGain | SurveyOutcome::Unspecified => Some(reading.gain_db),
        };
        match cells.iter_mut().find(|(x, z, _)| *x == reading.offset_m && *z == reading.depth_m) {
            Some((_, _, least)) => {
                *least = match (*least, shown) {
                    (Some(a), Some(b)) => Some(a.min(b)),
                    (a, b) => a.or(b),
                };
            }
            None => cells.push((reading.offset_m, reading.depth_m, shown)),
        }
    }
    cells
}

fn pattern(fit: &BeamFit, say: Wording<'_>) -> Pattern {
    let angle = (3.0 * fit.beamwidth_deg.unwrap_or_default().value).clamp(10.0, PLOT_ANGLE);
    let line = |points: &[PatternPoint]| -> Vec<(f64, f64)> {
        points
            .iter()
            .filter(|point| point.angle_deg <= angle)
            .map(|point| (point.angle_deg, point.level_db.max(PLOT_FLOOR)))
            .collect()
    };
    Pattern {
        angle,
        floor: PLOT_FLOOR,
        x_ticks: ticks(angle, 5.0).into_iter().map(|at| Mark { at, label: say.number(at, 0) }).collect(),
        y_ticks: [0.0, -10.0, -20.0, -30.0, -40.0, -50.0]
            .map(|at| Mark { at, label: say.number(at, 0) })
            .into_iter()
            .collect(),
        fitted: line(&fit.fitted),
        stated: line(&fit.stated),
        alt: say.say("alt-pattern", [("angle", format!("{}°", say.number(angle, 0)))]),
    }
}
