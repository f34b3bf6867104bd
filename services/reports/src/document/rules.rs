//! Shelter rules: a page to pin up for each shelter, then tables.

use acoustics::units::Metres;
use planning::wording::number;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{MAX_NAME, Mark, json};
use crate::clean::clean;
use crate::error::ReportError;
use crate::length::{Lengths, ticks};

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

#[derive(Debug, Serialize)]
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

#[derive(Debug, Serialize)]
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

#[derive(Debug, Serialize)]
struct Nearest {
    from: (f64, f64),
    to: (f64, f64),
    label: String,
}

#[derive(Debug, Serialize)]
struct Row {
    option: String,
    cells: Vec<Cell>,
}

#[derive(Debug, Serialize)]
struct Cell {
    allowed: bool,
    start: String,
    highest: String,
}

#[derive(Debug, Serialize)]
struct Detail {
    band: String,
    rows: Vec<DetailRow>,
}

#[derive(Debug, Serialize)]
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

/// One page a shelter, in the order of the rules.
pub(super) fn view(rules: &Rules, only: &[String], lengths: Lengths) -> Result<Value, ReportError> {
    let wanted = |sheet: &&Sheet| only.is_empty() || only.contains(&sheet.shelter.name);
    let sheets: Vec<_> = rules.sheets.iter().filter(wanted).map(|sheet| sheet_view(rules, sheet, lengths)).collect();
    if sheets.len() > MAX_SHEETS {
        return Err(ReportError::TooMuch(format!(
            "a report holds at most {MAX_SHEETS} shelters, and the rules have {}; name the shelters to report on",
            sheets.len()
        )));
    }
    let mut data = serde_json::Map::new();
    data.insert("sheets".to_owned(), json(&sheets)?);
    Ok(Value::Object(data))
}

fn sheet_view(rules: &Rules, sheet: &Sheet, lengths: Lengths) -> SheetView {
    let band_name = |band: &Band| depths(&band.band, lengths);
    SheetView {
        name: clean(&sheet.shelter.display_name, MAX_NAME),
        facts: facts(sheet, lengths),
        plan: plan(sheet, lengths),
        bands: sheet.bands.iter().map(band_name).collect(),
        rows: (0..rules.options.len()).map(|option| row(rules, sheet, option)).collect(),
        mixing: sheet.bands.iter().filter_map(|band| mixing(rules, sheet, band, lengths)).collect(),
        help: sheet.bands.iter().filter_map(|band| help(rules, band, lengths)).collect(),
        details: sheet.bands.iter().map(|band| detail(rules, band, lengths)).collect(),
    }
}

fn facts(sheet: &Sheet, lengths: Lengths) -> Vec<String> {
    let shelter = &sheet.shelter;
    let both = |metres: f64| lengths.both(Metres::new(metres));
    let floor = if shelter.floor_diameter_m > 0.0 {
        format!("round floor, {} across", both(shelter.floor_diameter_m))
    } else {
        format!("floor {} by {}", both(shelter.floor_length_m), both(shelter.floor_width_m))
    };
    let mut facts = vec![if sheet.people == 1 { "1 angler".to_owned() } else { format!("{} anglers", sheet.people) }];
    if sheet.spacing_m > 0.0 {
        facts.push(format!("holes at least {} apart, as drawn", both(sheet.spacing_m)));
    }
    facts.push(floor);
    facts
}

fn depths(band: &Depths, lengths: Lengths) -> String {
    let short = |metres: f64| lengths.short(Metres::new(metres));
    format!("{}–{} {}", short(band.shallow_m), short(band.deep_m), lengths.unit())
}

fn plan(sheet: &Sheet, lengths: Lengths) -> Plan {
    let shelter = &sheet.shelter;
    let value = |metres: f64| lengths.value(Metres::new(metres));
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
            label: lengths.text(Metres::new(distance)),
        }),
        ticks: ticks(value(width), 5.0).into_iter().map(|at| Mark { at, label: number(at, 1) }).collect(),
        alt: format!(
            "Plan of the floor with {} hole(s), the centres at least {} from a wall.",
            sheet.holes.len(),
            lengths.text(Metres::new(shelter.wall_clearance_m))
        ),
    }
}

/// The two holes that are closest together.
fn nearest(holes: &[Hole]) -> Option<(Hole, Hole, f64)> {
    let pairs = holes.iter().enumerate().flat_map(|(i, a)| holes.iter().skip(i + 1).map(move |b| (*a, *b)));
    pairs.map(|(a, b)| (a, b, libm::hypot(a.x_m - b.x_m, a.y_m - b.y_m))).min_by(|one, other| one.2.total_cmp(&other.2))
}

fn option_name(rules: &Rules, option: usize) -> String {
    rules.options.get(option).map_or_else(String::new, |known| {
        format!("{} · {}", clean(&known.sensor_display_name, MAX_NAME), clean(&known.beam, MAX_NAME))
    })
}

