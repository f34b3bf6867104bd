//! Findings of a run, one row each, and what they lean on.

use std::fs::File;
use std::sync::Arc;

use acoustics::units::{Db, Metres};
use domain::selection::{Assumption, Finding, OptionRef, RunInput};
use domain::{BeamOption, Sensor, Spot};
use domain::{Goal, Preset};
use rust_xlsxwriter::{DocProperties, Workbook};

use super::sheet::Sheet;
use super::{XlsxError, made_at, written};
use crate::run::StoredRun;

/// What a cell shows.
enum Shown {
    Text(String),
    Number(f64),
    Nothing,
}

/// A finding with the records that it is about.
struct About<'a> {
    spot: &'a Spot,
    sensor: &'a Sensor,
    beam: &'a BeamOption,
    finding: &'a Finding,
    /// Numbers of its assumptions in their sheet.
    assumptions: String,
}

/// A column: header with unit, and what it shows.
type Column = (&'static str, fn(&About<'_>) -> Shown);

/// Columns on the left that stay in sight: spot, rank, option.
const FROZEN: u16 = 3;

const COLUMNS: &[Column] = &[
    ("spot", |a| text(a.spot.id.as_str())),
    ("rank", |a| Shown::Number(f64::from(a.finding.rank))),
    ("option", |a| Shown::Text(format!("{}/{}", a.sensor.id, a.beam.id))),
    ("spot name", |a| text(&a.spot.display_name)),
    ("lake", |a| text(&a.spot.lake)),
    ("depth (m)", |a| metres(a.spot.depth)),
    ("sensor", |a| text(&a.sensor.display_name)),
    ("score (0 to 1)", |a| Shown::Number(a.finding.score)),
    ("working gain (dB)", |a| decibels(a.finding.gains.working)),
    ("working gain on the dial", |a| dial(a, Some(a.finding.gains.working))),
    ("clear gain (dB)", |a| optional(a.finding.gains.clear)),
    ("clear gain on the dial", |a| dial(a, a.finding.gains.clear)),
    ("headroom (dB)", |a| optional(a.finding.criteria.headroom)),
    ("search gain (dB)", |a| decibels(a.finding.gains.search)),
    ("search gain on the dial", |a| dial(a, Some(a.finding.gains.search))),
    ("lure gain (dB)", |a| decibels(a.finding.gains.lure)),
    ("bottom gain (dB)", |a| decibels(a.finding.gains.bottom)),
    ("greatest gain (dB)", |a| decibels(a.finding.gains.max)),
    ("coverage radius (m)", |a| metres(a.finding.criteria.coverage_radius)),
    ("coverage area (m²)", |a| Shown::Number(a.finding.criteria.coverage_area_m2)),
    ("watch footprint (m)", |a| metres(a.finding.criteria.watch_footprint)),
    ("range cell (m)", |a| metres(a.finding.criteria.range_cell)),
    ("single fish probability (0 to 1)", |a| Shown::Number(a.finding.criteria.single_fish_probability)),
    ("dead zone height (m)", |a| metres(a.finding.criteria.dead_zone_height)),
    ("lure over vegetation (dB)", |a| optional(a.finding.criteria.lure_over_vegetation)),
    ("interference marks (fraction)", |a| Shown::Number(a.finding.criteria.interference_fraction)),
    ("desirability of coverage (0 to 1)", |a| Shown::Number(a.finding.desirability.coverage)),
    ("desirability of clutter (0 to 1)", |a| Shown::Number(a.finding.desirability.clutter)),
    ("desirability of resolution (0 to 1)", |a| Shown::Number(a.finding.desirability.resolution)),
    ("desirability of interference (0 to 1)", |a| Shown::Number(a.finding.desirability.interference)),
    ("ruled out because", |a| joined(a.finding.failures.iter().map(|failure| failure.sentence().text()))),
    ("worth knowing", |a| joined(a.finding.notices.iter().map(|notice| notice.sentence().text()))),
    ("assumptions (numbers)", |a| text(&a.assumptions)),
];

