#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "fixed lists of known length")]
//! A picture of the beam that suits best, against depth: widths from 6° to 40°, over four bottoms, alone and in company, with the band in which the best one
//! lies when everything that is not known is drawn.
//!
//! `cargo run -p planning --example sweep > .images/where-the-beam-changes.svg`

#[path = "../tests/common/mod.rs"]
mod common;

use std::fmt::Write as _;

use acoustics::units::Metres;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Sensor, Spot};
use planning::recommend::{Choice, QUIET, recommend_prepared};
use planning::selection::Prepared;

use common::sweep::FOOT;

/// Widths of the pistons, degrees: each a tenth wider than the one before.
const WIDTHS: u32 = 21;
/// Depths in feet.
const FEET: std::ops::RangeInclusive<u32> = 6..=70;
const STEP: usize = 2;
const DRAWS: u32 = 192;
/// Part of the draws on either side of the band.
const OUTSIDE: f64 = 0.1;
const PARTIES: [u32; 3] = [1, 3, 5];
const GROUNDS: [(&str, BottomClass, Option<CanopyDensity>); 4] = [
    ("organic ooze", BottomClass::OrganicOoze, None),
    ("silt", BottomClass::Silt, None),
    ("rock", BottomClass::Rock, None),
    ("silt with weeds", BottomClass::Silt, Some(CanopyDensity::Sparse)),
];

const LEFT: f64 = 62.0;
const TOP: f64 = 96.0;
const PANEL: (f64, f64) = (236.0, 112.0);
const GAP: (f64, f64) = (18.0, 40.0);

fn widths() -> Vec<f64> {
    (0..WIDTHS).map(|k| 6.0 * libm::pow(40.0 / 6.0, f64::from(k) / f64::from(WIDTHS - 1))).collect()
}

/// What suits best at one depth.
struct Best {
    feet: f64,
    /// By the recorded figures; none where no beam works.
    recorded: Option<f64>,
    /// Ends of the band; none where no beam works in half of the draws.
    band: Option<(f64, f64)>,
}

fn main() {
    let widths = widths();
    let sensors: Vec<Sensor> =
        widths.iter().enumerate().map(|(k, width)| common::piston(&format!("p{k}"), *width)).collect();
    let (columns, rows) = (count(PARTIES.len()), count(GROUNDS.len()));
    let size = (LEFT + columns * (PANEL.0 + GAP.0), TOP + rows * (PANEL.1 + GAP.1) + 8.0);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" font-size=\"11\">\n\
         <title>Which beam suits best, by depth</title>\n\
         <desc>Best width from 6 to 40 degrees by depth from 6 to 70 feet, over ooze, silt, rock and weeds, for one, three and five anglers, with its band of uncertainty.</desc>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n\
         <text x=\"10\" y=\"22\" font-size=\"15\">Which beam suits best, by depth</text>\n",
        size.0, size.1
    );
    legend(&mut svg);
    for (row, (name, bottom, weeds)) in GROUNDS.into_iter().enumerate() {
        for (column, party) in PARTIES.into_iter().enumerate() {
            let at = (LEFT + count(column) * (PANEL.0 + GAP.0), TOP + count(row) * (PANEL.1 + GAP.1));
            let best = judged(&sensors, &widths, (bottom, weeds), party);
            let people = if party == 1 { "alone".to_owned() } else { format!("{party} anglers") };
            panel(&mut svg, at, &format!("{name}, {people}"), &best);
        }
    }
    let foot = TOP + rows * (PANEL.1 + GAP.1) - 6.0;
    let _ = writeln!(svg, "<text x=\"{}\" y=\"{foot}\" text-anchor=\"middle\">depth, ft (m)</text>", 0.5 * size.0);
    println!("{svg}</svg>");
}

/// The best widths over a bottom for a party.
fn judged(
    sensors: &[Sensor],
    widths: &[f64],
    (bottom, weeds): (BottomClass, Option<CanopyDensity>),
    party: u32,
) -> Vec<Best> {
    let feet: Vec<f64> = FEET.step_by(STEP).map(f64::from).collect();
    let spots = feet.iter().enumerate().map(|(k, feet)| {
        let plain = common::spot(&format!("s{k}"), feet * FOOT, bottom);
        let canopy = weeds.map(|density| Canopy { height: Metres::new(1.2), density, volume_strength: None });
        let lure_height = if canopy.is_some() { Metres::new(0.5) } else { plain.lure_height };
        Spot { canopy, lure_height, ..plain }
    });
    let mut input = common::run(spots.collect(), sensors.to_vec());
    input.shelter = (party > 1).then(|| common::shelter(5.0, 3.0, party));
    input.settings.draws = DRAWS;
    if weeds.is_some() {
        input.settings.goal = domain::Goal::WEED_EDGE;
    }
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    feet.iter().enumerate().map(|(spot, feet)| at(&prepared, widths, spot, *feet)).collect()
}

