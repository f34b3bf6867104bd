//! The data of reports on what was derived and stored: rules, plans, assessments, fits and drafts of surveys.
//!
//! They come as JSON with the field names of the protocol, which carry their units. Each kind has a view of its own of what it
//! reads; whatever a stored document lacks takes the protocol's default.

mod assessment;
mod beam_map;
mod draft;
mod plan;
mod rules;

use jiff::Timestamp;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::clean::clean;
use crate::error::ReportError;
use crate::settings::{About, Settings, SettingsView};
use crate::wording::Wording;

/// Longest name that is set in full.
const MAX_NAME: usize = 60;
/// Longest reading of a dial.
const MAX_READING: usize = 20;
/// Longest sentence.
const MAX_TEXT: usize = 600;

/// A stored document to report on.
#[derive(Debug, Clone)]
pub struct Document {
    /// What it is.
    pub kind: DocumentKind,
    /// Last segment of its name.
    pub id: String,
    /// When it was made.
    pub time: Timestamp,
    /// Fingerprint of its content.
    pub fingerprint: String,
    /// Of rules, names of the shelters to report on; empty for all.
    pub only: Vec<String>,
    /// The document, with the protocol's field names and whole numbers as numbers.
    pub json: Value,
    /// How it is presented.
    pub settings: Settings,
}

/// Kinds of document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DocumentKind {
    /// Rules of shelters.
    Rules,
    /// A fleet plan.
    Plan,
    /// An assessment of units.
    Assessment,
    /// A beam that was fitted to a survey.
    Fit,
    /// A survey yet to be made.
    Draft,
}

impl DocumentKind {
    /// The kind that a collection holds.
    #[must_use]
    pub fn of(collection: &str) -> Option<Self> {
        Some(match collection {
            "shelterRules" => Self::Rules,
            "fleetPlans" => Self::Plan,
            "unitAssessments" => Self::Assessment,
            "beamFits" => Self::Fit,
            "beamSurveyDrafts" => Self::Draft,
            _ => return None,
        })
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Rules => "rules",
            Self::Plan => "plan",
            Self::Assessment => "assessment",
            Self::Fit => "fit",
            Self::Draft => "draft",
        }
    }
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
        match self.kind {
            DocumentKind::Rules => self.with(say, rules::view(&read(self)?, &self.only, say)?),
            DocumentKind::Plan => self.with(say, plan::view(&read(self)?, say)),
            DocumentKind::Assessment => self.with(say, assessment::view(&read(self)?, say)),
            DocumentKind::Fit => self.with(say, beam_map::view(&read(self)?, say)),
            DocumentKind::Draft => self.with(say, draft::view(&read(self)?, say)),
        }
    }

    fn with<V: Serialize>(&self, say: Wording<'_>, report: V) -> Result<Value, ReportError> {
        let about = About { kind: self.kind.word(), id: &self.id, time: self.time, fingerprint: &self.fingerprint };
        let data = Data { settings: SettingsView::new(&self.settings, &about, say), report };
        serde_json::to_value(&data).map_err(|e| ReportError::Data(e.to_string()))
    }
}

/// The data contract of reports on a kind of document.
pub(crate) fn schema(kind: DocumentKind, generator: SchemaGenerator) -> Schema {
    match kind {
        DocumentKind::Rules => generator.into_root_schema_for::<Data<rules::View>>(),
        DocumentKind::Plan => generator.into_root_schema_for::<Data<plan::View>>(),
        DocumentKind::Assessment => generator.into_root_schema_for::<Data<assessment::View>>(),
        DocumentKind::Fit => generator.into_root_schema_for::<Data<beam_map::View>>(),
        DocumentKind::Draft => generator.into_root_schema_for::<Data<draft::View>>(),
    }
}

fn read<T: DeserializeOwned>(document: &Document) -> Result<T, ReportError> {
    T::deserialize(&document.json).map_err(|e| ReportError::Data(e.to_string()))
}

/// google.type.Money as JSON, its whole units as a number or, as protobuf's JSON has them, as text.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
struct Money {
    currency_code: String,
    #[serde(deserialize_with = "whole")]
    units: i64,
    nanos: i64,
}

fn whole<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<i64, D::Error> {
    match Value::deserialize(deserializer)? {
        Value::String(text) => text.parse().map_err(serde::de::Error::custom),
        number => number.as_i64().ok_or_else(|| serde::de::Error::custom("units are no whole number")),
    }
}

impl Money {
    /// `1,234.50 USD`.
    fn text(&self, say: Wording<'_>) -> String {
        say.money(self.units, self.nanos, &self.currency_code)
    }
}

/// The dial's own reading, or decibels where it has none.
fn dial(reading: &str, gain: f64, say: Wording<'_>) -> String {
    if reading.is_empty() { say.db(gain, 0) } else { say.figures(reading, MAX_READING) }
}

/// A sensor and its beam: `Two-face · 180 kHz, 14°`.
fn option_name(sensor: &str, beam: &str, say: Wording<'_>) -> String {
    format!("{} · {}", clean(sensor, MAX_NAME), say.figures(beam, MAX_NAME))
}

/// A stored sentence with what it is made of.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(default)]
struct Sentence {
    text: String,
    key: String,
    parts: Vec<Part>,
}

#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(default)]
struct Part {
    name: String,
    figure: Option<String>,
    proper: Option<String>,
}

/// Sentences in the reader's language; those of documents that were stored without their parts stay as they are.
fn tell(sentences: &[Sentence], stored: &[String], say: Wording<'_>) -> Vec<String> {
    let told = |sentence: &Sentence| {
        let part = |part: &Part| {
            let figure = part.figure.as_ref().map(|figure| length(figure, say));
            (part.name.clone(), figure.or_else(|| Some(clean(part.proper.as_ref()?, MAX_NAME))).unwrap_or_default())
        };
        let parts: Vec<_> = sentence.parts.iter().map(part).collect();
        say.known(&sentence.key, &parts).unwrap_or_else(|| clean(&sentence.text, MAX_TEXT))
    };
    if sentences.is_empty() {
        return stored.iter().map(|text| clean(text, MAX_TEXT)).collect();
    }
    sentences.iter().map(told).collect()
}

/// A figure of a stored sentence: a length in the unit of the reader, anything else as it is told.
fn length(figure: &str, say: Wording<'_>) -> String {
    let metres = figure.strip_suffix(" m").and_then(|value| value.parse().ok());
    metres.map_or_else(|| say.figures(figure, MAX_NAME), |metres| say.metres(metres))
}

/// A sentence of a stored document in the reader's language, or as it was stored.
fn one(sentence: Option<&Sentence>, stored: &str, say: Wording<'_>) -> String {
    let sentences = sentence.map(std::slice::from_ref).unwrap_or_default();
    tell(sentences, std::slice::from_ref(&stored.to_owned()), say).concat()
}

/// A mark of an axis.
#[derive(Debug, Serialize, JsonSchema)]
struct Mark {
    at: f64,
    label: String,
}
