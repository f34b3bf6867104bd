//! The data of reports on what was derived and stored: rules, plans, assessments, fits and drafts of surveys.
//!
//! They come as the messages of the protocol that were stored, which is the one form that outlives the program's version: a view of
//! another kind in between would be one more place to forget a field.

mod assessment;
mod beam_map;
mod draft;
mod plan;
mod rules;
mod told;

use jiff::Timestamp;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;
use serde_json::Value;

use crate::error::ReportError;
use crate::settings::{About, Settings, SettingsView};
use crate::wording::Wording;

pub use rules::AtTheDoor;
pub(crate) use told::told;

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
