//! How a report is presented, and what stands at its foot.

use jiff::Timestamp;
use schemars::JsonSchema;
use serde::Serialize;

use crate::clean::clean;
use crate::logo::Logo;
use crate::wording::{LengthUnit, Wording};

/// How a report is presented.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Unit of lengths.
    pub length_unit: LengthUnit,
    /// Paper.
    pub paper: Paper,
    /// Tag of the language, one of the renderer's own, such as `en`.
    pub language: String,
    /// Heading; empty for one of our own.
    pub title: String,
    /// Who hands it over; may be empty.
    pub organisation: String,
    /// A line to reach them; may be empty.
    pub contact: String,
    /// Their mark, at the head of every page.
    pub logo: Option<Logo>,
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4.
    A4,
    /// US letter.
    UsLetter,
}

impl Paper {
    /// Its name for the typesetter.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::UsLetter => "us-letter",
        }
    }
}

/// What a report is about, for its heading and its foot.
pub(crate) struct About<'a> {
    /// What the source is, a key of the words: `run`, `rules` and so on.
    pub(crate) kind: &'static str,
    /// Last segment of the source's name.
    pub(crate) id: &'a str,
    pub(crate) time: Timestamp,
    pub(crate) fingerprint: &'a str,
}

#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct SettingsView {
    title: String,
    organisation: String,
    contact: String,
    /// The mark at the head of every page; null where there is none.
    logo: Option<LogoView>,
    paper: &'static str,
    language: String,
    unit: &'static str,
    kind: &'static str,
    run: String,
    date: String,
    fingerprint: String,
}

/// A picture that the template finds among its files.
#[derive(Debug, Serialize, JsonSchema)]
struct LogoView {
    /// Its path, such as `/logo.svg`.
    file: String,
    /// What it shows, for those who are read to.
    alt: String,
}

impl LogoView {
    fn new(logo: &Logo, settings: &Settings, say: Wording<'_>) -> Self {
        let organisation = clean(&settings.organisation, 120);
        let alt = if organisation.is_empty() {
            say.word("logo")
        } else {
            say.say("logo-of", [("organisation", organisation)])
        };
        Self { file: format!("/{}", logo.path()), alt }
    }
}

impl SettingsView {
    pub(crate) fn new(settings: &Settings, about: &About<'_>, say: Wording<'_>) -> Self {
        let given = settings.title.trim();
        Self {
            title: if given.is_empty() { say.word(&format!("title-{}", about.kind)) } else { clean(given, 120) },
            organisation: clean(&settings.organisation, 120),
            contact: clean(&settings.contact, 200),
            logo: settings.logo.as_ref().map(|logo| LogoView::new(logo, settings, say)),
            paper: settings.paper.name(),
            language: say.language().to_owned(),
            unit: say.unit(),
            kind: about.kind,
            run: clean(about.id, 60),
            date: about.time.strftime("%Y-%m-%d").to_string(),
            fingerprint: about.fingerprint.chars().take(16).collect(),
        }
    }
}
