#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a fixed, valid case")]
//! Times a recommendation as a shop asks for one: five places, forty sensors, a shelter of four, 256 draws, two uses. Before it, a single spot in a shelter of
//! five: one sensor and forty, cold and with the tables that the process keeps.
//!
//! `cargo run --release -p planning --example recommend`

#[path = "../tests/common/mod.rs"]
mod common;

use std::time::Instant;

use acoustics::units::Angle;
use domain::selection::Goal;
use domain::{BottomClass, Cancel, Money};
use planning::recommend::{Choice, QUIET, Use, recommend_prepared};
use planning::selection::Prepared;

/// Tables and findings of one spot in a shelter of five, for so many sensors; twice.
fn single_spot(sensors: u32, slope: f64) {
    let mut input = common::shared_by_five(1, sensors, 0);
    // Another depth for each, so that nothing is kept from the one before.
    input.spots[0] = common::spot("s", 4.0 + 0.01 * f64::from(sensors), BottomClass::Silt);
    input.spots[0].slope = Angle::from_degrees(slope);
    for state in ["cold", "warm"] {
        let start = Instant::now();
        Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap();
        println!("one spot, {sensors} sensors, {slope}°, {state}: {:.0} ms", 1.0e3 * start.elapsed().as_secs_f64());
    }
}

fn main() {
    for (sensors, slope) in [(1, 0.0), (40, 0.0), (1, 10.0), (40, 10.0)] {
        single_spot(sensors, slope);
    }
    let bottoms = [BottomClass::Gravel, BottomClass::MediumSand, BottomClass::Silt];
    let spots =
        (0..5_u32).map(|i| common::spot(&format!("s{i}"), 3.0 + 4.0 * f64::from(i), bottoms[i as usize % 3])).collect();
    let sensors = (0..40_u32)
        .map(|i| {
            let mut sensor = common::piston(&format!("p{i}"), 8.0 + 0.5 * f64::from(i));
            if i % 2 == 0 {
                sensor.options.push(common::piston_option("wide", 20.0 + 0.4 * f64::from(i)));
            }
            sensor.price = Some(Money { currency: "USD".to_owned(), units: 90 + 15 * i64::from(i), nanos: 0 });
            sensor
        })
        .collect();
    let mut input = common::run(spots, sensors);
    input.shelter = Some(common::shelter(3.0, 3.0, 4));
    input.settings.draws = 256;
    let uses = vec![Use { goal: Goal::Search, share: 0.5 }, Use { goal: Goal::WatchLure, share: 0.5 }];
    let choice = Choice { uses, ..Choice::default() };
    let start = Instant::now();
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    println!("tables of {} options: {:.2} s", input.options.len(), start.elapsed().as_secs_f64());
    let start = Instant::now();
    let answer = recommend_prepared(&prepared, &[0, 1, 2, 3, 4], &choice, &Cancel::never(), QUIET).unwrap();
    println!("{} draws and the decision: {:.2} s", answer.draws, start.elapsed().as_secs_f64());
    println!("{:?}, {:?}, right in {:?}", answer.decision.advice, answer.decision.firmness, answer.decision.right);
}
