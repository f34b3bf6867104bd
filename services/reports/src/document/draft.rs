//! A survey yet to be made: a sheet to take onto the ice.

use acoustics::units::Metres;
use proto::v1::BeamSurveyDraft;
use schemars::JsonSchema;
use serde::Serialize;

use super::told::{MAX_NAME, MAX_READING, option_name, tell};
use crate::clean::clean;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
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

#[derive(Debug, Serialize, JsonSchema)]
struct Hole {
    at: f64,
    label: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Row {
    depth: String,
    /// Where the dial is expected to show the target first; empty where it never does.
    expected: Vec<String>,
}

pub(super) fn view(draft: &BeamSurveyDraft, say: Wording<'_>) -> View {
    let holes: Vec<Hole> = draft
        .offsets_m
        .iter()
        .map(|offset| Hole { at: say.value(Metres::new(*offset)), label: signed(*offset, say) })
        .collect();
    View {
        facts: vec![
            option_name(&draft.sensor_display_name, &draft.beam, say),
            say.say("fact-target", [("target", clean(&draft.target_display_name, MAX_NAME))]),
            say.say("fact-water", [("depth", say.metres(draft.depth_m))]),
        ],
        reach: holes.iter().map(|hole| hole.at.abs()).fold(0.0, f64::max),
        rows: draft
            .depths_m
            .iter()
            .zip(draft.cells.chunks(draft.offsets_m.len().max(1)))
            .map(|(depth, cells)| Row {
                depth: say.metres(*depth),
                expected: cells.iter().map(|cell| say.figures(&cell.expected_dial, MAX_READING)).collect(),
            })
            .collect(),
        steps: tell(&draft.step_sentences, say),
        can_tell: tell(&draft.can_tell_sentences, say),
        alt: say.say("alt-hole-line", [("holes", say.count("holes", holes.len()))]),
        holes,
    }
}

/// `−0.85`, `0`, `+0.85`: distances along the line, in the reader's unit.
fn signed(offset: f64, say: Wording<'_>) -> String {
    let value = say.value(Metres::new(offset));
    if value == 0.0 {
        return "0".to_owned();
    }
    let sign = if value < 0.0 { '−' } else { '+' };
    format!("{sign}{}", say.fixed(value.abs(), 2))
}
