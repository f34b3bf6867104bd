#![allow(clippy::unwrap_used, reason = "a fixed, valid case")]
//! The kernel alone, for counting instructions: the benched case scored so many times over.
//!
//! `cargo build --release -p planning --example kernel`, then
//! `valgrind --tool=callgrind target/release/examples/kernel 1` and the same with `21`: the difference over 20 × 256 × 24 is one evaluation,
//! without what preparation costs. With `draws` behind the number the uncertain draws of one spot are counted instead, 256 × 24 each time; with `slope` or `lean` or
//! `oblong` the same spots on a slope of 10°, under a lean of 5°, or of rectangles.

#[path = "../tests/common/mod.rs"]
mod common;

use acoustics::units::Angle;
use domain::{Cancel, PatternKind};
use planning::selection::{Prepared, Scratch};

const SPOTS: u32 = 256;
const OPTIONS: u32 = 24;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let times: u32 = arguments.next().and_then(|n| n.parse().ok()).unwrap_or(1);
    let what = arguments.next().unwrap_or_default();
    let draws = what == "draws";
    let mut input = common::shared_by_five(SPOTS, OPTIONS, if draws { SPOTS } else { 0 });
    match what.as_str() {
        "slope" => input.spots.iter_mut().for_each(|spot| spot.slope = Angle::from_degrees(10.0)),
        "lean" => input.settings.lean.angle = Angle::from_degrees(5.0),
        "oblong" => input.sensors.iter_mut().flat_map(|sensor| &mut sensor.options).for_each(|option| {
            if let PatternKind::CircularPiston { beamwidth } = option.pattern {
                let mut across = beamwidth;
                across.value.full = acoustics::units::FullAngle::new(0.6 * beamwidth.value.full.get());
                option.pattern = PatternKind::Rectangular { along: beamwidth, across };
            }
        }),
        _ => {}
    }
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    let mut scratch = Scratch::new();
    let mut sum = 0.0;
    for _ in 0..times {
        if draws {
            sum += prepared
                .uncertainty(0, &mut scratch, &Cancel::never())
                .unwrap()
                .iter()
                .map(|u| u.score.median)
                .sum::<f64>();
        } else {
            for spot in 0..prepared.spot_count() {
                prepared.score_spot(spot, &mut scratch).unwrap();
                sum += scratch.figures().iter().map(planning::selection::Evaluation::score).sum::<f64>();
            }
        }
    }
    println!("{sum}");
}
