//! The appendix: every figure behind the option that each spot's page is about, indented under the figure that it goes into.

use std::collections::HashSet;

use domain::selection::{ExplainStep, Origin};
use schemars::JsonSchema;
use serde::Serialize;

use super::names::{MAX_NAME, beam_name, option_of, sensor_name};
use super::subject::{Comparison, SpotPicture};
use crate::clean::clean;
use crate::wording::Wording;

/// The figures behind the option of one spot's page.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Derivation {
    spot: String,
    option: String,
    rows: Vec<Row>,
}

/// One figure.
#[derive(Debug, Serialize, JsonSchema)]
struct Row {
    /// How deep it stands in the tree, from 0.
    depth: u8,
    title: String,
    symbol: &'static str,
    /// With its unit, in the marks of the language; empty for a heading.
    value: String,
    formula: &'static str,
    /// Publication, or where a recorded figure comes from.
    source: String,
    /// Whether the source is told as it was published, in English.
    published: bool,
    text: String,
}

/// The working of a spot; none where it was not asked for.
pub(super) fn working(report: &Comparison, picture: &SpotPicture, say: Wording<'_>) -> Option<Derivation> {
    let root = picture.working.as_ref()?;
    let (sensor, option) = option_of(&report.input, picture.told.as_ref()?.finding.option)?;
    let mut rows = Vec::new();
    flatten(root, 0, say, &mut HashSet::new(), &mut rows);
    Some(Derivation {
        spot: clean(&report.input.spots.get(picture.spot)?.display_name, MAX_NAME),
        option: format!("{} · {}", sensor_name(sensor), beam_name(option, say)),
        rows,
    })
}

/// Rows of a figure and of what it is made from; what is behind a figure that was met before is not told again.
fn flatten<'a>(
    step: &'a ExplainStep,
    depth: u8,
    say: Wording<'_>,
    met: &mut HashSet<(&'a str, Option<u64>)>,
    rows: &mut Vec<Row>,
) {
    let value = step.value.map_or_else(String::new, |value| say.figures(&figure(value), MAX_NAME));
    rows.push(Row {
        depth,
        title: say.sentence(&step.title),
        symbol: step.symbol,
        value: if step.unit.is_empty() || value.is_empty() { value } else { format!("{value} {}", step.unit) },
        formula: step.formula,
        published: matches!(step.source, Some(Origin::Published(_))),
        source: match step.source {
            Some(Origin::Published(text)) => text.to_owned(),
            Some(Origin::Said(key)) => say.word(key),
            None => String::new(),
        },
        text: say.sentences(&step.text),
    });
    if step.inputs.is_empty() || !met.insert((&step.name, step.value.map(f64::to_bits))) {
        return;
    }
    for input in &step.inputs {
        flatten(input, depth.saturating_add(1), say, met, rows);
    }
}

/// Four significant digits, with a true minus sign.
fn figure(value: f64) -> String {
    let magnitude = value.abs();
    let written = if value == 0.0 {
        "0".to_owned()
    } else if !(1e-4..1e7).contains(&magnitude) {
        format!("{value:.3e}")
    } else {
        let decimals = match magnitude {
            m if m >= 1000.0 => 0,
            m if m >= 100.0 => 1,
            m if m >= 10.0 => 2,
            m if m >= 0.1 => 3,
            _ => 5,
        };
        format!("{value:.decimals$}")
    };
    written.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::figure;

    #[test]
    fn figures_have_four_digits() {
        let cases = [
            (0.0, "0"),
            (1416.32, "1416"),
            (-36.0, "−36.00"),
            (0.0157, "0.01570"),
            (0.5, "0.500"),
            (2.5e-7, "2.500e−7"),
        ];
        for (value, written) in cases {
            assert_eq!(figure(value), written);
        }
    }
}
