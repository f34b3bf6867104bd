#![allow(clippy::indexing_slicing, reason = "fixed lists of known length")]
//! The rules of a whole event, for measuring: 200 shelters of 40 sizes, six bands of depth, 24 options.
//!
//! `/usr/bin/time -v cargo run --release -p planning --example event`

#[path = "../tests/common/mod.rs"]
mod common;

use std::process::ExitCode;

use acoustics::units::{Hertz, Metres};
use domain::selection::OptionRef;
use domain::{BottomClass, Cancel, TargetKind};
use planning::rules::{DepthBand, RulesInput, RulesSettings, derive};

fn main() -> ExitCode {
    let sensors: Vec<_> = (0..24_u32)
        .map(|index| {
            let mut sensor = common::piston(&format!("s{index}"), 8.0 + f64::from(index % 8) * 3.0);
            for option in &mut sensor.options {
                option.frequency.value = Hertz::from_khz([80.0, 200.0, 455.0][index as usize / 8]);
            }
            sensor
        })
        .collect();
    let shelters = (0..200_u32)
        .map(|index| {
            let size = f64::from(index % 40);
            common::shelter(2.6 + 0.06 * size, 2.2 + 0.04 * size, 2 + index % 4)
        })
        .collect();
    let metres = [2.0, 4.0, 6.0, 9.0, 13.0, 18.0, 25.0].map(Metres::new);
    let input = RulesInput {
        shelters,
        options: (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect(),
        unlisted: Vec::new(),
        sensors,
        bands: metres.windows(2).map(|pair| DepthBand { shallow: pair[0], deep: pair[1] }).collect(),
        bottoms: vec![BottomClass::Silt, BottomClass::FineSand],
        lure: common::target("lure", TargetKind::Lure, -50.0),
        settings: RulesSettings::default(),
    };
    match derive(&input, &Cancel::never()) {
        Ok(book) => {
            let rules = book.sheets.iter().flat_map(|sheet| &sheet.bands).flat_map(|band| &band.rules);
            let (allowed, all) =
                rules.fold((0_u32, 0_u32), |(yes, all), rule| (yes + u32::from(rule.refusal.is_none()), all + 1));
            println!("{} shelters, {all} rules, {allowed} of them allow their option", book.sheets.len());
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
