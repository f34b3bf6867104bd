//! Plugs the reports crate into the report service: the two know nothing of each other.

use domain::Cancel;
use std::sync::Arc;
use std::time::Instant;

use api::{
    LengthUnit, Paper, RenderError, RenderJob, RenderSource, Rendered, ReportSettings, RunSource, TemplateCheck,
    TemplateFault, TemplateInfo,
};
use domain::selection::{Finding, RunInput};
use planning::explain::explain;
use planning::lean_cost;
use planning::picture::{self, GainName, Picture};
use planning::recommend::{Beside, Choice, PlaceAdvice, Recommendation};
use planning::selection::Prepared;
use reports::{Comparison, Document, Logo, Report, ReportError, SpotPicture, Told};

use crate::metrics::Metrics;

/// The renderer of the service.
pub(crate) struct PdfRenderer {
    pub(crate) renderer: reports::Renderer,
    pub(crate) metrics: Option<Arc<Metrics>>,
}

impl api::Renderer for PdfRenderer {
    fn templates(&self) -> Result<Vec<TemplateInfo>, RenderError> {
        let info = |t: reports::TemplateInfo| TemplateInfo {
            id: t.id,
            title: t.title,
            source_collection: t.source_collection,
            own: t.own,
            usual: t.usual,
        };
        Ok(self.renderer.templates().into_iter().map(info).collect())
    }

    fn languages(&self) -> Vec<String> {
        self.renderer.languages()
    }

    fn fingerprint(&self, template: &str) -> Result<String, RenderError> {
        self.renderer.fingerprint(template).map_err(|e| refuse(template, e))
    }

    fn render(&self, job: &RenderJob) -> Result<Rendered, RenderError> {
        let began = Instant::now();
        let logo = Some(&job.settings.logo).filter(|bytes| !bytes.is_empty());
        let logo = logo.map(|bytes| Logo::new(bytes.clone())).transpose();
        let logo = logo.map_err(|message| RenderError::BadLogo { message })?;
        let report = report(job, logo).map_err(|message| RenderError::Internal { message })?;
        let done = self.renderer.render(&job.template, &report).map_err(|e| refuse(&job.template, e));
        if let Some(metrics) = &self.metrics {
            metrics.rendered(&job.template, began.elapsed(), done.as_ref().err().map(kind));
        }
        done.map(|done| Rendered { pdf: done.pdf, pages: done.pages, title: done.title })
    }

    fn check(&self, template: &str, language: &str, paper: Option<Paper>) -> Result<TemplateCheck, RenderError> {
        let checked = self.renderer.check(template, language, paper.map(sheet)).map_err(|e| refuse(template, e))?;
        let faults = checked.faults.into_iter().map(fault).collect();
        Ok(TemplateCheck { faults, pages: checked.pages, pdf: checked.pdf })
    }
}

fn fault(f: reports::TemplateFault) -> TemplateFault {
    TemplateFault { file: f.file, line: f.line, column: f.column, message: f.message, hint: f.hint }
}

/// The kind of an error, of which there are few.
const fn kind(error: &RenderError) -> &'static str {
    match error {
        RenderError::UnknownTemplate { .. } => "unknown_template",
        RenderError::TemplateFault { .. } => "template_fault",
        RenderError::UnknownLanguage { .. } => "unknown_language",
        RenderError::BadLogo { .. } => "bad_logo",
        RenderError::TooExpensive { .. } => "too_expensive",
        RenderError::Internal { .. } => "internal",
    }
}

fn refuse(template: &str, error: ReportError) -> RenderError {
    match error {
        ReportError::UnknownTemplate { given, .. } => RenderError::UnknownTemplate { template: given },
        ReportError::UnknownLanguage { given, known } => RenderError::UnknownLanguage { given, known },
        ReportError::Template { ref faults, .. } => RenderError::TemplateFault {
            template: template.to_owned(),
            message: faults.iter().take(3).map(reports::TemplateFault::sentence).collect::<Vec<_>>().join("; "),
        },
        ReportError::Costly { text, .. } => RenderError::TemplateFault { template: template.to_owned(), message: text },
        ReportError::Logo(message) => RenderError::BadLogo { message },
        ReportError::TooMuch(message) => RenderError::TooExpensive { message },
        ReportError::File { .. } | ReportError::Data(_) | ReportError::Process(_) => {
            RenderError::Internal { message: error.to_string() }
        }
    }
}

fn report(job: &RenderJob, logo: Option<Logo>) -> Result<Report, String> {
    let settings = reports::Settings { logo, ..settings(&job.settings) };
    match &job.source {
        RenderSource::Run(run) => Ok(Report::Comparison(Box::new(comparison(run, settings, job.settings.appendix)?))),
        RenderSource::Document(document) => Ok(Report::Document(Box::new(Document {
            id: document.id.clone(),
            time: document.create_time,
            fingerprint: document.fingerprint.clone(),
            only: document.only.clone(),
            content: document.document.clone(),
            settings,
        }))),
    }
}

