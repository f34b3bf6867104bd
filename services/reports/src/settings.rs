//! How a report is presented, and what stands at its foot.

use jiff::Timestamp;
use serde::Serialize;

use crate::clean::clean;

/// How a report is presented.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Unit of lengths.
    pub length_unit: LengthUnit,
    /// Paper.
    pub paper: Paper,
    /// Heading; empty for one of our own.
    pub title: String,
    /// Who hands it over; may be empty.
    pub organisation: String,
    /// A line to reach them; may be empty.
    pub contact: String,
}

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Metres.
    Metres,
    /// International feet.
    Feet,
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4.
    A4,
    /// US letter.
    UsLetter,
}

/// What a report is about, for its heading and its foot.
pub(crate) struct About<'a> {
    /// What the source is, a key of the words: `run`, `rules` and so on.
    pub(crate) kind: &'static str,
    /// Heading where none is given.
    pub(crate) title: &'static str,
    /// Last segment of the source's name.
    pub(crate) id: &'a str,
    pub(crate) time: Timestamp,
    pub(crate) fingerprint: &'a str,
}

#[derive(Debug, Serialize)]
pub(crate) struct SettingsView {
    title: String,
    organisation: String,
    contact: String,
    paper: &'static str,
    language: &'static str,
    unit: &'static str,
    kind: &'static str,
    run: String,
    date: String,
    fingerprint: String,
}

impl SettingsView {
    pub(crate) fn new(settings: &Settings, about: &About<'_>) -> Self {
        let given = settings.title.trim();
        Self {
            title: if given.is_empty() { about.title.to_owned() } else { clean(given, 120) },
            organisation: clean(&settings.organisation, 120),
            contact: clean(&settings.contact, 200),
            paper: match settings.paper {
                Paper::A4 => "a4",
                Paper::UsLetter => "us-letter",
            },
            language: "en",
            unit: match settings.length_unit {
                LengthUnit::Metres => "m",
                LengthUnit::Feet => "ft",
            },
            kind: about.kind,
            run: clean(about.id, 60),
            date: about.time.strftime("%Y-%m-%d").to_string(),
            fingerprint: about.fingerprint.chars().take(16).collect(),
        }
    }
}
