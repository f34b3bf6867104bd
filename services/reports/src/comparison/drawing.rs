//! Pictures as plain numbers in the reader's unit, with axes.

use planning::picture::{GainName, Picture, PlanPoint, PlanView, SectionPoint, SideView};
use serde::Serialize;

use super::{number, positive};
use crate::length::{Lengths, ticks};

type Points = Vec<(f64, f64)>;

#[derive(Debug, Serialize)]
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

#[derive(Debug, Serialize)]
struct Mark {
    at: f64,
    label: String,
}

#[derive(Debug, Serialize)]
struct Outline {
    /// Which gain: `lure`, `working`, `search` or `clear`.
    name: &'static str,
    gain: String,
    main: Points,
    side: Vec<Points>,
}

#[derive(Debug, Serialize)]
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

pub(super) fn side(picture: &Picture, lengths: Lengths) -> Side {
    let view: &SideView = &picture.side;
    let points =
        |line: &[SectionPoint]| -> Points { line.iter().map(|p| (lengths.value(p.x), lengths.value(p.z))).collect() };
    let (half_width, depth) = (lengths.value(view.half_width), lengths.value(view.greatest_depth));
    let hidden = positive(view.shadow_height).map_or_else(String::new, |h| {
        format!(" The bottom's echo hides a lure up to {} over the bottom.", lengths.text(h))
    });
    Side {
        half_width,
        depth,
        x_ticks: ticks(half_width, 2.0)
            .into_iter()
            .flat_map(|t| if t == 0.0 { vec![t] } else { vec![-t, t] })
            .map(|t| Mark { at: t, label: number(t, 1) })
            .collect(),
        z_ticks: ticks(depth, 5.0).into_iter().map(|t| Mark { at: t, label: number(t, 1) }).collect(),
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
                gain: format!("{} dB", number(o.gain.get(), 0)),
                main: points(&o.main_lobe),
                side: o.side_lobes.iter().map(|lobe| points(lobe)).collect(),
            })
            .collect(),
        bottom: points(&view.bottom),
        relief: view.relief.iter().map(|r| points(r)).collect(),
        canopy: view.canopy.as_deref().map(points),
        shadow: points(&view.shadow),
        lure: (lengths.value(view.lure.x), lengths.value(view.lure.z)),
        fish_top: lengths.value(view.fish_layer.0),
        fish_bottom: lengths.value(view.fish_layer.1),
        hole_radius: lengths.value(view.hole_radius),
        alt: format!(
            "Section through the hole down to {}: where a fish shows at {} gains, the bottom, and the lure at {}.{hidden}",
            lengths.text(view.greatest_depth),
            view.outlines.len(),
            lengths.text(view.lure.z)
        ),
    }
}

pub(super) fn plan(picture: &Picture, lengths: Lengths) -> Plan {
    let view: &PlanView = &picture.plan;
    let (low, high) = view.extent;
    let (left, bottom) = (low.x.get(), low.y.get());
    let point = |p: &PlanPoint| {
        (
            lengths.value(acoustics::units::Metres::new(p.x.get() - left)),
            lengths.value(acoustics::units::Metres::new(p.y.get() - bottom)),
        )
    };
    let points = |line: &[PlanPoint]| -> Points { line.iter().map(point).collect() };
    let width = lengths.value(high.x) - lengths.value(low.x);
    Plan {
        width,
        height: lengths.value(high.y) - lengths.value(low.y),
        floor: view.floor.as_deref().map(points),
        holes: points(&view.holes),
        own: view.own,
        hole_radius: lengths.value(view.hole_radius),
        watch: points(&view.watch_footprint),
        coverage: points(&view.coverage),
        ticks: ticks(width, 4.0).into_iter().map(|t| Mark { at: t, label: number(t, 1) }).collect(),
        alt: format!(
            "View from above with {} hole(s): the circle in which fish show, and the smaller one at the lure's depth.",
            view.holes.len()
        ),
    }
}
