//! Plugs the reports crate into the report service: the two know nothing of each other.

use api::{LengthUnit, Paper, RenderError, RenderJob, Rendered, TemplateCheck, TemplateFault, TemplateInfo};
use planning::picture;
use planning::selection::Prepared;
use reports::{Comparison, ReportError, SpotPicture};

/// The renderer of the service.
#[derive(Debug, Clone)]
pub(crate) struct PdfRenderer(pub(crate) reports::Renderer);

impl api::Renderer for PdfRenderer {
    fn templates(&self) -> Result<Vec<TemplateInfo>, RenderError> {
        let info = |t: reports::TemplateInfo| TemplateInfo {
            id: t.id,
            title: t.title,
            source_collection: t.source_collection,
        };
        Ok(self.0.templates().into_iter().map(info).collect())
    }

    fn fingerprint(&self, template: &str) -> Result<String, RenderError> {
        self.0.fingerprint(template).map_err(|e| refuse(template, e))
    }

    fn render(&self, job: &RenderJob) -> Result<Rendered, RenderError> {
        let report = comparison(job).map_err(|message| RenderError::Internal { message })?;
        let done = self.0.render(&job.template, &report).map_err(|e| refuse(&job.template, e))?;
        Ok(Rendered { pdf: done.pdf, pages: done.pages, title: done.title })
    }

    fn check(&self, template: &str) -> Result<TemplateCheck, RenderError> {
        let checked = self.0.check(template).map_err(|e| refuse(template, e))?;
        Ok(TemplateCheck { faults: checked.faults.into_iter().map(fault).collect(), pages: checked.pages })
    }
}

fn fault(f: reports::TemplateFault) -> TemplateFault {
    TemplateFault { file: f.file, line: f.line, message: f.message, hint: f.hint }
}

fn refuse(template: &str, error: ReportError) -> RenderError {
    match error {
        ReportError::UnknownTemplate { given, .. } => RenderError::UnknownTemplate { template: given },
        ReportError::Template { .. } => {
            RenderError::TemplateFault { template: template.to_owned(), message: error.to_string() }
        }
        ReportError::TooMuch(message) => RenderError::TooExpensive { message },
        ReportError::File { .. } | ReportError::Data(_) => RenderError::Internal { message: error.to_string() },
    }
}

/// A job with the pictures of the best option at each spot, computed again from the stored input.
fn comparison(job: &RenderJob) -> Result<Comparison, String> {
    let prepared = Prepared::new(&job.input).map_err(|e| e.to_string())?;
    let spots = job
        .spots
        .iter()
        .map(|spot| {
            let findings: Vec<_> = job.findings.iter().filter(|f| f.spot == *spot).cloned().collect();
            let drawn = findings.first().map(|best| picture::draw(&prepared, *spot, best.option)).transpose();
            let picture = drawn.map_err(|e| e.to_string())?;
            Ok(SpotPicture { spot: *spot, findings, picture })
        })
        .collect::<Result<_, String>>()?;
    Ok(Comparison {
        run_id: job.run_id.clone(),
        run_time: job.run_time,
        result_hash: job.result_hash.clone(),
        input: job.input.clone(),
        spots,
        summary: job.summary.clone(),
        settings: reports::Settings {
            length_unit: match job.settings.length_unit {
                LengthUnit::Metres => reports::LengthUnit::Metres,
                LengthUnit::Feet => reports::LengthUnit::Feet,
            },
            paper: match job.settings.paper {
                Paper::A4 => reports::Paper::A4,
                Paper::UsLetter => reports::Paper::UsLetter,
            },
            title: job.settings.title.clone(),
            organisation: job.settings.organisation.clone(),
            contact: job.settings.contact.clone(),
        },
    })
}