/// Columns of the draws, when a run has them.
const DRAWN: &[Column] = &[
    ("score, 5 % of draws", |a| drawn(a, |drawn| Some(drawn.score.low))),
    ("score, half of draws", |a| drawn(a, |drawn| Some(drawn.score.median))),
    ("score, 95 % of draws", |a| drawn(a, |drawn| Some(drawn.score.high))),
    ("best here (share of draws)", |a| drawn(a, |drawn| drawn.rank_acceptability.first().copied())),
    ("ruled out (share of draws)", |a| drawn(a, |drawn| Some(drawn.disqualified))),
    ("dominant uncertainty", |a| {
        let chief = a.finding.uncertainty.as_ref().and_then(|drawn| drawn.dominant_uncertainty.as_ref());
        chief.map_or(Shown::Nothing, |(name, _)| text(name))
    }),
];

/// What stands before any figure.
const CAUTIONS: [&str; 5] = [
    "No figure here says that ice will carry you.",
    "Ice thickness, travel and access follow the advice of the local authority.",
    "Drilled holes are marked, kept apart by enough ice, and covered or flagged when you leave.",
    "A heated shelter is ventilated and carries a carbon monoxide alarm.",
    "Local rules on holes, lines and shelters come first.",
];

/// A file of findings under construction.
pub struct FindingsBook {
    run: StoredRun,
    input: Arc<RunInput>,
    book: Workbook,
    sheet: Sheet,
    columns: Vec<Column>,
    /// Each assumption once, with the number of findings that lean on it.
    assumptions: Vec<(Assumption, u32)>,
}

impl FindingsBook {
    /// An empty file for a run.
    ///
    /// # Errors
    /// The writer fails.
    pub fn new(run: StoredRun, input: Arc<RunInput>) -> Result<Self, XlsxError> {
        let drawn = if input.settings.draws > 0 { DRAWN } else { &[] };
        let columns: Vec<_> = COLUMNS.iter().chain(drawn).copied().collect();
        let headers: Vec<_> = columns.iter().map(|(header, _)| (*header).to_owned()).collect();
        let mut book = Workbook::new();
        let sheet = Sheet::new(&mut book, "findings", &headers, FROZEN)?;
        Ok(Self { run, input, book, sheet, columns, assumptions: Vec::new() })
    }

    /// Adds findings of the run; one that points outside of its input is left out.
    ///
    /// # Errors
    /// There are more rows than a sheet can hold.
    pub fn add(&mut self, findings: &[Finding]) -> Result<(), XlsxError> {
        let input = Arc::clone(&self.input);
        for finding in findings {
            let Some(OptionRef { sensor, option }) = input.options.get(finding.option).copied() else { continue };
            let (Some(spot), Some(sensor)) = (input.spots.get(finding.spot), input.sensors.get(sensor)) else {
                continue;
            };
            let Some(beam) = sensor.options.get(option) else { continue };
            let assumptions = self.numbers(&finding.assumptions);
            let about = About { spot, sensor, beam, finding, assumptions };
            let row = self.sheet.next_row()?;
            for (at, (_, show)) in (0_u16..).zip(&self.columns) {
                match show(&about) {
                    Shown::Text(text) => self.sheet.text(&mut self.book, row, at, &text)?,
                    Shown::Number(number) => self.sheet.number(&mut self.book, row, at, number)?,
                    Shown::Nothing => {}
                }
            }
        }
        Ok(())
    }

    /// The numbers of some assumptions, which are counted; new ones are added.
    fn numbers(&mut self, assumptions: &[Assumption]) -> String {
        let mut numbers = Vec::with_capacity(assumptions.len());
        for assumption in assumptions {
            let known = self.assumptions.iter().position(|(known, _)| known == assumption);
            let at = known.unwrap_or_else(|| {
                self.assumptions.push((assumption.clone(), 0));
                self.assumptions.len() - 1
            });
            if let Some((_, count)) = self.assumptions.get_mut(at) {
                *count += 1;
            }
            numbers.push((at + 1).to_string());
        }
        numbers.join(", ")
    }

