//! Speed of the kernel: one option at one spot, all four criteria, in a shelter of five; and of a draw of the uncertainty.
//!
//! `cargo bench -p planning`. Figures are read by people; nothing asserts a time.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, reason = "a benchmark")]

#[path = "../tests/common/mod.rs"]
mod common;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use planning::domain::BottomClass;
use planning::domain::selection::RunInput;
use planning::selection::{Prepared, Scratch};
use rayon::prelude::*;

const SPOTS: usize = 256;
const OPTIONS: usize = 24;

/// 256 spots of all bottoms and 24 beams from 6° to 52°, shared by five.
fn input(draws: u32) -> RunInput {
    let spots = (0..SPOTS)
        .map(|i| {
            let depth = 2.0 + 28.0 * (i as f64) / (SPOTS as f64);
            let mut spot = common::spot("s", depth, BottomClass::ALL[i % BottomClass::ALL.len()]);
            spot.id = common::id(&format!("s{i}"));
            spot
        })
        .collect();
    let sensors = (0..OPTIONS).map(|i| common::piston(&format!("p{i}"), 6.0 + 2.0 * i as f64)).collect();
    let mut input = common::run(spots, sensors);
    input.shelter = Some(common::shelter(4.2, 2.4, 5));
    input.settings.draws = draws;
    input
}

fn evaluations(c: &mut Criterion) {
    let prepared = Prepared::new(&input(0)).unwrap();
    let mut group = c.benchmark_group("evaluations");
    group.throughput(Throughput::Elements((SPOTS * OPTIONS) as u64));
    let one_core = |scratch: &mut Scratch| {
        for spot in 0..SPOTS {
            prepared.score_spot(spot, scratch).unwrap();
        }
    };
    group.bench_function("one core, shelter of five", |b| {
        let mut scratch = Scratch::new();
        b.iter(|| one_core(&mut scratch));
    });
    group.bench_function("all cores, shelter of five", |b| {
        b.iter(|| {
            (0..SPOTS).into_par_iter().for_each_init(Scratch::new, |scratch, spot| {
                prepared.score_spot(spot, scratch).unwrap();
            });
        });
    });
    group.finish();
}

fn preparation(c: &mut Criterion) {
    let input = input(0);
    let mut group = c.benchmark_group("preparation");
    group.sample_size(10);
    group.bench_function("tables for 256 spots of ten bottoms and 24 options, shelter of five", |b| {
        b.iter(|| Prepared::new(&input).unwrap());
    });
    group.finish();
}

fn draws(c: &mut Criterion) {
    const DRAWS: u32 = 256;
    let prepared = Prepared::new(&input(DRAWS)).unwrap();
    let mut group = c.benchmark_group("draws");
    group.throughput(Throughput::Elements(u64::from(DRAWS) * OPTIONS as u64));
    group.bench_function("one core, one spot, 24 options, shelter of five", |b| {
        let mut scratch = Scratch::new();
        b.iter(|| prepared.uncertainty(100, &mut scratch).unwrap());
    });
    group.finish();
}

criterion_group!(benches, evaluations, preparation, draws);
criterion_main!(benches);
