//! A survey yet to be made: a sheet to take onto the ice.

use acoustics::units::Metres;
use serde::{Deserialize, Serialize};

use super::{MAX_NAME, MAX_TEXT};
use crate::clean::clean;
use crate::length::Lengths;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Draft {
    sensor_display_name: String,
    beam: String,
    target_display_name: String,
    depth_m: f64,
    offsets_m: Vec<f64>,
    depths_m: Vec<f64>,
    cells: Vec<Cell>,
    steps: Vec<String>,
    can_tell: Vec<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Cell {
    expected_dial: String,
}

#[derive(Debug, Serialize)]
pub(super) struct View {
    facts: Vec<String>,
    /// Holes, numbered from one end, with their distances from the transducer's.
    holes: Vec<Hole>,
    /// Half the length of the line, for drawing.
    reach: f64,
    rows: Vec<Row>,
    steps: Vec<String>,
    can_tell: Vec<String>,
    alt: String,
}

#[derive(Debug, Serialize)]
struct Hole {
    at: f64,
    label: String,
}

#[derive(Debug, Serialize)]
struct Row {
    depth: String,
    /// Where the dial is expected to show the target first; empty where it never does.
    expected: Vec<String>,
}

pub(super) fn view(draft: &Draft, lengths: Lengths) -> View {
    let text = |metres: f64| lengths.text(Metres::new(metres));
    let holes: Vec<Hole> = draft
        .offsets_m
        .iter()
        .map(|offset| Hole { at: lengths.value(Metres::new(*offset)), label: signed(*offset, lengths) })
        .collect();
    View {
        facts: vec![
            format!("{} · {}", clean(&draft.sensor_display_name, MAX_NAME), clean(&draft.beam, MAX_NAME)),
            format!("target: {}", clean(&draft.target_display_name, MAX_NAME)),
            format!("water {} deep", text(draft.depth_m)),
        ],
        reach: holes.iter().map(|hole| hole.at.abs()).fold(0.0, f64::max),
        rows: draft
            .depths_m
            .iter()
            .zip(draft.cells.chunks(draft.offsets_m.len().max(1)))
            .map(|(depth, cells)| Row {
                depth: text(*depth),
                expected: cells.iter().map(|cell| clean(&cell.expected_dial, 12)).collect(),
            })
            .collect(),
        steps: draft.steps.iter().map(|step| clean(step, MAX_TEXT)).collect(),
        can_tell: draft.can_tell.iter().map(|line| clean(line, MAX_TEXT)).collect(),
        alt: format!("A straight line of {} holes, to scale, the transducer's in the middle.", holes.len()),
        holes,
    }
}

/// `−0.85`, `0`, `+0.85`: distances along the line, in the reader's unit.
fn signed(offset: f64, lengths: Lengths) -> String {
    let value = lengths.value(Metres::new(offset));
    if value == 0.0 {
        return "0".to_owned();
    }
    let sign = if value < 0.0 { '−' } else { '+' };
    format!("{sign}{:.2}", value.abs())
}
