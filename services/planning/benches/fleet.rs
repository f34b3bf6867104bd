//! Speed of a fleet plan: 60 bookings over 20 days, six sensors, some of them owned.
//!
//! `cargo bench -p planning --bench fleet`. Figures are read by people; nothing asserts a time.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, reason = "a benchmark")]

#[path = "../tests/common/mod.rs"]
mod common;

use acoustics::units::Db;
use criterion::{Criterion, criterion_group, criterion_main};
use domain::Preset;
use domain::selection::OptionRef;
use domain::{Booking, BottomClass, Cancel, Money, TargetKind, Unit, UnitState};
use jiff::ToSpan;
use jiff::civil::date;
use planning::fleet::{DEFAULT_GAP, FleetInput, Replan, plan};

/// Parties of 1 to 4 for 1 to 3 days, half of them in shelters, at twelve spots.
fn input() -> FleetInput {
    let sensors: Vec<_> = (0..6_i32)
        .map(|index| {
            let mut sensor = common::piston(&format!("s{index}"), 8.0 + 3.0 * f64::from(index));
            let units = i64::from(200 + 90 * (index * 5 % 6));
            sensor.price = Some(Money { currency: "USD".to_owned(), units, nanos: 0 });
            sensor
        })
        .collect();
    let unit = |index: usize| Unit {
        id: common::id(&format!("u{index}")),
        display_name: format!("Unit {index}"),
        notes: common::NOTES.to_owned(),
        sensor: sensors[index % 3].id.clone(),
        serial: index.to_string(),
        state: UnitState::Ready,
        lent_to: None,
        back_day: None,
    };
    let booking = |index: i32| {
        let first = date(2026, 1, 1).saturating_add((index * 7 % 20).days());
        let anglers = 1 + u32::try_from(index % 4).unwrap();
        Booking {
            id: common::id(&format!("b{index}")),
            display_name: format!("Party {index}"),
            notes: common::NOTES.to_owned(),
            spot: common::id(&format!("p{}", index % 12)),
            shelter: (anglers > 2).then(|| common::id(&format!("hut{index}"))),
            anglers,
            first_day: first,
            last_day: first.saturating_add((index % 3).days()),
            goal: Some(Preset::ALL[usize::try_from(index % 3).unwrap()]),
            custom_goal: None,
            lure: common::id("lure"),
            fish: common::id("fish"),
            min_score: 0.1,
            min_headroom: Db::new(-6.0),
        }
    };
    let bookings: Vec<Booking> = (0..60).map(booking).collect();
    let huts = bookings.iter().filter_map(|booking| booking.shelter.clone());
    FleetInput {
        options: (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect(),
        units: (0..9).map(unit).collect(),
        spots: (0..12_i32)
            .map(|index| common::spot(&format!("p{index}"), 2.0 + 1.5 * f64::from(index), BottomClass::FineSand))
            .collect(),
        shelters: huts.map(|id| domain::Shelter { id, ..common::shelter(6.0, 4.5, 2) }).collect(),
        targets: vec![common::target("lure", TargetKind::Lure, -50.0), common::target("fish", TargetKind::Fish, -36.0)],
        goals: Vec::new(),
        bookings,
        sensors,
        budget: None,
        gap: DEFAULT_GAP,
        replan: Replan::default(),
    }
}

fn plans(c: &mut Criterion) {
    let input = input();
    let mut group = c.benchmark_group("fleet");
    group.sample_size(10);
    group.bench_function("plan, 60 bookings, 20 days, six sensors", |b| {
        b.iter(|| plan(&input, &Cancel::never()).unwrap())
    });
    group.finish();
}

criterion_group!(benches, plans);
criterion_main!(benches);
