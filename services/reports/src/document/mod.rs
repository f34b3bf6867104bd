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
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::error::ReportError;
use crate::length::Lengths;
use crate::settings::{About, Settings, SettingsView};

/// Longest name that is set in full.
const MAX_NAME: usize = 60;
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

    const fn title(self) -> &'static str {
        match self {
            Self::Rules => "Rules of this shelter",
            Self::Plan => "Fleet plan",
            Self::Assessment => "Which units are sound",
            Self::Fit => "The beam as measured",
            Self::Draft => "Beam survey",
        }
    }
}

impl Document {
    /// The data that the document's template gets.
    ///
    /// # Errors
    /// The document is not of its kind, or too much for one report.
    pub fn data(&self) -> Result<Value, ReportError> {
        let lengths = Lengths::new(self.settings.length_unit);
        let view = match self.kind {
            DocumentKind::Rules => rules::view(&read(self)?, &self.only, lengths)?,
            DocumentKind::Plan => json(&plan::view(&read(self)?, lengths))?,
            DocumentKind::Assessment => json(&assessment::view(&read(self)?))?,
            DocumentKind::Fit => json(&beam_map::view(&read(self)?, lengths))?,
            DocumentKind::Draft => json(&draft::view(&read(self)?, lengths))?,
        };
        let about = About {
            kind: self.kind.word(),
            title: self.kind.title(),
            id: &self.id,
            time: self.time,
            fingerprint: &self.fingerprint,
        };
        let mut data = serde_json::Map::new();
        data.insert("settings".to_owned(), json(&SettingsView::new(&self.settings, &about))?);
        data.insert("report".to_owned(), view);
        Ok(Value::Object(data))
    }
}

fn read<T: DeserializeOwned>(document: &Document) -> Result<T, ReportError> {
    T::deserialize(&document.json).map_err(|e| ReportError::Data(e.to_string()))
}

fn json(view: &impl Serialize) -> Result<Value, ReportError> {
    serde_json::to_value(view).map_err(|e| ReportError::Data(e.to_string()))
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
    fn text(&self) -> String {
        let cents =
            (i128::from(self.units) * 1_000_000_000 + i128::from(self.nanos) + 5_000_000).div_euclid(10_000_000);
        let (whole, part) = (cents.div_euclid(100), cents.rem_euclid(100));
        format!("{}.{part:02} {}", grouped(whole), crate::clean::clean(&self.currency_code, 3))
    }
}

/// `1,234,567`.
fn grouped(number: i128) -> String {
    let digits = number.unsigned_abs().to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3 + 1);
    if number < 0 {
        out.push('−');
    }
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// A mark of an axis.
#[derive(Debug, Serialize)]
struct Mark {
    at: f64,
    label: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn money_is_grouped_and_rounded_to_cents() {
        for (units, nanos, text) in [
            (0, 0, "0.00 EUR"),
            (999, 995_000_000, "1,000.00 EUR"),
            (1_234_567, 500_000_000, "1,234,567.50 EUR"),
            (12, 4_999_999, "12.00 EUR"),
        ] {
            assert_eq!(Money { currency_code: "EUR".to_owned(), units, nanos }.text(), text);
        }
    }
}