fn at(prepared: &Prepared, widths: &[f64], spot: usize, feet: f64) -> Best {
    let answer = recommend_prepared(prepared, &[spot], &Choice::default(), &Cancel::never(), QUIET).unwrap();
    let best = |values: Vec<f64>| {
        let (place, value) = values.into_iter().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        (value > 0.0).then(|| widths[place])
    };
    let recorded = best(answer.worths.nominal.iter().map(|row| row[0].value).collect());
    let drawn = answer.worths.draws.iter().filter_map(|draw| best(draw.iter().map(|total| total.value).collect()));
    let mut drawn: Vec<f64> = drawn.collect();
    drawn.sort_by(f64::total_cmp);
    let quantile = |part: f64| interpolated(&drawn, part * (count(drawn.len()) - 1.0));
    let band = (2 * drawn.len() >= answer.worths.draws.len()).then(|| (quantile(OUTSIDE), quantile(1.0 - OUTSIDE)));
    Best { feet, recorded, band }
}

/// A value between two of a sorted list.
fn interpolated(values: &[f64], place: f64) -> f64 {
    let below = values.iter().enumerate().rfind(|(k, _)| count(*k) <= place).unwrap();
    let above = values.get(below.0 + 1).unwrap_or(below.1);
    below.1 + (place - count(below.0)) * (above - below.1)
}

fn legend(svg: &mut String) {
    let _ = writeln!(
        svg,
        "<rect x=\"{LEFT}\" y=\"38\" width=\"26\" height=\"12\" fill=\"#c3dee8\"/><text x=\"{}\" y=\"48\">in eight of ten draws of what is not known, the best lies here</text>\n\
         <path d=\"M{} 44h26\" stroke=\"#12435c\" stroke-width=\"2.4\"/><text x=\"{}\" y=\"48\">best by the recorded figures</text>\n\
         <text x=\"{LEFT}\" y=\"68\">uniform pistons at 200 kHz, widths at −3 dB, 20 W; lure −50 dB; shelter of 5 × 3 m; watching a lure, in weeds fishing along them</text>\n\
         <text transform=\"translate(16 {}) rotate(-90)\" text-anchor=\"middle\">width of the beam</text>",
        LEFT + 32.0,
        LEFT + 400.0,
        LEFT + 432.0,
        TOP + 2.0 * (PANEL.1 + GAP.1)
    );
}

fn panel(svg: &mut String, (left, top): (f64, f64), title: &str, best: &[Best]) {
    let (first, last) = (f64::from(*FEET.start()), f64::from(*FEET.end()));
    let x = |feet: f64| left + PANEL.0 * (feet - first) / (last - first);
    let y = |width: f64| top + PANEL.1 * (1.0 - libm::log(width / 6.0) / libm::log(40.0 / 6.0));
    let _ = writeln!(
        svg,
        "<rect x=\"{left}\" y=\"{top}\" width=\"{}\" height=\"{}\" fill=\"#f6f8f9\"/>\
         <text x=\"{}\" y=\"{}\" font-weight=\"bold\">{title}</text>",
        PANEL.0,
        PANEL.1,
        left + 2.0,
        top - 4.0
    );
    for width in [6.0, 10.0, 15.0, 20.0, 30.0, 40.0] {
        let at = y(width);
        let _ = writeln!(svg, "<path d=\"M{left} {at:.1}h{}\" stroke=\"#dde4e8\" stroke-width=\"0.6\"/>", PANEL.0);
        if left == LEFT {
            let _ =
                writeln!(svg, "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{width}°</text>", left - 5.0, at + 4.0);
        }
    }
    for feet in [10.0, 25.0, 40.0, 55.0] {
        let _ = writeln!(
            svg,
            "<path d=\"M{:.1} {}v4\" stroke=\"#333\"/><text x=\"{0:.1}\" y=\"{}\" text-anchor=\"middle\" font-size=\"9.5\">{feet} ({:.0})</text>",
            x(feet),
            top + PANEL.1,
            top + PANEL.1 + 13.0,
            feet * FOOT
        );
    }
    // Runs of depths at which something works.
    for run in best.chunk_by(|a, b| a.band.is_some() == b.band.is_some()).filter(|run| run[0].band.is_some()) {
        let there = run.iter().map(|b| (x(b.feet), y(b.band.unwrap().0)));
        let back = run.iter().rev().map(|b| (x(b.feet), y(b.band.unwrap().1)));
        let points: Vec<String> = there.chain(back).map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        let _ = writeln!(svg, "<polygon points=\"{}\" fill=\"#c3dee8\"/>", points.join(" "));
    }
    for run in best.chunk_by(|a, b| a.recorded.is_some() == b.recorded.is_some()) {
        let points: Vec<String> =
            run.iter().filter_map(|b| Some(format!("{:.1},{:.1}", x(b.feet), y(b.recorded?)))).collect();
        if points.is_empty() {
            let middle = 0.5 * (x(run[0].feet) + x(run[run.len() - 1].feet));
            let _ = writeln!(
                svg,
                "<text x=\"{middle:.1}\" y=\"{}\" text-anchor=\"middle\" font-size=\"9.5\" fill=\"#555\">none works</text>",
                top + 0.5 * PANEL.1
            );
            continue;
        }
        let _ = writeln!(
            svg,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#12435c\" stroke-width=\"2.4\" stroke-linejoin=\"round\"/>",
            points.join(" ")
        );
    }
}

fn count(value: usize) -> f64 {
    f64::from(u32::try_from(value).unwrap())
}