const fn sheet(paper: Paper) -> reports::Paper {
    match paper {
        Paper::A4 => reports::Paper::A4,
        Paper::UsLetter => reports::Paper::UsLetter,
    }
}

fn settings(settings: &ReportSettings) -> reports::Settings {
    reports::Settings {
        length_unit: match settings.length_unit {
            LengthUnit::Metres => reports::LengthUnit::Metres,
            LengthUnit::Feet => reports::LengthUnit::Feet,
        },
        paper: sheet(settings.paper),
        language: settings.language.clone(),
        title: settings.title.clone(),
        organisation: settings.organisation.clone(),
        contact: settings.contact.clone(),
        logo: None,
    }
}

/// A run with the picture of what is told of each spot, and every figure behind it if asked for, computed again from the stored input.
fn comparison(run: &RunSource, settings: reports::Settings, appendix: bool) -> Result<Comparison, String> {
    let advised = run.advice.as_ref().map(|(_, answer)| answer);
    let told: Vec<(Vec<Finding>, Option<Told>)> = run
        .spots
        .iter()
        .enumerate()
        .map(|(place, spot)| {
            let findings: Vec<_> = run.findings.iter().filter(|f| f.spot == *spot).cloned().collect();
            let told = Told::at(advised, place, &findings, &run.input.options);
            (findings, told)
        })
        .collect();
    let mut options: Vec<usize> = told.iter().filter_map(|(_, told)| Some(told.as_ref()?.finding.option)).collect();
    options.sort_unstable();
    options.dedup();
    // Only what is reported: a spot's figures do not depend on the other spots and options of the run.
    let input = RunInput {
        spots: run.spots.iter().filter_map(|spot| run.input.spots.get(*spot).cloned()).collect(),
        options: options.iter().filter_map(|option| run.input.options.get(*option).copied()).collect(),
        ..run.input.clone()
    };
    let drawn = !options.is_empty() && input.spots.len() == run.spots.len() && input.options.len() == options.len();
    let prepared = if drawn { Some(Prepared::new(&input, &Cancel::never()).map_err(|e| e.to_string())?) } else { None };
    let spots = run
        .spots
        .iter()
        .zip(told)
        .enumerate()
        .map(|(place, (spot, (findings, told)))| {
            let option = told.as_ref().and_then(|told| options.binary_search(&told.finding.option).ok());
            let (Some(prepared), Some(option)) = (&prepared, option) else {
                return Ok(SpotPicture { spot: *spot, findings, told, picture: None, lean: None, working: None });
            };
            let advised = told.as_ref().and_then(|told| told.advised.as_ref());
            let picture = pictured(prepared, place, option, advised)?;
            let working = appendix.then(|| explain(prepared, place, option)).transpose().map_err(|e| e.to_string())?;
            let lean = lean_cost(prepared, place, option).ok();
            Ok(SpotPicture { spot: *spot, findings, told, picture: Some(picture), lean, working })
        })
        .collect::<Result<_, String>>()?;
    Ok(Comparison {
        run_id: run.run_id.clone(),
        run_time: run.run_time,
        result_hash: run.result_hash.clone(),
        input: run.input.clone(),
        spots,
        summary: run.summary.clone(),
        advice: run.advice.as_ref().map(|found| advice(run, found)).transpose()?,
        settings,
    })
}

/// The advice with the picture of the place that matters most.
fn advice(run: &RunSource, (choice, answer): &(Choice, Recommendation)) -> Result<reports::Advice, String> {
    let spots = run.spots.iter().filter_map(|spot| run.input.spots.get(*spot).cloned()).collect();
    let input = RunInput { spots, ..run.input.clone() };
    let mut advice = reports::Advice { input, choice: choice.clone(), answer: answer.clone(), picture: None };
    let Some(main) = advice.most_important() else { return Ok(advice) };
    let drawn = RunInput {
        spots: advice.input.spots.get(main.place.0).cloned().into_iter().collect(),
        options: advice.input.options.get(main.finding.option).copied().into_iter().collect(),
        ..advice.input.clone()
    };
    let prepared = Prepared::new(&drawn, &Cancel::never()).map_err(|e| e.to_string())?;
    let drawn = pictured(&prepared, 0, 0, Some(main))?;
    advice.picture = Some(drawn);
    Ok(advice)
}

/// The picture of an option, without the gain that the worst of all neighbours leave where the setting is for most of them.
fn pictured(prepared: &Prepared, spot: usize, option: usize, advised: Option<&PlaceAdvice>) -> Result<Picture, String> {
    let mut picture = picture::draw(prepared, spot, option).map_err(|e| e.to_string())?;
    if advised.is_some_and(|advised| advised.beside != Beside::All) {
        picture.side.outlines.retain(|outline| outline.name != GainName::Clear);
    }
    Ok(picture)
}
