//! Rendering: data and template to a PDF, templates of one's own in a sandbox.

use std::sync::Arc;

use serde_json::Value;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst::{World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::comparison::{self, Comparison};
use crate::document::Document;
use crate::error::{ReportError, TemplateFault};
use crate::job::{Job, Typeset};
use crate::logo::{self, Logo};
use crate::settings::{Paper, Settings};
use crate::templates::{Files, TemplateInfo, TemplateSource, built_in, infos, used};
use crate::wording::{Languages, Wording, languages};
use crate::world::ReportWorld;

/// Where a template that did not come with the program is compiled: it may loop or take all memory there is.
pub type Sandbox = Arc<dyn Fn(&Job) -> Result<Typeset, ReportError> + Send + Sync>;

/// Renders reports. Cheap to clone.
#[derive(Clone)]
pub struct Renderer {
    set: Arc<Set>,
    sandbox: Sandbox,
}

#[derive(Debug)]
struct Set {
    files: Files,
    templates: Vec<TemplateInfo>,
    languages: Languages,
}

impl std::fmt::Debug for Renderer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Renderer").field("templates", &self.set.templates).finish_non_exhaustive()
    }
}

/// What is to be rendered.
#[derive(Debug, Clone)]
pub enum Report {
    /// Findings of a run.
    Comparison(Box<Comparison>),
    /// Anything else that was derived and stored.
    Document(Box<Document>),
}

impl Report {
    fn settings(&self) -> &Settings {
        match self {
            Self::Comparison(comparison) => &comparison.settings,
            Self::Document(document) => &document.settings,
        }
    }
}

/// A rendered report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rendered {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// Pages.
    pub pages: u32,
    /// Its heading.
    pub title: String,
}

/// A template compiled with its sample.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Checked {
    /// What is wrong; empty when all is well.
    pub faults: Vec<TemplateFault>,
    /// Pages of the sample.
    pub pages: u32,
    /// The sample as it prints; empty when something is wrong.
    pub pdf: Vec<u8>,
}

impl Renderer {
    /// A renderer over some templates. Those that came with the program are compiled here, others in the sandbox.
    ///
    /// # Errors
    /// A file of the template folder cannot be used.
    pub fn new(source: &TemplateSource, sandbox: Sandbox) -> Result<Self, ReportError> {
        let (files, known) = (source.files()?, built_in());
        let (templates, languages) = (infos(&files, &known)?, languages(&files, &known)?);
        Ok(Self { set: Arc::new(Set { files, templates, languages }), sandbox })
    }

    /// The templates there are.
    #[must_use]
    pub fn templates(&self) -> Vec<TemplateInfo> {
        self.set.templates.clone()
    }

    /// Tags of the languages there are words in, such as `en`.
    #[must_use]
    pub fn languages(&self) -> Vec<String> {
        self.set.languages.keys().cloned().collect()
    }

    /// A fingerprint of a template with everything that it shares: it changes whenever the same data might come out as other bytes.
    ///
    /// # Errors
    /// There is no such template.
    pub fn fingerprint(&self, template: &str) -> Result<String, ReportError> {
        self.known(template)?;
        let mut hash = blake3::Hasher::new();
        hash.update(env!("CARGO_PKG_VERSION").as_bytes());
        for (path, bytes) in used(template, &self.set.files) {
            hash.update(path.as_bytes()).update(&bytes.len().to_le_bytes()).update(&bytes);
        }
        Ok(hash.finalize().to_hex().to_string())
    }

    /// The data that a report's template gets.
    ///
    /// # Errors
    /// There are no words in the language, or the data are too much for one report.
    pub fn data(&self, report: &Report) -> Result<Value, ReportError> {
        let settings = report.settings();
        let Some(words) = self.set.languages.get(&settings.language) else {
            return Err(self.unknown_language(&settings.language));
        };
        let say = Wording::new(words, settings.length_unit);
        match report {
            Report::Comparison(comparison) => comparison::data(comparison, say),
            Report::Document(document) => document.data(say),
        }
    }

