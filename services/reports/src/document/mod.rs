//! The data of reports on what was derived and stored: rules, plans, assessments, fits and drafts of surveys.
//!
//! They come as the messages of the protocol that were stored, which is the one form that outlives the program's version: a view of
//! another kind in between would be one more place to forget a field.

mod assessment;
mod beam_map;
mod draft;
mod plan;
mod rules;

use acoustics::units::Metres;
use domain::{Part, Sentence};
use jiff::Timestamp;
use proto::v1;
use proto::v1::sentence_part::Value as Put;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;
use serde_json::Value;

use crate::clean::clean;
use crate::error::ReportError;
use crate::settings::{About, Settings, SettingsView};
use crate::wording::Wording;

pub use rules::AtTheDoor;

/// Longest name that is set in full.
const MAX_NAME: usize = 60;
/// Longest reading of a dial.
const MAX_READING: usize = 20;
/// Longest sentence.
const MAX_TEXT: usize = 600;

/// A stored document to report on.
#[derive(Debug, Clone)]
pub struct Document {
    /// Last segment of its name.
    pub id: String,
    /// When it was made.
    pub time: Timestamp,
    /// Fingerprint of its content.
    pub fingerprint: String,
    /// Of rules, names of the shelters to report on; empty for all.
    pub only: Vec<String>,
    /// What was stored.
    pub content: proto::Document,
    /// How it is presented.
    pub settings: Settings,
}

/// What a report on anything but a run gets.
#[derive(Debug, Serialize, JsonSchema)]
struct Data<V> {
    settings: SettingsView,
    report: V,
}

impl Document {
    /// The data that the document's template gets.
    pub(crate) fn data(&self, say: Wording<'_>) -> Result<Value, ReportError> {
        match &self.content {
            proto::Document::Rules(rules) => self.with("rules", say, rules::view(rules, &self.only, say)?),
            proto::Document::Plan(plan) => self.with("plan", say, plan::view(plan, say)),
            proto::Document::Assessment(assessment) => self.with("assessment", say, assessment::view(assessment, say)),
            proto::Document::Fit(fit) => self.with("fit", say, beam_map::view(fit, say)),
            proto::Document::Draft(draft) => self.with("draft", say, draft::view(draft, say)),
        }
    }

    fn with<V: Serialize>(&self, kind: &'static str, say: Wording<'_>, report: V) -> Result<Value, ReportError> {
        let about = About { kind, id: &self.id, time: self.time, fingerprint: &self.fingerprint };
        let data = Data { settings: SettingsView::new(&self.settings, &about, say), report };
        serde_json::to_value(&data).map_err(|e| ReportError::Data(e.to_string()))
    }
}

/// The data contract of reports on documents such as that one, which may be empty.
pub(crate) fn schema(document: &proto::Document, generator: SchemaGenerator) -> Schema {
    match document {
        proto::Document::Rules(_) => generator.into_root_schema_for::<Data<rules::View>>(),
        proto::Document::Plan(_) => generator.into_root_schema_for::<Data<plan::View>>(),
        proto::Document::Assessment(_) => generator.into_root_schema_for::<Data<assessment::View>>(),
        proto::Document::Fit(_) => generator.into_root_schema_for::<Data<beam_map::View>>(),
        proto::Document::Draft(_) => generator.into_root_schema_for::<Data<draft::View>>(),
    }
}

/// `1,234.50 USD`; empty where there is no price.
fn money(money: Option<&v1::Money>, say: Wording<'_>) -> String {
    money.map_or_else(String::new, |money| say.money(money.units, i64::from(money.nanos), &money.currency_code))
}

/// The dial's own reading, or decibels where it has none.
fn dial(reading: &str, gain: f64, say: Wording<'_>) -> String {
    if reading.is_empty() { say.db(gain, 0) } else { say.figures(reading, MAX_READING) }
}

/// A sensor and its beam: `Two-face · 180 kHz, 14°`.
fn option_name(sensor: &str, beam: &str, say: Wording<'_>) -> String {
    format!("{} · {}", clean(sensor, MAX_NAME), say.figures(beam, MAX_NAME))
}

/// Sentences in the reader's language.
fn tell(sentences: &[v1::Sentence], say: Wording<'_>) -> Vec<String> {
    sentences.iter().map(|sentence| told(sentence, say)).collect()
}

/// A sentence in the reader's language; in English where the language does not know it.
pub(crate) fn told(sentence: &v1::Sentence, say: Wording<'_>) -> String {
    let part = |part: &v1::SentencePart| {
        let put = match part.value.as_ref()? {
            Put::Figure(figure) => Part::Figure(figure.clone()),
            Put::Proper(name) => Part::Name(name.clone()),
            Put::Count(count) => Part::Count(*count),
            Put::Word(key) => Part::Word(key.clone().into()),
            Put::LengthM(length) => Part::Length(Metres::new(*length)),
        };
        Some((part.name.clone().into(), put))
    };
    let parts = sentence.parts.iter().filter_map(part).collect();
    let known = say.known(&Sentence { key: sentence.key.clone().into(), parts });
    known.unwrap_or_else(|| clean(&sentence.text, MAX_TEXT))
}

/// A mark of an axis.
#[derive(Debug, Serialize, JsonSchema)]
struct Mark {
    at: f64,
    label: String,
}
