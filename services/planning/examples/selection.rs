#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a fixed, valid case"
)]
//! The benched case as JSON: its records, the figures of every option at every spot, and how many evaluations a second one core does.
//!
//! `cargo run --release -p planning --example selection`; `tests/reference/speed.py` sets its own figures and times beside these.

#[path = "../tests/common/mod.rs"]
mod common;

use std::time::Instant;

use acoustics::ice::{USUAL_THICKNESS, sheet_loss};
use acoustics::units::Metres;
use domain::selection::{ExplainStep, RunInput};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Spot, TargetShape};
use planning::selection::{Perturbation, Prepared, Scratch};
use planning::{explain, layout};
use serde_json::{Map, Value, json};

const SPOTS: u32 = 256;
const OPTIONS: u32 = 24;
const DRAWS: u32 = 256;
/// How long each speed is measured, s.
const SECONDS: f64 = 3.0;

/// What an explanation says of the levels, which the finding itself leaves out.
const LEVELS: [&str; 4] = ["source_level_db", "lure_beam_db", "lure_echo_db", "bottom_echo_db"];

fn main() {
    let benched = common::shared_by_five(SPOTS, OPTIONS, 0);
    let drawn = Perturbation {
        beam_scale: 1.1,
        source: -1.5,
        threshold: 2.0,
        lure: 2.5,
        fish: -3.0,
        bottom: 4.0,
        plants: -5.0,
        tilt: [0.03, -0.02],
        ..Perturbation::NONE
    };
    let shelter = benched.shelter.clone().unwrap();
    let holes: Vec<[f64; 2]> =
        layout::holes(&shelter, &Cancel::never()).unwrap().iter().map(|hole| [hole.x.get(), hole.y.get()]).collect();
    let told = json!({
        "holes_m": holes,
        "options": benched.sensors.iter().map(option).collect::<Vec<_>>(),
        "lure_db": strength(&benched.lure.shape),
        "fish_db": strength(&benched.fish.shape),
        "lure_margin_db": benched.settings.lure_margin.get(),
        "strong_mark_db": benched.settings.strong_mark.get(),
        "tolerance": benched.settings.interference_tolerance,
        "sets": [
            set("as benched", &benched, &Perturbation::NONE),
            set("plants", &overgrown(), &Perturbation::NONE),
            set("the same, one draw of the uncertain inputs", &overgrown(), &drawn),
        ],
        "speed": speed(&benched),
    });
    println!("{told}");
}

/// Level spots with plants; slopes and boulders are held by other scripts.
fn overgrown() -> RunInput {
    let mut input = common::shared_by_five(12, OPTIONS, 0);
    let densities = [CanopyDensity::Sparse, CanopyDensity::Moderate, CanopyDensity::Dense];
    for ((index, spot), density) in (0_u32..).zip(&mut input.spots).zip(densities.into_iter().cycle()) {
        let index = f64::from(index);
        spot.canopy = Some(Canopy { height: Metres::new(0.2 + 0.1 * index), density, volume_strength: None });
    }
    // Drawn plants need a run that asks for draws, as its tables then reach further.
    input.settings.draws = 1;
    input
}

fn strength(shape: &TargetShape) -> f64 {
    match shape {
        TargetShape::Known(known) => known.value.get(),
        _ => f64::NAN,
    }
}

/// What an option of the benched sensors is; all else is alike.
fn option(sensor: &domain::Sensor) -> Value {
    let option = &sensor.options[0];
    let domain::PatternKind::CircularPiston { beamwidth } = &option.pattern else { return Value::Null };
    let domain::Source::Power { electrical, kind, efficiency } = &option.source else { return Value::Null };
    json!({
        "beamwidth_deg": beamwidth.value.full.to_degrees(),
        "floor_db": option.floor.value.get(),
        "frequency_hz": option.frequency.value.get(),
        "acoustic_power_w": domain::sensor::rms(electrical.value, *kind).get() * efficiency.value,
        "pulse_s": option.pulse_length.value.get(),
        "bandwidth_hz": option.receiver_bandwidth.value.get(),
        "threshold_db": sensor.threshold.value.get(),
        "max_gain_db": sensor.max_gain.value.get(),
        "receiver_noise_db": sensor.receiver_noise.value.get(),
        "interval_s": sensor.ping_interval.value.get(),
        // A constant here: second.py has it from impedances.
        "ice_loss_db": sheet_loss(USUAL_THICKNESS, option.frequency.value, option.receiver_bandwidth.value).unwrap().get(),
    })
}

