//! Shelter rules: pages to pin up for each make of shelter, then tables.

mod door;
mod floor;
#[cfg(test)]
mod tests;
mod words;

use proto::v1::{BandRules, Shelter, ShelterRules, ShelterSheet};
use schemars::JsonSchema;
use serde::Serialize;

use super::told::MAX_NAME;
use crate::clean::clean;
use crate::error::ReportError;
use crate::wording::Wording;
pub use door::AtTheDoor;
use floor::{Plan, TapeRow};

/// Most makes of shelter in one report.
const MAX_SHEETS: usize = 300;

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
    number: u32,
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
    number: u32,
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

pub(super) fn view(rules: &ShelterRules, only: &[String], say: Wording<'_>) -> Result<View, ReportError> {
    let wanted = |sheet: &&ShelterSheet| {
        only.is_empty() || sheet.shelter.as_ref().is_some_and(|shelter| only.contains(&shelter.name))
    };
    let mut makes: Vec<(ShelterSheet, Vec<&ShelterSheet>)> = Vec::new();
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

/// A sheet with no more of its shelter than its page shows.
fn nameless(sheet: &ShelterSheet) -> ShelterSheet {
    let mut make = sheet.clone();
    if let Some(Shelter { floor_length_m, floor_width_m, floor_diameter_m, hole_radius_m, wall_clearance_m, .. }) =
        sheet.shelter
    {
        make.shelter = Some(Shelter {
            floor_length_m,
            floor_width_m,
            floor_diameter_m,
            hole_radius_m,
            wall_clearance_m,
            ..Shelter::default()
        });
    }
    make
}

fn sheet_view(rules: &ShelterRules, sheets: &[&ShelterSheet], say: Wording<'_>) -> Option<SheetView> {
    let (sheet, others) = sheets.split_first()?;
    let shelter = sheet.shelter.as_ref()?;
    let name = |shelter: &Shelter| clean(&shelter.display_name, MAX_NAME);
    Some(SheetView {
        name: name(shelter),
        others: others.iter().filter_map(|other| other.shelter.as_ref().map(name)).collect(),
        facts: floor::facts(rules, sheet, shelter, say),
        holds: words::holds(rules, sheet, shelter, say),
        plan: floor::plan(sheet, shelter, say),
        tape: floor::tape(sheet, shelter, say),
        tape_note: floor::tape_note(shelter, say),
        bands: sheet.bands.iter().map(|band| words::depths(band, say)).collect(),
        rows: (0..).zip(&rules.options).map(|(option, _)| row(rules, sheet, option, say)).collect(),
        mixing: sheet.bands.iter().filter_map(|band| words::mixing(sheet, band, say)).collect(),
        help: sheet.bands.iter().filter_map(|band| words::help(rules, band, say)).collect(),
        details: sheet.bands.iter().map(|band| detail(rules, band, say)).collect(),
    })
}

fn row(rules: &ShelterRules, sheet: &ShelterSheet, option: u32, say: Wording<'_>) -> Row {
    let cell = |band: &BandRules| {
        let rule = band.rules.iter().find(|rule| rule.option == option && rule.allowed);
        Cell { allowed: rule.is_some(), setting: rule.map(|rule| words::setting(rule, say)).unwrap_or_default() }
    };
    Row {
        number: option + 1,
        option: words::option_name(rules, option, say),
        cells: sheet.bands.iter().map(cell).collect(),
    }
}

fn detail(rules: &ShelterRules, band: &BandRules, say: Wording<'_>) -> Detail {
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
    Detail { band: words::depths(band, say), rows: rows.collect() }
}
