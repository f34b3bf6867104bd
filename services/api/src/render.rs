//! What the report service needs of whoever renders. A trait, because typesetting is heavy: the server plugs it in, and
//! neither this crate nor its tests links it.

use domain::selection::{Finding, OptionSummary, RunInput};
use jiff::Timestamp;
use planning::recommend::{Choice, Recommendation};

/// Turns stored results into PDF. Called off the async threads; it may take its time but must not wait for a caller.
pub trait Renderer: Send + Sync {
    /// The templates there are, ordered by name.
    fn templates(&self) -> Result<Vec<TemplateInfo>, RenderError>;

    /// Tags of the languages that reports can be had in, ordered.
    fn languages(&self) -> Vec<String>;

    /// A fingerprint of everything in a template's folder (and of the renderer itself): it changes whenever the same data
    /// might come out as other bytes.
    fn fingerprint(&self, template: &str) -> Result<String, RenderError>;

    /// Renders a report. The same input gives the same bytes.
    fn render(&self, job: &RenderJob) -> Result<Rendered, RenderError>;

    /// Compiles a template with its own sample data.
    fn check(&self, template: &str, language: &str, paper: Option<Paper>) -> Result<TemplateCheck, RenderError>;
}

/// A template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TemplateInfo {
    /// Last segment of its name, such as `comparison`.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// The collection that it reports on, such as `runs`.
    pub source_collection: String,
    /// Whether anything that it is made of comes from a folder of the operator's.
    pub own: bool,
    /// Whether its collection is reported on with it where none is named.
    pub usual: bool,
}

/// One report to render.
#[derive(Debug, Clone, PartialEq)]
pub struct RenderJob {
    /// Last segment of the template's name.
    pub template: String,
    /// What it reports on.
    pub source: RenderSource,
    /// How it is presented.
    pub settings: ReportSettings,
}

/// What a report is about.
#[derive(Debug, Clone, PartialEq)]
pub enum RenderSource {
    /// A run.
    Run(Box<RunSource>),
    /// Anything else that was derived and stored.
    Document(Box<DocumentSource>),
}

/// A run to report on.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSource {
    /// Last segment of the run's name.
    pub run_id: String,
    /// When the run was started.
    pub run_time: Timestamp,
    /// Fingerprint of the run's findings.
    pub result_hash: String,
    /// What the run was computed from, with all of its spots.
    pub input: RunInput,
    /// Indices into `input.spots` of the spots to report on, in that order.
    pub spots: Vec<usize>,
    /// The findings of those spots, ordered by spot, then rank.
    pub findings: Vec<Finding>,
    /// How each option did over all spots of the run, best first.
    pub summary: Vec<OptionSummary>,
    /// Which one sensor is advised for the spots of the report, with what decided; none where that would take too long.
    pub advice: Option<(Choice, Recommendation)>,
}

/// A stored document to report on.
#[derive(Debug, Clone, PartialEq)]
pub struct DocumentSource {
    /// Last segment of its name.
    pub id: String,
    /// When it was made.
    pub create_time: Timestamp,
    /// Fingerprint of its content.
    pub fingerprint: String,
    /// Of rules, names of the shelters to report on; empty for all.
    pub only: Vec<String>,
    /// What was stored.
    pub document: proto::Document,
}

/// How a report is presented.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ReportSettings {
    /// Unit of lengths.
    pub length_unit: LengthUnit,
    /// Paper.
    pub paper: Paper,
    /// Tag of the language, such as `en`.
    pub language: String,
    /// Whether a report on a run ends with every figure behind the best option at each spot.
    pub appendix: bool,
    /// Heading; empty for the template's own.
    pub title: String,
    /// Who hands it over; may be empty.
    pub organisation: String,
    /// A line to reach them; may be empty.
    pub contact: String,
    /// Bytes of their mark, PNG, JPEG or SVG; may be empty.
    pub logo: Vec<u8>,
}

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// Metres.
    Metres,
    /// International feet.
    Feet,
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    /// ISO A4.
    A4,
    /// US letter.
    UsLetter,
}

/// A rendered report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rendered {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// Its pages.
    pub pages: u32,
    /// Its heading.
    pub title: String,
}

/// The outcome of compiling a template with its sample data.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TemplateCheck {
    /// What is wrong; empty when all is well.
    pub faults: Vec<TemplateFault>,
    /// Pages of the sample.
    pub pages: u32,
    /// The sample as it prints; empty when something is wrong.
    pub pdf: Vec<u8>,
}

/// One thing wrong with a template.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TemplateFault {
    /// File in the template's folder.
    pub file: String,
    /// Line, from 1; 0 if unknown.
    pub line: u32,
    /// Column, from 1; 0 if unknown.
    pub column: u32,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub hint: String,
}

impl TemplateFault {
    /// Place, fault and what to do, in a line.
    #[must_use]
    pub fn sentence(&self) -> String {
        let place =
            if self.file.is_empty() { String::new() } else { format!("{}:{}:{}: ", self.file, self.line, self.column) };
        let hint = if self.hint.is_empty() { String::new() } else { format!(" ({})", self.hint) };
        format!("{place}{}{hint}", self.message)
    }
}

/// Why nothing was rendered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RenderError {
    /// No template of that id.
    #[error("there is no template '{template}'")]
    UnknownTemplate {
        /// What was asked for.
        template: String,
    },
    /// The template does not compile with these data.
    #[error("template '{template}' does not compile: {message}")]
    TemplateFault {
        /// The template.
        template: String,
        /// The first diagnostics.
        message: String,
    },
    /// There are no words in the language.
    #[error("there are no words in the language '{given}'")]
    UnknownLanguage {
        /// What was asked for.
        given: String,
        /// Those that there are.
        known: String,
    },
    /// The logo is no picture that can be drawn.
    #[error("{message}")]
    BadLogo {
        /// What was given, what is accepted, what to do.
        message: String,
    },
    /// The data are more than a report can hold.
    #[error("{message}")]
    TooExpensive {
        /// What was given, what is accepted, what to do.
        message: String,
    },
    /// A fault of the renderer.
    #[error("rendering failed: {message}")]
    Internal {
        /// For the log.
        message: String,
    },
}
