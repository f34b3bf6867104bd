#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "fixed lists of known length")]
//! A picture of where the recommended beam changes: depth, bottom, weeds and neighbours, for the three plain sensors of the demo.
//!
//! `cargo run -p planning --example sweep > .images/where-the-beam-changes.svg`

#[path = "../tests/common/mod.rs"]
mod common;

use std::fmt::Write as _;

use acoustics::units::{Hertz, Watts};
use domain::{Fact, Sensor, Source};

use common::sweep::{FEET, FOOT, PARTIES, Strip, sweep};

const LEFT: f64 = 190.0;
const WIDTH: f64 = 650.0;
const TOP: f64 = 74.0;
const ROW: f64 = 13.0;
/// Between bottoms.
const GAP: f64 = 8.0;
/// One hue from dark to light, told apart in grey too.
const FILLS: [&str; 3] = ["#12435c", "#4f93b0", "#c3dee8"];

/// Width in degrees, frequency in kHz and electrical power in W of the demo's plain sensors, the narrowest first.
const BEAMS: [(f64, f64, f64); 3] = [(7.5, 265.0, 40.0), (11.3, 230.0, 40.0), (23.0, 145.0, 35.0)];

fn sensors() -> Vec<Sensor> {
    let sensor = |(degrees, khz, watts): (f64, f64, f64)| {
        let mut sensor = common::piston(&format!("s{khz}"), degrees);
        for option in &mut sensor.options {
            option.frequency = Fact::stated(Hertz::from_khz(khz));
            option.source =
                Source::Power { electrical: Fact::stated(Watts::new(watts)), efficiency: Fact::stated(0.5) };
        }
        sensor
    };
    BEAMS.into_iter().map(sensor).collect()
}

fn main() {
    let strips = sweep(&sensors());
    let per_bottom = strips.len() / 5;
    let y = |row: usize| TOP + ROW * count(row) + GAP * count(row / per_bottom);
    let foot = WIDTH / f64::from(FEET.end() - FEET.start() + 1);
    let x = |feet: f64| LEFT + (feet - f64::from(*FEET.start())) * foot;
    let height = y(strips.len()) + 46.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 860 {height}\" font-family=\"sans-serif\" font-size=\"11\">\n\
         <title>Where the recommended beam changes</title>\n\
         <desc>Best of three beams by depth from 6 to 70 feet, for five bottoms, open water and weeds, one, three and five anglers.</desc>\n\
         <rect width=\"860\" height=\"{height}\" fill=\"#fff\"/>\n\
         <text x=\"10\" y=\"20\" font-size=\"15\">Where the recommended beam changes</text>\n"
    );
    legend(&mut svg, strips.iter().any(|strip| strip.best.contains(&None)));
    for (row, strip) in strips.iter().enumerate() {
        let top = y(row);
        if row % per_bottom == 0 {
            let _ = writeln!(svg, "<text x=\"10\" y=\"{}\" font-weight=\"bold\">{}</text>", top + 10.0, strip.bottom);
        }
        if row % PARTIES.len() == 0 {
            let _ = writeln!(svg, "<text x=\"95\" y=\"{}\">{}</text>", top + 10.0, strip.cover);
        }
        let people = if strip.party == 1 { "alone".to_owned() } else { format!("{} anglers", strip.party) };
        let _ = writeln!(svg, "<text x=\"182\" y=\"{}\" text-anchor=\"end\">{people}</text>", top + 10.0);
        for (from, to, best) in runs(strip) {
            let (start, end) = (x(from), x(to));
            let fill = best.map_or("#fff", |beam| FILLS[beam]);
            let _ = writeln!(
                svg,
                "<rect x=\"{start:.1}\" y=\"{top}\" width=\"{:.1}\" height=\"{}\" fill=\"{fill}\" stroke=\"#fff\" stroke-width=\"0.6\"/>",
                end - start,
                ROW - 1.5
            );
        }
    }
    axis(&mut svg, y(strips.len()), x);
    println!("{svg}</svg>");
}

fn legend(svg: &mut String, none: bool) {
    let mut at = LEFT;
    for ((beam, khz, _), fill) in BEAMS.iter().zip(FILLS) {
        let _ = writeln!(
            svg,
            "<rect x=\"{at}\" y=\"34\" width=\"26\" height=\"12\" fill=\"{fill}\" stroke=\"#333\" stroke-width=\"0.5\"/>\
             <text x=\"{}\" y=\"44\">{beam}° at {khz} kHz</text>",
            at + 32.0
        );
        at += 130.0;
    }
    if none {
        let _ = writeln!(
            svg,
            "<rect x=\"{at}\" y=\"34\" width=\"26\" height=\"12\" fill=\"#fff\" stroke=\"#333\" stroke-width=\"0.5\"/>\
             <text x=\"{}\" y=\"44\">none works</text>",
            at + 32.0
        );
    }
    let _ = writeln!(
        svg,
        "<text x=\"{LEFT}\" y=\"64\">uniform pistons, widths at −3 dB, 17.5 to 20 W; lure −50 dB; shelter of 5 × 3 m</text>"
    );
}

/// Feet under the strips, metres under the feet.
fn axis(svg: &mut String, y: f64, x: impl Fn(f64) -> f64) {
    for feet in (10..=70).step_by(10) {
        let at = x(f64::from(feet) + 0.5);
        let _ = writeln!(
            svg,
            "<path d=\"M{at:.1} {y}v5\" stroke=\"#333\"/><text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\">{feet} ft</text>\
             <text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\" fill=\"#555\">{:.1} m</text>",
            y + 17.0,
            y + 31.0,
            f64::from(feet) * FOOT
        );
    }
}

/// Depths in feet between which one beam is best.
fn runs(strip: &Strip) -> Vec<(f64, f64, Option<usize>)> {
    let mut found: Vec<(f64, f64, Option<usize>)> = Vec::new();
    for (feet, best) in FEET.zip(&strip.best) {
        match found.last_mut() {
            Some(last) if last.2 == *best => last.1 = f64::from(feet + 1),
            _ => found.push((f64::from(feet), f64::from(feet + 1), *best)),
        }
    }
    found
}

fn count(value: usize) -> f64 {
    f64::from(u32::try_from(value).unwrap())
}
