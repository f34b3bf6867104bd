#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "fixed lists of known length")]
//! The fleet of a whole month, for measuring: 300 bookings over 30 days, 24 options of 12 sensors, some of them owned.
//!
//! `/usr/bin/time -v cargo run --release -p planning --example fleet`

#[path = "../tests/common/mod.rs"]
mod common;

use std::process::ExitCode;
use std::time::Instant;

use acoustics::units::{Db, Hertz};
use domain::Preset;
use domain::selection::OptionRef;
use domain::{Booking, BottomClass, Cancel, Confirmation, Money, Sensor, Spot, TargetKind, Unit, UnitState};
use jiff::ToSpan;
use jiff::civil::Date;
use planning::fleet::{DEFAULT_GAP, FleetInput, Replan, plan};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn main() -> ExitCode {
    let mut code = ExitCode::SUCCESS;
    for seed in 1..=3 {
        let input = month(seed, 300);
        let start = Instant::now();
        match plan(&input, &Cancel::never()) {
            Ok(plan) => {
                let written = |money: &Money| format!("{} {}", money.units, money.currency);
                let bought: u32 = plan.purchases.iter().map(|own| own.count).sum();
                println!(
                    "seed {seed}: {} bookings met, {} not; {bought} units of {} sensors for {}, at least {}: gap {:.3} %; mean score {:.4} (proven: {}); {:.1} s",
                    plan.assignments.len(),
                    plan.unmet.len(),
                    plan.purchases.len(),
                    written(&plan.cost),
                    written(&plan.least_cost),
                    100.0 * plan.gap,
                    plan.mean_score,
                    plan.score_is_proven,
                    start.elapsed().as_secs_f64()
                );
            }
            Err(error) => {
                eprintln!("{error}");
                code = ExitCode::FAILURE;
            }
        }
    }
    code
}

/// A seeded month: parties of 1 to 6 for 1 to 4 days at 40 spots in 60 shelters, prices of 200 to 900, several units owned.
fn month(seed: u64, bookings: usize) -> FleetInput {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let sensors: Vec<Sensor> = (0..12_u32)
        .map(|index| {
            let mut sensor = common::piston(&format!("s{index:02}"), 8.0 + f64::from(index % 6) * 3.0);
            let mut second = common::piston_option("second", 10.0 + f64::from(index % 4) * 4.0);
            second.frequency.value = Hertz::from_khz(if index < 6 { 455.0 } else { 80.0 });
            sensor.options.push(second);
            sensor.ping_jitter.value = 0.05;
            sensor.confirmation = Confirmation { marks: 2, pings: 3 };
            sensor.price = Some(Money { currency: "USD".to_owned(), units: 10 * rng.random_range(20..=90), nanos: 0 });
            sensor
        })
        .collect();
    let options =
        (0..sensors.len()).flat_map(|sensor| (0..2).map(move |option| OptionRef { sensor, option })).collect();
    let mut units = Vec::new();
    for sensor in &sensors {
        for index in 0..rng.random_range(0..=8_u32).saturating_sub(2) {
            let name = format!("{}-{index}", sensor.id);
            let state = if rng.random_bool(0.85) { UnitState::Ready } else { UnitState::InRepair };
            units.push(Unit {
                id: common::id(&name),
                display_name: name.clone(),
                notes: common::NOTES.to_owned(),
                sensor: sensor.id.clone(),
                serial: name,
                state,
                lent_to: None,
                back_day: None,
            });
        }
    }
    let spots: Vec<Spot> = (0..40)
        .map(|index| common::spot(&format!("p{index}"), rng.random_range(2.0..20.0), BottomClass::ALL[index % 6]))
        .collect();
    let mut shelters = Vec::new();
    let bookings = (0..bookings)
        .map(|index| {
            let anglers = rng.random_range(1..=6_u32);
            let first = rng.random_range(0..30_i32);
            let last = (first + rng.random_range(0..4_i32)).min(29);
            let shelter = (anglers > 1).then(|| {
                let mut shelter =
                    common::shelter(4.0 + 0.7 * f64::from(anglers), 3.0 + 0.3 * f64::from(anglers), anglers);
                shelter.id = common::id(&format!("h{index}"));
                shelters.push(shelter.clone());
                shelter.id
            });
            let day = |offset: i32| Date::constant(2026, 1, 1).saturating_add(offset.days());
            Booking {
                id: common::id(&format!("b{index:03}")),
                display_name: format!("Party {index}"),
                notes: common::NOTES.to_owned(),
                spot: spots[rng.random_range(0..spots.len())].id.clone(),
                shelter,
                anglers,
                first_day: day(first),
                last_day: day(last),
                goal: Some(Preset::ALL[rng.random_range(0..3_usize)]),
                custom_goal: None,
                lure: common::id("lure"),
                fish: common::id("fish"),
                min_score: 0.05 * f64::from(rng.random_range(2..=8_u32)),
                min_headroom: Db::new(-3.0),
            }
        })
        .collect();
    FleetInput {
        sensors,
        options,
        units,
        spots,
        shelters,
        targets: vec![common::target("lure", TargetKind::Lure, -50.0), common::target("fish", TargetKind::Fish, -36.0)],
        goals: Vec::new(),
        bookings,
        budget: None,
        gap: DEFAULT_GAP,
        replan: Replan::default(),
    }
}
