//! Pictures as plain numbers in the reader's unit, with axes.

use domain::{Provenance, Sensor};
use planning::picture::{GainName, Picture, PlanPoint, PlanView, SectionPoint, SideView};
use schemars::JsonSchema;
use serde::Serialize;

use super::names::positive;
use crate::length::ticks;
use crate::wording::Wording;

type Points = Vec<(f64, f64)>;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Side {
    half_width: f64,
    depth: f64,
    x_ticks: Vec<Mark>,
    z_ticks: Vec<Mark>,
    outlines: Vec<Outline>,
    bottom: Points,
    relief: Vec<Points>,
    canopy: Option<Points>,
    shadow: Points,
    lure: (f64, f64),
    fish_top: f64,
    fish_bottom: f64,
    hole_radius: f64,
    /// What the picture shows, for those who cannot see it.
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Mark {
    at: f64,
    label: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Outline {
    /// Which gain: `lure`, `working`, `search` or `clear`.
    name: &'static str,
    /// How much that is; none where the threshold is assumed, as the figure is no setting then.
    gain: Option<String>,
    main: Points,
    side: Vec<Points>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Plan {
    width: f64,
    height: f64,
    floor: Option<Points>,
    holes: Points,
    own: usize,
    hole_radius: f64,
    watch: Points,
    coverage: Points,
    ticks: Vec<Mark>,
    alt: String,
}

/// Whether gains in decibels say something of a sensor.
fn has_known_threshold(sensor: &Sensor) -> bool {
    sensor.threshold.provenance != Provenance::Assumed
}

pub(super) fn side(picture: &Picture, sensor: &Sensor, say: Wording<'_>) -> Side {
    let view: &SideView = &picture.side;
    let points = |line: &[SectionPoint]| -> Points { line.iter().map(|p| (say.value(p.x), say.value(p.z))).collect() };
    let (half_width, depth) = (say.value(view.half_width), say.value(view.greatest_depth));
    let hidden = positive(view.dead_zone_height)
        .map_or_else(String::new, |h| format!(" {}", say.say("alt-shadow", [("height", say.text(h))])));
    Side {
        half_width,
        depth,
        x_ticks: ticks(half_width, 2.0)
            .into_iter()
            .flat_map(|t| if t == 0.0 { vec![t] } else { vec![-t, t] })
            .map(|t| Mark { at: t, label: say.number(t, 1) })
            .collect(),
        z_ticks: ticks(depth, 5.0).into_iter().map(|t| Mark { at: t, label: say.number(t, 1) }).collect(),
        outlines: view
            .outlines
            .iter()
            .map(|o| Outline {
                name: match o.name {
                    GainName::Lure => "lure",
                    GainName::Working => "working",
                    GainName::Search => "search",
                    GainName::Clear => "clear",
                },
                gain: has_known_threshold(sensor).then(|| say.db(o.gain.get(), 0)),
                main: points(&o.main_lobe),
                side: o.side_lobes.iter().map(|lobe| points(lobe)).collect(),
            })
            .collect(),
        bottom: points(&view.bottom),
        relief: view.relief.iter().map(|r| points(r)).collect(),
        canopy: view.canopy.as_deref().map(points),
        shadow: points(&view.shadow),
        lure: (say.value(view.lure.x), say.value(view.lure.z)),
        fish_top: say.value(view.fish_layer.0),
        fish_bottom: say.value(view.fish_layer.1),
        hole_radius: say.value(view.hole_radius),
        alt: say.say(
            "alt-section",
            [
                ("depth", say.text(view.greatest_depth)),
                ("gains", view.outlines.len().to_string()),
                ("lure", say.text(view.lure.z)),
            ],
        ) + &hidden,
    }
}

pub(super) fn plan(picture: &Picture, say: Wording<'_>) -> Plan {
    let view: &PlanView = &picture.plan;
    let (low, high) = view.extent;
    let (left, bottom) = (low.x.get(), low.y.get());
    let point = |p: &PlanPoint| {
        (
            say.value(acoustics::units::Metres::new(p.x.get() - left)),
            say.value(acoustics::units::Metres::new(p.y.get() - bottom)),
        )
    };
    let points = |line: &[PlanPoint]| -> Points { line.iter().map(point).collect() };
    let width = say.value(high.x) - say.value(low.x);
    Plan {
        width,
        height: say.value(high.y) - say.value(low.y),
        floor: view.floor.as_deref().map(points),
        holes: points(&view.holes),
        own: view.own,
        hole_radius: say.value(view.hole_radius),
        watch: points(&view.watch_footprint),
        coverage: points(&view.coverage),
        ticks: ticks(width, 4.0).into_iter().map(|t| Mark { at: t, label: say.number(t, 1) }).collect(),
        alt: say.say("alt-above", [("holes", say.count("holes", view.holes.len()))]),
    }
}
