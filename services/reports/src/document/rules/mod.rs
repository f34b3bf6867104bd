//! Shelter rules: pages to pin up for each make of shelter, then tables.

mod floor;
#[cfg(test)]
mod tests;
mod words;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{MAX_NAME, Sentence};
use crate::clean::clean;
use crate::error::ReportError;
use crate::wording::Wording;
use floor::{Plan, TapeRow};

/// Most makes of shelter in one report.
const MAX_SHEETS: usize = 300;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Rules {
    spec: Spec,
    options: Vec<RuledOption>,
    sheets: Vec<Sheet>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Spec {
    lure: String,
    bottom_classes: Vec<String>,
    interference_tolerance: Option<f64>,
    next_shelter_m: Option<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct RuledOption {
    sensor_display_name: String,
    beam: String,
    unlisted: Option<Unlisted>,
}

/// A class of units that are not listed.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Unlisted {
    narrowest_deg: f64,
    widest_deg: f64,
    lowest_khz: f64,
    highest_khz: f64,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Sheet {
    shelter: Shelter,
    people: u32,
    holes: Vec<Hole>,
    spacing_m: f64,
    bands: Vec<Band>,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Shelter {
    name: String,
    display_name: String,
    floor_length_m: f64,
    floor_width_m: f64,
    floor_diameter_m: f64,
    hole_radius_m: f64,
    wall_clearance_m: f64,
}

#[derive(Debug, Default, Clone, Copy, PartialEq, Deserialize)]
#[serde(default)]
struct Hole {
    x_m: f64,
    y_m: f64,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Band {
    band: Depths,
    rules: Vec<Rule>,
    mixes: Vec<Mix>,
    help: Option<Help>,
    holds_beyond_m: Option<f64>,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Depths {
    shallow_m: f64,
    deep_m: f64,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Rule {
    option: usize,
    allowed: bool,
    refusal: String,
    missing_db: f64,
    start_gain_db: f64,
    start_dial: String,
    start_depth_m: f64,
    highest_gain_db: f64,
    highest_dial: String,
    limiting_depth_m: Option<f64>,
    limiting_bottom: String,
    least_spacing_m: Option<f64>,
    most_people: u32,
    alike_highest_gain_db: f64,
    alike_highest_dial: String,
    start: Option<Sentence>,
    highest: Option<Sentence>,
}

#[derive(Debug, Default, Clone, Copy, PartialEq, Deserialize)]
#[serde(default)]
struct Mix {
    first: usize,
    second: usize,
}

#[derive(Debug, Default, Clone, PartialEq, Deserialize)]
#[serde(default)]
struct Help {
    kind: String,
    option: usize,
    marks: u32,
    pings: u32,
    lower_db: f64,
    people: u32,
    clear_m: Option<f64>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct View {
    /// One a make of shelter, in the order of the rules: shelters with the same floor, holes and rules share theirs.
    sheets: Vec<SheetView>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct SheetView {
    name: String,
    /// Other shelters that it holds for.
    others: Vec<String>,
    /// Party, spacing and floor, a line each.
    facts: Vec<String>,
    /// What the rules hold for, a line each: lure, bottoms, holes, tolerance, other shelters.
    holds: Vec<String>,
    plan: Plan,
    /// Where the holes go, by tape from the marks A and B of the plan.
    tape: Vec<TapeRow>,
    /// What A and B are.
    tape_note: String,
    /// Heads of the columns: one a band of depth.
    bands: Vec<String>,
    rows: Vec<Row>,
    /// Sentences on mixing; options are named by the numbers of their rows.
    mixing: Vec<String>,
    /// What helps where nothing is allowed.
    help: Vec<String>,
    details: Vec<Detail>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Row {
    number: usize,
    option: String,
    cells: Vec<Cell>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Cell {
    allowed: bool,
    /// Where to start and where never to go above; empty where it is not allowed.
    setting: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Detail {
    band: String,
    rows: Vec<DetailRow>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct DetailRow {
    number: usize,
    option: String,
    allowed: bool,
    start: String,
    highest: String,
    /// The highest gain where all have this option.
    alike: String,
    limit: String,
    spacing: String,
    people: String,
    why: String,
}

pub(super) fn view(rules: &Rules, only: &[String], say: Wording<'_>) -> Result<View, ReportError> {
    let wanted = |sheet: &&Sheet| only.is_empty() || only.contains(&sheet.shelter.name);
    let mut makes: Vec<(Sheet, Vec<&Sheet>)> = Vec::new();
    for sheet in rules.sheets.iter().filter(wanted) {
        let make = nameless(sheet);
        match makes.iter_mut().find(|(known, _)| *known == make) {
            Some((_, sheets)) => sheets.push(sheet),
            None => makes.push((make, vec![sheet])),
        }
    }
    if makes.len() > MAX_SHEETS {
        return Err(ReportError::TooMuch(format!(
            "a report holds at most {MAX_SHEETS} makes of shelter, and the rules have {}; name the shelters to report on",
            makes.len()
        )));
    }
    Ok(View { sheets: makes.iter().filter_map(|(_, sheets)| sheet_view(rules, sheets, say)).collect() })
}

/// A sheet without the names of its shelter.
fn nameless(sheet: &Sheet) -> Sheet {
    let mut make = sheet.clone();
    (make.shelter.name, make.shelter.display_name) = (String::new(), String::new());
    make
}

fn sheet_view(rules: &Rules, sheets: &[&Sheet], say: Wording<'_>) -> Option<SheetView> {
    let (sheet, others) = sheets.split_first()?;
    let name = |sheet: &&Sheet| clean(&sheet.shelter.display_name, MAX_NAME);
    let band_name = |band: &Band| words::depths(&band.band, say);
    Some(SheetView {
        name: name(sheet),
        others: others.iter().map(name).collect(),
        facts: floor::facts(sheet, rules.spec.next_shelter_m, say),
        holds: words::holds(rules, sheet, say),
        plan: floor::plan(sheet, say),
        tape: floor::tape(sheet, say),
        tape_note: floor::tape_note(sheet, say),
        bands: sheet.bands.iter().map(band_name).collect(),
        rows: (0..rules.options.len()).map(|option| row(rules, sheet, option, say)).collect(),
        mixing: sheet.bands.iter().filter_map(|band| words::mixing(sheet, band, say)).collect(),
        help: sheet.bands.iter().filter_map(|band| words::help(rules, band, say)).collect(),
        details: sheet.bands.iter().map(|band| detail(rules, band, say)).collect(),
    })
}

fn row(rules: &Rules, sheet: &Sheet, option: usize, say: Wording<'_>) -> Row {
    let cell = |band: &Band| {
        let rule = band.rules.iter().find(|rule| rule.option == option && rule.allowed);
        Cell { allowed: rule.is_some(), setting: rule.map(|rule| words::setting(rule, say)).unwrap_or_default() }
    };
    Row {
        number: option + 1,
        option: words::option_name(rules, option, say),
        cells: sheet.bands.iter().map(cell).collect(),
    }
}

fn detail(rules: &Rules, band: &Band, say: Wording<'_>) -> Detail {
    let rows = band.rules.iter().map(|rule| {
        let none = || "–".to_owned();
        // What is not allowed has no figures that could be taken for a permit.
        let figure = |text: &dyn Fn() -> String| if rule.allowed { text() } else { none() };
        DetailRow {
            number: rule.option + 1,
            option: words::option_name(rules, rule.option, say),
            allowed: rule.allowed,
            start: figure(&|| words::with_gain(&rule.start_dial, rule.start_gain_db, say)),
            highest: figure(&|| words::with_gain(&rule.highest_dial, rule.highest_gain_db, say)),
            alike: figure(&|| words::with_gain(&rule.alike_highest_dial, rule.alike_highest_gain_db, say)),
            limit: figure(&|| words::limit(rule, say)),
            spacing: figure(&|| rule.least_spacing_m.map_or_else(none, |spacing| say.metres(spacing))),
            people: figure(&|| rule.most_people.to_string()),
            why: words::why(rule, say),
        }
    });
    Detail { band: words::depths(&band.band, say), rows: rows.collect() }
}