    /// Renders a report.
    ///
    /// # Errors
    /// There is no such template or language, it does not compile, or the data are too much for one report.
    pub fn render(&self, template: &str, report: &Report) -> Result<Rendered, ReportError> {
        let data = self.data(report)?;
        let title = data.pointer("/settings/title").and_then(Value::as_str).unwrap_or_default().to_owned();
        let logo = report.settings().logo.as_ref();
        match self.compile(template, &data, logo) {
            Ok(Typeset::Done { pdf, pages }) => Ok(Rendered { pdf, pages, title }),
            Ok(Typeset::Faults(faults)) => Err(match faults.iter().find_map(|fault| logo::refused(&fault.message)) {
                Some(problem) if logo.is_some() => ReportError::Logo(problem),
                _ => ReportError::Template { template: template.to_owned(), faults },
            }),
            // A built-in template takes neither long nor much, so that it is the picture in it that does.
            Err(ReportError::Costly { .. }) if logo.is_some() && !self.known(template)?.own => Err(ReportError::Logo(
                "logo took too long to draw, or too much memory, and was stopped; accepted: a simple drawing, or up to a \
                 million pixels; simplify it, or save it as PNG with fewer pixels and without a colour profile"
                    .to_owned(),
            )),
            Err(other) => Err(other),
        }
    }

    /// Compiles a template with the sample data in its folder. The sample's sentences are in the language in which it was made.
    ///
    /// # Errors
    /// There is no such template or language.
    pub fn check(&self, template: &str, language: &str, paper: Option<Paper>) -> Result<Checked, ReportError> {
        self.known(template)?;
        if !self.set.languages.contains_key(language) {
            return Err(self.unknown_language(language));
        }
        let path = format!("{template}/sample.json");
        let empty = || Value::Object(serde_json::Map::new());
        let read = self.set.files.get(&path).map_or_else(|| Ok(empty()), |bytes| serde_json::from_slice(bytes));
        let failed = |faults| Checked { faults, pages: 0, pdf: Vec::new() };
        let mut data: Value = match read {
            Ok(data) => data,
            Err(e) => {
                let fault = TemplateFault {
                    file: path,
                    line: u32::try_from(e.line()).unwrap_or(0),
                    column: u32::try_from(e.column()).unwrap_or(0),
                    message: e.to_string(),
                    hint: "the sample must be one JSON object".to_owned(),
                };
                return Ok(failed(vec![fault]));
            }
        };
        if let Some(settings) = data.get_mut("settings").and_then(Value::as_object_mut) {
            settings.insert("language".to_owned(), language.into());
            if let Some(paper) = paper {
                settings.insert("paper".to_owned(), paper.name().into());
            }
        }
        match self.compile(template, &data, None) {
            Ok(Typeset::Done { pdf, pages }) => Ok(Checked { faults: Vec::new(), pages, pdf }),
            Ok(Typeset::Faults(faults)) => Ok(failed(faults)),
            Err(ReportError::Costly { text, .. }) => {
                let file = format!("{template}/main.typ");
                Ok(failed(vec![TemplateFault { file, message: text, ..TemplateFault::default() }]))
            }
            Err(other) => Err(other),
        }
    }

    fn known(&self, template: &str) -> Result<&TemplateInfo, ReportError> {
        let all = &self.set.templates;
        all.iter().find(|t| t.id == template).ok_or_else(|| {
            let known: Vec<_> = all.iter().map(|t| t.id.as_str()).collect();
            ReportError::UnknownTemplate { given: template.to_owned(), known: known.join(", ") }
        })
    }

    fn unknown_language(&self, given: &str) -> ReportError {
        ReportError::UnknownLanguage { given: given.to_owned(), known: self.languages().join(", ") }
    }

    fn compile(&self, template: &str, data: &Value, logo: Option<&Logo>) -> Result<Typeset, ReportError> {
        let apart = self.known(template)?.own || logo.is_some_and(Logo::is_costly);
        let data = serde_json::to_string(data).map_err(|e| ReportError::Data(e.to_string()))?;
        let mut files = used(template, &self.set.files);
        if let Some(logo) = logo {
            files.insert(logo.path().to_owned(), logo.bytes().to_vec());
        }
        let job = Job { template: template.to_owned(), data, files };
        if apart { (self.sandbox)(&job) } else { typeset(&job) }
    }
}