fn row(rules: &Rules, sheet: &Sheet, option: usize) -> Row {
    let cell = |band: &Band| {
        let rule = band.rules.iter().find(|rule| rule.option == option);
        Cell {
            allowed: rule.is_some_and(|rule| rule.allowed),
            start: rule.map(|rule| dial(&rule.start_dial, rule.start_gain_db)).unwrap_or_default(),
            highest: rule.map(|rule| dial(&rule.highest_dial, rule.highest_gain_db)).unwrap_or_default(),
        }
    };
    Row { option: option_name(rules, option), cells: sheet.bands.iter().map(cell).collect() }
}

/// The dial's own reading, or decibels where it has none.
fn dial(reading: &str, gain: f64) -> String {
    if reading.is_empty() { format!("{} dB", number(gain, 0)) } else { clean(reading, 20) }
}

fn mixing(rules: &Rules, sheet: &Sheet, band: &Band, lengths: Lengths) -> Option<String> {
    if sheet.people < 2 || band.rules.iter().filter(|rule| rule.allowed).count() < 2 {
        return None;
    }
    let depth = depths(&band.band, lengths);
    let allowed = band.rules.iter().filter(|rule| rule.allowed).count();
    if band.mixes.len() == allowed * (allowed - 1) / 2 {
        return Some(format!("{depth}: all of the allowed ones may be mixed."));
    }
    let pairs = |mix: &Mix| format!("{} with {}", option_name(rules, mix.first), option_name(rules, mix.second));
    let named: Vec<_> = band.mixes.iter().take(MIXES_NAMED).map(pairs).collect();
    Some(match band.mixes.len() {
        0 => format!("{depth}: everybody uses the same option; none may be mixed."),
        count if count > MIXES_NAMED => {
            format!("{depth}: {count} pairs may be mixed, such as {}.", named.join("; "))
        }
        _ => format!("{depth}: may be mixed: {}.", named.join("; ")),
    })
}

fn help(rules: &Rules, band: &Band, lengths: Lengths) -> Option<String> {
    let help = band.help.as_ref()?;
    let depth = depths(&band.band, lengths);
    let option = option_name(rules, help.option);
    Some(match help.kind.as_str() {
        "CONFIRM_MARKS" => format!(
            "{depth}: nothing is allowed as it is. Soonest: {option} with marks drawn only when {} of {} pings agree.",
            help.marks, help.pings
        ),
        "LOWER_GAIN" => format!(
            "{depth}: nothing is allowed as it is. Soonest: {option} with the gain {} dB under its start gain; the lure then shows with less to spare.",
            number(help.lower_db, 0)
        ),
        "FEWER_PEOPLE" => {
            format!("{depth}: nothing is allowed as it is. Soonest: {option} with {} in the shelter.", help.people)
        }
        _ => format!("{depth}: none of the options reaches these depths, even alone; bring others."),
    })
}

fn detail(rules: &Rules, band: &Band, lengths: Lengths) -> Detail {
    let text = |metres: f64| lengths.text(Metres::new(metres));
    let rows = band.rules.iter().map(|rule| DetailRow {
        option: option_name(rules, rule.option),
        allowed: rule.allowed,
        start: with_gain(&rule.start_dial, rule.start_gain_db, "beyond the dial"),
        highest: with_gain(&rule.highest_dial, rule.highest_gain_db, "under the dial"),
        limit: match rule.limiting_depth_m {
            None => "the dial's end".to_owned(),
            Some(depth) => format!("{} over {}", text(depth), bottom(&rule.limiting_bottom)),
        },
        spacing: rule.least_spacing_m.map_or_else(|| "–".to_owned(), text),
        people: rule.most_people.to_string(),
        why: why(rule, lengths),
    });
    Detail { band: depths(&band.band, lengths), rows: rows.collect() }
}

/// `9:30 (24 dB)`.
fn with_gain(reading: &str, gain: f64, beyond: &str) -> String {
    let reading = if reading.is_empty() { beyond.to_owned() } else { clean(reading, 20) };
    format!("{reading} ({} dB)", number(gain, 0))
}

/// `SOFT_MUD` becomes `soft mud`.
fn bottom(class: &str) -> String {
    class.replace('_', " ").to_lowercase()
}

fn why(rule: &Rule, lengths: Lengths) -> String {
    let missing = number(rule.missing_db, 0);
    match rule.refusal.as_str() {
        "GAIN_BEYOND_DIAL" => format!(
            "at {} its greatest gain is {missing} dB short of showing lure and bottom",
            lengths.text(Metres::new(rule.start_depth_m))
        ),
        "NEIGHBOURS_BEFORE_LURE" => format!("neighbours show {missing} dB before the lure does"),
        "NEIGHBOURS_ALWAYS" => "neighbours show at every gain".to_owned(),
        _ => String::new(),
    }
}