fn place(spot: &Spot) -> Value {
    json!({
        "depth_m": spot.depth.get(),
        "bottom": BottomClass::ALL.iter().position(|class| *class == spot.bottom),
        "lure_height_m": spot.lure_height.get(),
        "lure_offset_m": spot.hole_radius.get(),
        "layer_top_m": spot.fish_layer.top.get(),
        "layer_bottom_m": spot.fish_layer.bottom.get(),
        "bottom_temperature_c": spot.bottom_temperature.get(),
        "canopy": spot.canopy.map(|canopy| [canopy.height.get(), canopy.density.volume_strength().get()]),
    })
}

/// The spots of a run, a shift, and every figure as rows of options, one row a spot.
fn set(name: &str, input: &RunInput, shift: &Perturbation) -> Value {
    let prepared = Prepared::new(input, &Cancel::never()).unwrap();
    let mut tables: Map<String, Value> = Map::new();
    for spot in 0..prepared.spot_count() {
        let mut row: Map<String, Value> = Map::new();
        for option in 0..prepared.option_count() {
            for (name, value) in figures(&prepared, spot, option, shift) {
                let list = row.entry(name).or_insert_with(|| Value::Array(Vec::new()));
                list.as_array_mut().unwrap().push(json!(value));
            }
        }
        for (name, values) in row {
            let rows = tables.entry(name).or_insert_with(|| Value::Array(Vec::new()));
            rows.as_array_mut().unwrap().push(values);
        }
    }
    json!({
        "name": name,
        "spots": input.spots.iter().map(place).collect::<Vec<_>>(),
        "shift": {
            "beam_scale": shift.beam_scale, "source_db": shift.source, "threshold_db": shift.threshold,
            "lure_db": shift.lure, "fish_db": shift.fish, "bottom_db": shift.bottom, "plants_db": shift.plants,
            "tilt_rad": shift.tilt,
        },
        "figures": tables,
    })
}

fn figures(prepared: &Prepared, spot: usize, option: usize, shift: &Perturbation) -> Vec<(String, Option<f64>)> {
    let figures = prepared.figures(spot, option, shift).unwrap();
    let (criteria, gains) = (figures.criteria(), figures.gains());
    let mut told = vec![
        ("lure_gain_db", Some(gains.lure.get())),
        ("bottom_gain_db", Some(gains.bottom.get())),
        ("working_gain_db", Some(gains.working.get())),
        ("clear_gain_db", gains.clear.map(|gain| gain.get())),
        ("search_gain_db", Some(gains.search.get())),
        ("coverage_radius_m", Some(criteria.coverage_radius.get())),
        ("watch_footprint_m", Some(criteria.watch_footprint.get())),
        ("dead_zone_height_m", Some(criteria.dead_zone_height.get())),
        ("lure_over_vegetation_db", criteria.lure_over_vegetation.map(|ratio| ratio.get())),
        ("score", Some(figures.score())),
    ];
    // An explanation is of the figures as recorded, never of a draw.
    if *shift == Perturbation::NONE {
        let tree = explain(prepared, spot, option).unwrap();
        told.extend(LEVELS.map(|name| (name, value(&tree, name))));
    }
    told.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

/// The first value under a name.
fn value(step: &ExplainStep, name: &str) -> Option<f64> {
    if step.name == name { step.value } else { step.inputs.iter().find_map(|input| value(input, name)) }
}

/// One core, nothing shared with other threads but for the preparation.
fn speed(input: &RunInput) -> Value {
    let start = Instant::now();
    let prepared = Prepared::new(input, &Cancel::never()).unwrap();
    let preparation = start.elapsed().as_secs_f64();
    let mut scratch = Scratch::new();
    let all = rate(f64::from(SPOTS * OPTIONS), || {
        for spot in 0..prepared.spot_count() {
            prepared.score_spot(spot, &mut scratch).unwrap();
        }
    });
    let prepared = Prepared::new(&common::shared_by_five(SPOTS, OPTIONS, DRAWS), &Cancel::never()).unwrap();
    let drawn = rate(f64::from(DRAWS * OPTIONS), || {
        prepared.uncertainty(100, &mut scratch, &Cancel::never()).unwrap();
    });
    json!({ "preparation_s": preparation, "evaluations_per_s": all, "draws": DRAWS, "drawn_per_s": drawn })
}

/// The best of repeated rounds: on a shared machine the others only add what is not ours.
fn rate(count: f64, mut round: impl FnMut()) -> f64 {
    let (start, mut best) = (Instant::now(), f64::INFINITY);
    while start.elapsed().as_secs_f64() < SECONDS {
        let round_start = Instant::now();
        round();
        best = best.min(round_start.elapsed().as_secs_f64());
    }
    count / best
}