    /// The file, without a name, to be read from its beginning; it is gone once it is dropped.
    ///
    /// # Errors
    /// The writer or the disk fails.
    pub fn finish(self) -> Result<File, XlsxError> {
        let Self { run, input, mut book, sheet, assumptions, .. } = self;
        let title = format!("Findings of runs/{}", run.id);
        book.set_properties(&DocProperties::new().set_title(title).set_creation_datetime(&made_at(run.create_time)?));
        sheet.finish(&mut book)?;
        let headers = ["number", "field", "what was assumed", "findings that lean on it"].map(str::to_owned);
        let mut sheet = Sheet::new(&mut book, "assumptions", &headers, 0)?;
        for (number, (assumption, count)) in (1_u32..).zip(&assumptions) {
            let row = sheet.next_row()?;
            sheet.number(&mut book, row, 0, f64::from(number))?;
            sheet.text(&mut book, row, 1, &assumption.field)?;
            sheet.text(&mut book, row, 2, &assumption.sentence.text())?;
            sheet.number(&mut book, row, 3, f64::from(*count))?;
        }
        sheet.finish(&mut book)?;
        let mut sheet = Sheet::new(&mut book, "notes", &["what", "is"].map(str::to_owned), 0)?;
        for (what, is) in notes(&run, &input) {
            let row = sheet.next_row()?;
            sheet.text(&mut book, row, 0, what)?;
            sheet.text(&mut book, row, 1, &is)?;
        }
        sheet.finish(&mut book)?;
        written(&mut book)
    }
}

/// What was asked, and the cautions.
fn notes(run: &StoredRun, input: &RunInput) -> Vec<(&'static str, String)> {
    let settings = &input.settings;
    let goal = match &settings.goal {
        Goal::Preset(Preset::Search) => "search",
        Goal::Preset(Preset::WatchLure) => "watch one lure",
        Goal::Preset(Preset::School) => "tell a school apart",
        Goal::Preset(Preset::WeedEdge) => "fish along weeds",
        Goal::Custom(goal) => goal.display_name.as_str(),
    };
    let shelter = input.shelter.as_ref().map_or("none: fishing alone", |shelter| shelter.display_name.as_str());
    let mut notes = vec![
        ("run", format!("runs/{}", run.id)),
        ("stored", run.create_time.to_string()),
        ("fingerprint of the findings", run.result_hash.clone()),
        ("goal", goal.to_owned()),
        ("lure", input.lure.display_name.clone()),
        ("fish", input.fish.display_name.clone()),
        ("shelter", shelter.to_owned()),
        ("tolerated interference marks (fraction)", settings.interference_tolerance.to_string()),
        ("margin of the lure (dB)", settings.lure_margin.get().to_string()),
        ("strong mark (dB)", settings.strong_mark.get().to_string()),
        ("draws", settings.draws.to_string()),
        ("gains", "dB over zero gain; the dial is the sensor's own".to_owned()),
        (
            "score",
            "the weighted geometric mean of four desirabilities; 0 where something rules the option out".to_owned(),
        ),
    ];
    notes.extend(CAUTIONS.map(|caution| ("before you go out", caution.to_owned())));
    notes
}

fn text(text: &str) -> Shown {
    Shown::Text(text.to_owned())
}

fn joined(sentences: impl Iterator<Item = String>) -> Shown {
    Shown::Text(sentences.collect::<Vec<_>>().join(" "))
}

fn metres(value: Metres) -> Shown {
    Shown::Number(value.get())
}

fn decibels(value: Db) -> Shown {
    Shown::Number(value.get())
}

fn optional(value: Option<Db>) -> Shown {
    value.map_or(Shown::Nothing, decibels)
}

fn dial(about: &About<'_>, gain: Option<Db>) -> Shown {
    let reading = gain.and_then(|gain| about.sensor.dial.dial_reading(gain));
    reading.map_or(Shown::Nothing, Shown::Text)
}

fn drawn(about: &About<'_>, figure: impl Fn(&domain::selection::Uncertainty) -> Option<f64>) -> Shown {
    about.finding.uncertainty.as_ref().and_then(figure).map_or(Shown::Nothing, Shown::Number)
}