/// Does a job in this process.
///
/// # Errors
/// A path of the job is not valid.
pub fn typeset(job: &Job) -> Result<Typeset, ReportError> {
    let world = ReportWorld::new(&job.files, &job.template, job.data.clone())
        .ok_or_else(|| ReportError::Data("a path of the template set is not valid".to_owned()))?;
    let result = compile(&world);
    // Memoised layout of one report is of no use to the next, and would be kept for ever.
    typst::comemo::evict(0);
    result
}

/// Typst's own work. A warning is an error: it is something that the reader of the report would see.
fn compile(world: &ReportWorld) -> Result<Typeset, ReportError> {
    let failed = |found: &[SourceDiagnostic]| Typeset::Faults(found.iter().map(|d| fault(world, d)).collect());
    let compiled = typst::compile::<PagedDocument>(world);
    let document = match compiled.output {
        Ok(document) => document,
        Err(errors) => return Ok(failed(&errors)),
    };
    if !compiled.warnings.is_empty() {
        return Ok(failed(&compiled.warnings));
    }
    let standards = PdfStandards::new(&[PdfStandard::Ua_1]).map_err(|e| ReportError::Data(e.message().to_string()))?;
    let options = PdfOptions {
        // A fixed identifier and no time stamp: the same data give the same bytes.
        ident: Smart::Custom("lakebeam report".to_owned()),
        creator: Smart::Custom(Some("lakebeam".to_owned())),
        timestamp: None,
        standards,
        ..PdfOptions::default()
    };
    Ok(match typst_pdf::pdf(&document, &options) {
        Ok(pdf) => Typeset::Done { pdf, pages: u32::try_from(document.pages().len()).unwrap_or(u32::MAX) },
        Err(errors) => failed(&errors),
    })
}

fn fault(world: &ReportWorld, diagnostic: &SourceDiagnostic) -> TemplateFault {
    let mut spans = std::iter::once(diagnostic.span).chain(diagnostic.trace.iter().map(|point| point.span.into()));
    let place = spans.find_map(|span| {
        let id = span.id()?;
        let source = world.source(id).ok()?;
        let (line, column) = source.lines().byte_to_line_column(world.range(span)?.start)?;
        let file = id.get().vpath().get_without_slash().to_string();
        Some((file, u32::try_from(line + 1).ok()?, u32::try_from(column + 1).ok()?))
    });
    let (file, line, column) = place.unwrap_or_default();
    let message = diagnostic.message.to_string();
    let hints: Vec<_> = diagnostic.hints.iter().map(|h| h.v.to_string()).collect();
    // The typesetter's own hint on this names a flag that there is not.
    let hint = if hints.is_empty() || message.contains("would escape") {
        advice(&message).to_owned()
    } else {
        hints.join("; ")
    };
    TemplateFault { file, line, column, message, hint }
}

/// What to do about faults that the typesetter gives no hint for.
fn advice(message: &str) -> &'static str {
    let known = [
        ("is a package", "copy the files that you need of it into the template's folder and import them from there"),
        (
            "in the template folder",
            "a template reads its own folder, /shared and /data.json; copy the file into the template's folder (links are not followed)",
        ),
        (
            "would escape",
            "a template reads nothing outside of the template folder; copy the file into the template's folder",
        ),
        ("does not contain key", "compare with the template's data contract: lakebeam template schema NAME"),
        ("loop seems to be infinite", "give it a condition that changes inside it"),
        ("condition is always", "give the loop a condition that changes inside it"),
        ("unknown variable", "define it with #let, or import it from /shared/house.typ"),
        ("alt", "PDF/UA-1 asks for a description of each picture: figure(…, alt: \"what it shows\")"),
        ("title", "PDF/UA-1 asks for a title: #set document(title: \"…\")"),
    ];
    known
        .iter()
        .find(|(part, _)| message.contains(part))
        .map_or("correct the template there, and check it again with: lakebeam template check NAME", |(_, advice)| {
            advice
        })
}
