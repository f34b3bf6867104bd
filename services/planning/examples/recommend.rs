#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a fixed, valid case")]
//! Times a recommendation as a shop asks for one: five places, forty sensors, a shelter of four, 256 draws, two uses. Before it, a single spot in a shelter of
//! five: one sensor and forty, cold and with the tables that the process keeps, beside neighbours of the same kind and of kinds that nobody knows.
//!
//! `cargo run --release -p planning --example recommend [FILE]`; with a file the tables of this process are left in it, and those that it holds are taken: a second
//! call is a process that has been started again.

#[path = "../tests/common/mod.rs"]
mod common;

use std::time::Instant;

use acoustics::units::Angle;
use acoustics::units::Hertz;
use domain::Goal;
use domain::selection::Others;
use domain::{BottomClass, Cancel, Fact, Money};
use planning::recommend::{Choice, QUIET, Use, recommend_prepared};
use planning::selection::{Prepared, kept};

/// Tables and findings of one spot in a shelter of five, for so many sensors; twice.
fn single_spot(sensors: u32, slope: f64) {
    let mut input = common::shared_by_five(1, sensors, 0);
    // Another depth for each, so that nothing is kept from the one before.
    input.spots[0] = common::spot("s", 4.0 + 0.01 * f64::from(sensors), BottomClass::Silt);
    input.spots[0].slope = Angle::from_degrees(slope);
    timed(&format!("one spot, {sensors} sensors, {slope}°"), &input);
}

/// The same of forty sensors at three frequencies, beside neighbours of whom nothing is known: all nine kinds.
fn unknown_neighbours(draws: u32) {
    let sensors = (0..40_u32)
        .map(|i| {
            let mut sensor = common::piston(&format!("p{i}"), 7.0 + 0.5 * f64::from(i));
            sensor.options[0].frequency = Fact::stated(Hertz::from_khz([80.0, 200.0, 455.0][i as usize % 3]));
            sensor
        })
        .collect();
    let mut input = common::run(vec![common::spot("s", 4.2, BottomClass::Silt)], sensors);
    input.shelter = Some(common::shelter(4.2, 2.4, 5));
    input.others = Others::Unknown;
    input.settings.draws = draws;
    timed(&format!("one spot, 40 sensors, neighbours unknown, {draws} draws"), &input);
}

/// Twice over.
fn timed(what: &str, input: &domain::selection::RunInput) {
    for state in ["first", "again"] {
        let (start, spent, before) = (Instant::now(), processor_ms(), kept::computed());
        Prepared::new(input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap();
        let (time, tables) = (1.0e3 * start.elapsed().as_secs_f64(), kept::computed() - before);
        println!("{what}, {state}: {time:.0} ms, {} of processors, {tables} tables", processor_ms() - spent);
    }
}

/// What the process has taken of processors so far, ms (proc(5), fields 14 and 15, in ticks of 10 ms).
fn processor_ms() -> u64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after = stat.rsplit(')').next().unwrap_or_default();
    after.split_whitespace().skip(11).take(2).filter_map(|ticks| ticks.parse::<u64>().ok()).sum::<u64>() * 10
}

fn main() {
    let file = std::env::args().nth(1);
    if let Some(tables) = file.as_ref().and_then(|file| std::fs::read(file).ok()) {
        kept::recall_from(move || tables);
    }
    let mut all = Vec::new();
    for (sensors, slope) in [(1, 0.0), (40, 0.0), (1, 10.0), (40, 10.0)] {
        single_spot(sensors, slope);
    }
    unknown_neighbours(0);
    unknown_neighbours(64);
    all.extend(kept::take_new());
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
    let uses = vec![Use { goal: Goal::SEARCH, share: 0.5 }, Use { goal: Goal::WATCH_LURE, share: 0.5 }];
    let choice = Choice { uses, ..Choice::default() };
    let (start, spent) = (Instant::now(), processor_ms());
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    let (time, processors) = (start.elapsed().as_secs_f64(), processor_ms() - spent);
    println!("tables of {} options: {time:.2} s, {processors} ms of processors", input.options.len());
    let (start, spent) = (Instant::now(), processor_ms());
    let answer = recommend_prepared(&prepared, &[0, 1, 2, 3, 4], &choice, &Cancel::never(), QUIET).unwrap();
    let (time, processors) = (start.elapsed().as_secs_f64(), processor_ms() - spent);
    println!("{} draws and the decision: {time:.2} s, {processors} ms of processors", answer.draws);
    println!("{:?}, {:?}, right in {:?}", answer.decision.advice, answer.decision.firmness, answer.decision.right);
    all.extend(kept::take_new());
    if let Some(file) = file {
        println!("{} tables in all", all.len() / kept::BYTES);
        std::fs::write(file, all).unwrap();
    }
}
