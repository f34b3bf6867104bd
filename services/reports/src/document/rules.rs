//! Shelter rules: a page to pin up for each shelter, then tables.

use acoustics::units::Metres;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{MAX_NAME, MAX_READING, Mark, dial};
use crate::clean::clean;
use crate::error::ReportError;
use crate::length::ticks;
use crate::wording::Wording;

/// Most shelters in one report.
const MAX_SHEETS: usize = 300;
/// Corners of a round floor as it is drawn.
const CORNERS: u32 = 72;
/// Options named in a sentence on mixing.
const MIXES_NAMED: usize = 6;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Rules {
    options: Vec<RuledOption>,
    sheets: Vec<Sheet>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct RuledOption {
    sensor_display_name: String,
    beam: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Sheet {
    shelter: Shelter,
    people: u32,
    holes: Vec<Hole>,
    spacing_m: f64,
    bands: Vec<Band>,
}

#[derive(Debug, Default, Deserialize)]
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

#[derive(Debug, Default, Clone, Copy, Deserialize)]
#[serde(default)]
struct Hole {
    x_m: f64,
    y_m: f64,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Band {
    band: Depths,
    rules: Vec<Rule>,
    mixes: Vec<Mix>,
    help: Option<Help>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Depths {
    shallow_m: f64,
    deep_m: f64,
}

#[derive(Debug, Default, Deserialize)]
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
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Mix {
    first: usize,
    second: usize,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Help {
    kind: String,
    option: usize,
    marks: u32,
    pings: u32,
    lower_db: f64,
    people: u32,
}

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct View {
    /// One a shelter, in the order of the rules.
    sheets: Vec<SheetView>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct SheetView {
    name: String,
    /// Party, spacing and floor, in a line.
    facts: Vec<String>,
    plan: Plan,
    /// Heads of the columns: one a band of depth.
    bands: Vec<String>,
    rows: Vec<Row>,
    /// Sentences on mixing.
    mixing: Vec<String>,
    /// What helps where nothing is allowed.
    help: Vec<String>,
    details: Vec<Detail>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Plan {
    width: f64,
    height: f64,
    floor: Vec<(f64, f64)>,
    holes: Vec<(f64, f64)>,
    hole_radius: f64,
    /// The two nearest holes, with their distance in words.
    nearest: Option<Nearest>,
    ticks: Vec<Mark>,
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Nearest {
    from: (f64, f64),
    to: (f64, f64),
    label: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Row {
    option: String,
    cells: Vec<Cell>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Cell {
    allowed: bool,
    start: String,
    highest: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Detail {
    band: String,
    rows: Vec<DetailRow>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct DetailRow {
    option: String,
    allowed: bool,
    start: String,
    highest: String,
    limit: String,
    spacing: String,
    people: String,
    why: String,
}

pub(super) fn view(rules: &Rules, only: &[String], say: Wording<'_>) -> Result<View, ReportError> {
    let wanted = |sheet: &&Sheet| only.is_empty() || only.contains(&sheet.shelter.name);
    let sheets: Vec<_> = rules.sheets.iter().filter(wanted).map(|sheet| sheet_view(rules, sheet, say)).collect();
    if sheets.len() > MAX_SHEETS {
        return Err(ReportError::TooMuch(format!(
            "a report holds at most {MAX_SHEETS} shelters, and the rules have {}; name the shelters to report on",
            sheets.len()
        )));
    }
    Ok(View { sheets })
}

fn sheet_view(rules: &Rules, sheet: &Sheet, say: Wording<'_>) -> SheetView {
    let band_name = |band: &Band| depths(&band.band, say);
    SheetView {
        name: clean(&sheet.shelter.display_name, MAX_NAME),
        facts: facts(sheet, say),
        plan: plan(sheet, say),
        bands: sheet.bands.iter().map(band_name).collect(),
        rows: (0..rules.options.len()).map(|option| row(rules, sheet, option, say)).collect(),
        mixing: sheet.bands.iter().filter_map(|band| mixing(rules, sheet, band, say)).collect(),
        help: sheet.bands.iter().filter_map(|band| help(rules, band, say)).collect(),
        details: sheet.bands.iter().map(|band| detail(rules, band, say)).collect(),
    }
}

fn facts(sheet: &Sheet, say: Wording<'_>) -> Vec<String> {
    let shelter = &sheet.shelter;
    let both = |metres: f64| say.both(Metres::new(metres));
    let floor = if shelter.floor_diameter_m > 0.0 {
        say.say("fact-floor-round", [("across", both(shelter.floor_diameter_m))])
    } else {
        let (length, width) = (both(shelter.floor_length_m), both(shelter.floor_width_m));
        say.say("fact-floor", [("length", length), ("width", width)])
    };
    let mut facts = vec![say.count("anglers", usize::try_from(sheet.people).unwrap_or(0))];
    if sheet.spacing_m > 0.0 {
        facts.push(say.say("fact-spacing", [("spacing", both(sheet.spacing_m))]));
    }
    facts.push(floor);
    facts
}

fn depths(band: &Depths, say: Wording<'_>) -> String {
    let short = |metres: f64| say.short(Metres::new(metres));
    format!("{}–{} {}", short(band.shallow_m), short(band.deep_m), say.unit())
}

fn plan(sheet: &Sheet, say: Wording<'_>) -> Plan {
    let shelter = &sheet.shelter;
    let value = |metres: f64| say.value(Metres::new(metres));
    let round = shelter.floor_diameter_m > 0.0;
    let (width, height) = if round {
        (shelter.floor_diameter_m, shelter.floor_diameter_m)
    } else {
        (shelter.floor_length_m, shelter.floor_width_m)
    };
    let floor = if round {
        let radius = 0.5 * width;
        let corner = |i: u32| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(CORNERS);
            (value(radius * (1.0 + libm::cos(angle))), value(radius * (1.0 + libm::sin(angle))))
        };
        (0..CORNERS).map(corner).collect()
    } else {
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)].map(|(x, y)| (value(x), value(y))).to_vec()
    };
    Plan {
        width: value(width),
        height: value(height),
        floor,
        holes: sheet.holes.iter().map(|hole| (value(hole.x_m), value(hole.y_m))).collect(),
        hole_radius: value(if shelter.hole_radius_m > 0.0 { shelter.hole_radius_m } else { 0.1 }),
        nearest: nearest(&sheet.holes).map(|(a, b, distance)| Nearest {
            from: (value(a.x_m), value(a.y_m)),
            to: (value(b.x_m), value(b.y_m)),
            label: say.metres(distance),
        }),
        ticks: ticks(value(width), 5.0).into_iter().map(|at| Mark { at, label: say.number(at, 1) }).collect(),
        alt: say.say(
            "alt-floor",
            [("holes", say.count("holes", sheet.holes.len())), ("clearance", say.metres(shelter.wall_clearance_m))],
        ),
    }
}

/// The two holes that are closest together.
fn nearest(holes: &[Hole]) -> Option<(Hole, Hole, f64)> {
    let pairs = holes.iter().enumerate().flat_map(|(i, a)| holes.iter().skip(i + 1).map(move |b| (*a, *b)));
    pairs.map(|(a, b)| (a, b, libm::hypot(a.x_m - b.x_m, a.y_m - b.y_m))).min_by(|one, other| one.2.total_cmp(&other.2))
}

fn option_name(rules: &Rules, option: usize, say: Wording<'_>) -> String {
    rules
        .options
        .get(option)
        .map_or_else(String::new, |known| super::option_name(&known.sensor_display_name, &known.beam, say))
}

fn row(rules: &Rules, sheet: &Sheet, option: usize, say: Wording<'_>) -> Row {
    let cell = |band: &Band| {
        let rule = band.rules.iter().find(|rule| rule.option == option);
        Cell {
            allowed: rule.is_some_and(|rule| rule.allowed),
            start: rule.map(|rule| dial(&rule.start_dial, rule.start_gain_db, say)).unwrap_or_default(),
            highest: rule.map(|rule| dial(&rule.highest_dial, rule.highest_gain_db, say)).unwrap_or_default(),
        }
    };
    Row { option: option_name(rules, option, say), cells: sheet.bands.iter().map(cell).collect() }
}

fn mixing(rules: &Rules, sheet: &Sheet, band: &Band, say: Wording<'_>) -> Option<String> {
    if sheet.people < 2 || band.rules.iter().filter(|rule| rule.allowed).count() < 2 {
        return None;
    }
    let depth = depths(&band.band, say);
    let allowed = band.rules.iter().filter(|rule| rule.allowed).count();
    if band.mixes.len() == allowed * (allowed - 1) / 2 {
        return Some(say.say("mixing-all", [("depth", depth)]));
    }
    let pair = |mix: &Mix| {
        let names = [("first", mix.first), ("second", mix.second)];
        say.say("mixing-pair", names.map(|(name, option)| (name, option_name(rules, option, say))))
    };
    let named: Vec<_> = band.mixes.iter().take(MIXES_NAMED).map(pair).collect();
    let pairs = named.join("; ");
    Some(match band.mixes.len() {
        0 => say.say("mixing-none", [("depth", depth)]),
        count if count > MIXES_NAMED => {
            say.say("mixing-many", [("depth", depth), ("count", count.to_string()), ("pairs", pairs)])
        }
        _ => say.say("mixing-some", [("depth", depth), ("pairs", pairs)]),
    })
}

fn help(rules: &Rules, band: &Band, say: Wording<'_>) -> Option<String> {
    let help = band.help.as_ref()?;
    let depth = ("depth", depths(&band.band, say));
    let option = ("option", option_name(rules, help.option, say));
    Some(match help.kind.as_str() {
        "RULE_HELP_KIND_CONFIRM_MARKS" => {
            let (marks, pings) = (help.marks.to_string(), help.pings.to_string());
            say.say("help-confirm-marks", [depth, option, ("marks", marks), ("pings", pings)])
        }
        "RULE_HELP_KIND_LOWER_GAIN" => say.say("help-lower-gain", [depth, option, ("lower", say.db(help.lower_db, 0))]),
        "RULE_HELP_KIND_FEWER_PEOPLE" => {
            say.say("help-fewer-people", [depth, option, ("people", help.people.to_string())])
        }
        _ => say.say("help-other-options", [depth]),
    })
}

fn detail(rules: &Rules, band: &Band, say: Wording<'_>) -> Detail {
    let rows = band.rules.iter().map(|rule| DetailRow {
        option: option_name(rules, rule.option, say),
        allowed: rule.allowed,
        start: with_gain(&rule.start_dial, rule.start_gain_db, "beyond-dial", say),
        highest: with_gain(&rule.highest_dial, rule.highest_gain_db, "under-dial", say),
        limit: match rule.limiting_depth_m {
            None => say.word("limit-dial-end"),
            Some(depth) => {
                let bottom = clean(&say.word(&bottom_key(&rule.limiting_bottom)), MAX_NAME);
                say.say("limit-at", [("depth", say.metres(depth)), ("bottom", bottom)])
            }
        },
        spacing: rule.least_spacing_m.map_or_else(|| "–".to_owned(), |spacing| say.metres(spacing)),
        people: rule.most_people.to_string(),
        why: why(rule, say),
    });
    Detail { band: depths(&band.band, say), rows: rows.collect() }
}

/// `9:30 (24 dB)`.
fn with_gain(reading: &str, gain: f64, beyond: &str, say: Wording<'_>) -> String {
    let reading = if reading.is_empty() { say.word(beyond) } else { say.figures(reading, MAX_READING) };
    format!("{reading} ({})", say.db(gain, 0))
}

/// `BOTTOM_CLASS_SOFT_MUD` becomes `bottom-soft-mud`.
fn bottom_key(class: &str) -> String {
    let class = class.strip_prefix("BOTTOM_CLASS_").unwrap_or(class);
    format!("bottom-{}", class.replace('_', "-").to_lowercase())
}

fn why(rule: &Rule, say: Wording<'_>) -> String {
    let missing = ("missing", say.db(rule.missing_db, 0));
    match rule.refusal.as_str() {
        "RULE_REFUSAL_GAIN_BEYOND_DIAL" => {
            say.say("refusal-gain-beyond-dial", [missing, ("depth", say.metres(rule.start_depth_m))])
        }
        "RULE_REFUSAL_NEIGHBOURS_BEFORE_LURE" => say.say("refusal-neighbours-before-lure", [missing]),
        "RULE_REFUSAL_NEIGHBOURS_ALWAYS" => say.word("refusal-neighbours-always"),
        _ => String::new(),
    }
}
