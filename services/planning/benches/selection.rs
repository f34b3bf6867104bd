//! Speed of the kernel: one option at one spot, all four criteria, in a shelter of five; and of a draw of the uncertainty.
//!
//! `cargo bench -p planning`. Figures are read by people; nothing asserts a time.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_possible_truncation, reason = "a benchmark")]

#[path = "../tests/common/mod.rs"]
mod common;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use domain::Cancel;
use domain::selection::RunInput;
use planning::selection::{Prepared, Scratch};
use rayon::prelude::*;

/// Of all bottoms, from 2 to 30 m.
const SPOTS: usize = 256;
/// Beams from 6° to 52°.
const OPTIONS: usize = 24;

fn input(draws: u32) -> RunInput {
    common::shared_by_five(SPOTS as u32, OPTIONS as u32, draws)
}

fn evaluations(c: &mut Criterion) {
    let prepared = Prepared::new(&input(0), &Cancel::never()).unwrap();
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
        b.iter(|| Prepared::new(&input, &Cancel::never()).unwrap());
    });
    group.finish();
}

fn draws(c: &mut Criterion) {
    const DRAWS: u32 = 256;
    let prepared = Prepared::new(&input(DRAWS), &Cancel::never()).unwrap();
    let mut group = c.benchmark_group("draws");
    group.throughput(Throughput::Elements(u64::from(DRAWS) * OPTIONS as u64));
    group.bench_function("one core, one spot, 24 options, shelter of five", |b| {
        let mut scratch = Scratch::new();
        b.iter(|| prepared.uncertainty(100, &mut scratch, &Cancel::never()).unwrap());
    });
    group.finish();
}

criterion_group!(benches, evaluations, preparation, draws);
criterion_main!(benches);
