//! Compiling a template with its data into a PDF.

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
use crate::templates::{Files, TemplateInfo, TemplateSource, infos};
use crate::world::ReportWorld;

/// Renders reports. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Renderer {
    files: Arc<Files>,
}

/// What is to be rendered.
#[derive(Debug, Clone)]
pub enum Report {
    /// Findings of a run.
    Comparison(Box<Comparison>),
    /// Anything else that was derived and stored.
    Document(Document),
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
}

impl Renderer {
    /// A renderer over some templates.
    ///
    /// # Errors
    /// A file of the template folder cannot be read.
    pub fn new(source: &TemplateSource) -> Result<Self, ReportError> {
        Ok(Self { files: Arc::new(source.files()?) })
    }

    /// The templates there are.
    #[must_use]
    pub fn templates(&self) -> Vec<TemplateInfo> {
        infos(&self.files)
    }

    /// A fingerprint of a template with everything that it shares: it changes whenever the same data might come out as other bytes.
    ///
    /// # Errors
    /// There is no such template.
    pub fn fingerprint(&self, template: &str) -> Result<String, ReportError> {
        self.known(template)?;
        let own = format!("{template}/");
        let mut hash = blake3::Hasher::new();
        hash.update(env!("CARGO_PKG_VERSION").as_bytes());
        for (path, bytes) in self.files.iter().filter(|(p, _)| p.starts_with(&own) || p.starts_with("shared/")) {
            hash.update(path.as_bytes()).update(&bytes.len().to_le_bytes()).update(bytes);
        }
        Ok(hash.finalize().to_hex().to_string())
    }

    /// Renders a report.
    ///
    /// # Errors
    /// There is no such template, it does not compile, or the data are too much for one report.
    pub fn render(&self, template: &str, report: &Report) -> Result<Rendered, ReportError> {
        let data = match report {
            Report::Comparison(comparison) => comparison::data(comparison)?,
            Report::Document(document) => document.data()?,
        };
        let title = data.pointer("/settings/title").and_then(Value::as_str).unwrap_or_default().to_owned();
        let (pdf, pages) = self.compile(template, &data)?;
        Ok(Rendered { pdf, pages, title })
    }

    /// Compiles a template with the sample data in its folder.
    ///
    /// # Errors
    /// There is no such template.
    pub fn check(&self, template: &str) -> Result<Checked, ReportError> {
        self.known(template)?;
        let path = format!("{template}/sample.json");
        let sample = self
            .files
            .get(&path)
            .map_or(Ok(Value::Object(serde_json::Map::new())), |bytes| serde_json::from_slice(bytes));
        let outcome = match sample {
            Ok(data) => self.compile(template, &data),
            Err(e) => {
                let fault = TemplateFault {
                    file: path,
                    line: u32::try_from(e.line()).unwrap_or(0),
                    message: e.to_string(),
                    hint: "the sample must be one JSON object".to_owned(),
                };
                return Ok(Checked { faults: vec![fault], pages: 0 });
            }
        };
        match outcome {
            Ok((_, pages)) => Ok(Checked { faults: Vec::new(), pages }),
            Err(ReportError::Template { faults, .. }) => Ok(Checked { faults, pages: 0 }),
            Err(other) => Err(other),
        }
    }

    fn known(&self, template: &str) -> Result<(), ReportError> {
        let all = self.templates();
        if all.iter().any(|t| t.id == template) {
            return Ok(());
        }
        let known: Vec<_> = all.into_iter().map(|t| t.id).collect();
        Err(ReportError::UnknownTemplate { given: template.to_owned(), known: known.join(", ") })
    }

    fn compile(&self, template: &str, data: &Value) -> Result<(Vec<u8>, u32), ReportError> {
        self.known(template)?;
        let text = serde_json::to_string(data).map_err(|e| ReportError::Data(e.to_string()))?;
        let world = ReportWorld::new(&self.files, template, text)
            .ok_or_else(|| ReportError::Data("a path of the template set is not valid".to_owned()))?;
        let result = compile(&world, template);
        // Memoised layout of one report is of no use to the next, and would be kept for ever.
        typst::comemo::evict(0);
        result
    }
}

/// Typst's own work. A warning is an error: it is something that the reader of the report would see.
fn compile(world: &ReportWorld, template: &str) -> Result<(Vec<u8>, u32), ReportError> {
    let failed = |found: &[SourceDiagnostic]| ReportError::Template {
        template: template.to_owned(),
        faults: found.iter().map(|d| fault(world, d)).collect(),
    };
    let compiled = typst::compile::<PagedDocument>(world);
    let document = compiled.output.map_err(|errors| failed(&errors))?;
    if !compiled.warnings.is_empty() {
        return Err(failed(&compiled.warnings));
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
    let pdf = typst_pdf::pdf(&document, &options).map_err(|errors| failed(&errors))?;
    Ok((pdf, u32::try_from(document.pages().len()).unwrap_or(u32::MAX)))
}

fn fault(world: &ReportWorld, diagnostic: &SourceDiagnostic) -> TemplateFault {
    let place = diagnostic.span.id().and_then(|id| {
        let source = world.source(id).ok()?;
        let start = world.range(diagnostic.span)?.start;
        let line = source.lines().byte_to_line(start)?;
        Some((id.get().vpath().get_without_slash().to_string(), u32::try_from(line + 1).ok()?))
    });
    let (file, line) = place.unwrap_or_default();
    let hints: Vec<_> = diagnostic.hints.iter().map(|h| h.v.to_string()).collect();
    TemplateFault { file, line, message: diagnostic.message.to_string(), hint: hints.join("; ") }
}
