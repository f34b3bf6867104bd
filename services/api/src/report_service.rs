//! ReportService: PDF from stored results, rendered once for the same content.

use std::sync::Arc;

use catalog::{FindingsQuery, NewReport, Referrers, RunState, StoredReport, StoredRun};
use domain::{FaultReason, Id};
use prost::Message as _;
use proto::v1;
use proto::v1::report_service_server::ReportService;
use runs::NoRoom;
use tonic::codegen::BoxStream;
use tonic::{Request, Response, Status};

use crate::context::{Caller, Shared};
use crate::convert::report::{self, MAX_SPOTS, RUNS, ReportRequest, SampleRequest, Source};
use crate::documents;
use crate::error::Error;
use crate::ids;
use crate::names;
use crate::paging::{Listing, page_size};
use crate::render::{DocumentSource, LengthUnit, Paper, RenderError, RenderJob, RenderSource, Rendered, RunSource};
use crate::request::{Incoming, whole};
use crate::resource::timestamp;
use crate::selection_service::of_spots;

/// Bytes in one message of a download.
const CHUNK_BYTES: usize = 64 * 1024;

/// The handlers of ReportService.
pub struct ReportHandlers {
    shared: Arc<Shared>,
}

impl ReportHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl ReportService for ReportHandlers {
    type DownloadReportStream = BoxStream<v1::DownloadReportResponse>;
    type PreviewTemplateStream = BoxStream<v1::PreviewTemplateResponse>;

    async fn render_report(&self, request: Request<v1::RenderReportRequest>) -> Result<Response<v1::Report>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let request = report::from(&message).map_err(Error::BadFields)?;
        Ok(Response::new(render(&self.shared, request, caller).await?))
    }

    async fn get_report(&self, request: Request<v1::GetReportRequest>) -> Result<Response<v1::Report>, Status> {
        let id = ids::read(&self.shared, "name", "reports", &whole(request)?.message.name).await?;
        let stored = self.shared.store().report(id.as_str()).await.map_err(Error::from)?;
        Ok(Response::new(report_message(&stored)))
    }

    async fn delete_report(&self, request: Request<v1::DeleteReportRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::remove(&self.shared, "reports", (&message.name, Referrers::Leave), caller).await
    }

    async fn list_reports(
        &self,
        request: Request<v1::ListReportsRequest>,
    ) -> Result<Response<v1::ListReportsResponse>, Status> {
        let message = whole(request)?.message;
        let limit = page_size(message.page_size)?;
        let parts = [message.source.as_str()];
        let listing = Listing { kind: "reports", selection: &parts };
        let before = match listing.position(&message.page_token)? {
            Some(position) => Some(position.parse().map_err(|_| Error::BadPageToken)?),
            None => None,
        };
        let source = (!message.source.is_empty()).then_some(message.source.as_str());
        let mut found = self.shared.store().list_reports(source, before, limit + 1).await.map_err(Error::from)?;
        let more = found.len() > limit as usize;
        found.truncate(limit as usize);
        let last = found.last().filter(|_| more).map(|r| r.seq.to_string());
        Ok(Response::new(v1::ListReportsResponse {
            reports: found.iter().map(report_message).collect(),
            next_page_token: listing.token(last.as_deref()),
        }))
    }

    async fn download_report(
        &self,
        request: Request<v1::DownloadReportRequest>,
    ) -> Result<Response<Self::DownloadReportStream>, Status> {
        let id = ids::read(&self.shared, "name", "reports", &whole(request)?.message.name).await?;
        let pdf = self.shared.store().report_bytes(id.as_str()).await.map_err(Error::from)?;
        let chunks = chunks(pdf).map(|chunk| Ok(v1::DownloadReportResponse { chunk }));
        Ok(Response::new(Box::pin(futures::stream::iter(chunks))))
    }

    async fn list_templates(
        &self,
        request: Request<v1::ListTemplatesRequest>,
    ) -> Result<Response<v1::ListTemplatesResponse>, Status> {
        let _ = whole(request)?;
        let templates = self.shared.context.renderer.templates().map_err(refused)?;
        let message = |t: crate::TemplateInfo| v1::Template {
            name: format!("templates/{}", t.id),
            title: t.title,
            source_collection: t.source_collection,
            own: t.own,
            usual: t.usual,
        };
        Ok(Response::new(v1::ListTemplatesResponse {
            templates: templates.into_iter().map(message).collect(),
            language_codes: self.shared.context.renderer.languages(),
        }))
    }

    async fn check_template(
        &self,
        request: Request<v1::CheckTemplateRequest>,
    ) -> Result<Response<v1::CheckTemplateResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let sample = report::sample(&message.name, &message.language_code, 0).map_err(Error::BadFields)?;
        let checked = check(&self.shared, sample, caller.as_ref()).await?;
        let fault = |f: crate::TemplateFault| v1::TemplateFault {
            file: f.file,
            line: i32::try_from(f.line).unwrap_or(i32::MAX),
            message: f.message,
            hint: f.hint,
            column: i32::try_from(f.column).unwrap_or(i32::MAX),
        };
        Ok(Response::new(v1::CheckTemplateResponse {
            faults: checked.faults.into_iter().map(fault).collect(),
            page_count: i32::try_from(checked.pages).unwrap_or(i32::MAX),
        }))
    }

    async fn preview_template(
        &self,
        request: Request<v1::PreviewTemplateRequest>,
    ) -> Result<Response<Self::PreviewTemplateStream>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let sample = report::sample(&message.name, &message.language_code, message.paper).map_err(Error::BadFields)?;
        let template = format!("templates/{}", sample.template);
        let checked = check(&self.shared, sample, caller.as_ref()).await?;
        if let Some(first) = checked.faults.first() {
            return Err(Error::TemplateFault { template, message: first.sentence() }.into());
        }
        let chunks = chunks(checked.pdf).map(|chunk| Ok(v1::PreviewTemplateResponse { chunk }));
        Ok(Response::new(Box::pin(futures::stream::iter(chunks))))
    }
}

/// A template compiled with its own sample.
async fn check(
    shared: &Arc<Shared>,
    sample: SampleRequest,
    caller: Option<&Caller>,
) -> Result<crate::TemplateCheck, Error> {
    let worker = Arc::clone(shared);
    let work = move || worker.context.renderer.check(sample.template.as_str(), &sample.language, sample.paper);
    blocking(shared, caller, work).await
}

/// A PDF in messages of a fair size.
fn chunks(pdf: Vec<u8>) -> impl Iterator<Item = prost::bytes::Bytes> + Send {
    let pdf = prost::bytes::Bytes::from(pdf);
    (0..pdf.len()).step_by(CHUNK_BYTES).map(move |at| pdf.slice(at..pdf.len().min(at + CHUNK_BYTES)))
}

/// Renders, or finds what was rendered from the same content before.
async fn render(shared: &Arc<Shared>, mut request: ReportRequest, caller: Option<Caller>) -> Result<v1::Report, Error> {
    request.source.id = ids::whole(shared, "source", request.source.collection, &request.source.id).await?;
    let found = Found::new(shared, &request).await?;
    let template = fitting(shared, &request)?;
    let fingerprint = shared.context.renderer.fingerprint(&template).map_err(refused)?;
    let key = content_key(&request, found.hash(), &fingerprint);
    if let Some(stored) = shared.store().report_by_key(&key).await? {
        return Ok(report_message(&stored));
    }
    let source = match found {
        Found::Run(run) => RenderSource::Run(Box::new(run_source(shared, &request, *run, caller.as_ref()).await?)),
        Found::Document(document) => RenderSource::Document(document),
    };
    let job = RenderJob { template: template.clone(), source, settings: request.settings };
    let worker = Arc::clone(shared);
    let span = tracing::info_span!("render", template);
    let work = move || span.in_scope(|| worker.context.renderer.render(&job));
    let Rendered { pdf, pages, title } = blocking(shared, caller.as_ref(), work).await?;
    let report = NewReport {
        id: ids::fresh(shared, "reports", 'p').await?,
        content_key: key,
        source: request.source.to_string(),
        template: format!("templates/{template}"),
        title,
        page_count: pages,
        pdf,
    };
    Ok(report_message(&shared.store().put_report(report, &shared.write(caller)).await?))
}

/// What a report is to be made from.
enum Found {
    Run(Box<StoredRun>),
    Document(Box<DocumentSource>),
}

impl Found {
    async fn new(shared: &Shared, request: &ReportRequest) -> Result<Self, Error> {
        if request.source.collection != RUNS {
            return Ok(Self::Document(Box::new(document(shared, request).await?)));
        }
        let run = shared.store().run(request.source.id.as_str()).await?;
        if run.state != RunState::Succeeded {
            let name = request.source.to_string();
            return Err(Error::RunNotSucceeded { name, state: run.state.name() });
        }
        Ok(Self::Run(Box::new(run)))
    }

    fn hash(&self) -> &str {
        match self {
            Self::Run(run) => &run.result_hash,
            Self::Document(document) => &document.fingerprint,
        }
    }
}

/// The template that is asked for, or the usual one; each reports on one collection only.
fn fitting(shared: &Shared, request: &ReportRequest) -> Result<String, Error> {
    let templates = shared.context.renderer.templates().map_err(refused)?;
    let of_source = || templates.iter().filter(|template| template.source_collection == request.source.collection);
    let Some(asked) = &request.template else {
        let usual = of_source().find(|template| template.usual).map(|template| template.id.clone());
        return usual.ok_or_else(|| Error::internal(format!("no template reports on {}", request.source.collection)));
    };
    let known = templates.iter().find(|template| template.id == asked.as_str());
    let Some(other) = known.filter(|template| template.source_collection != request.source.collection) else {
        return Ok(asked.to_string());
    };
    let fitting: Vec<_> = of_source().map(|template| format!("templates/{}", template.id)).collect();
    let text = format!(
        "template is 'templates/{}', which reports on {}; accepted for {}: {}; name one of these",
        other.id,
        other.source_collection,
        request.source,
        fitting.join(", ")
    );
    Err(Error::field("template", FaultReason::Contradiction, text))
}

async fn document(shared: &Shared, request: &ReportRequest) -> Result<DocumentSource, Error> {
    let Source { collection, id } = &request.source;
    let stored = shared.store().document(collection, id.as_str()).await?;
    let document = proto::Document::decode(collection, &stored.body).map_err(Error::internal)?;
    let document = document.ok_or_else(|| Error::internal(format!("{collection} are no documents")))?;
    if let Some(missing) = request.parts.iter().position(|part| !has_sheet(&document, part)) {
        let field = format!("spots[{missing}]");
        let text = format!("{field} names no shelter of {}; accepted: one of its shelters", request.source);
        return Err(Error::field(field, FaultReason::Unknown, text));
    }
    Ok(DocumentSource {
        id: id.to_string(),
        create_time: stored.create_time,
        fingerprint: blake3::hash(&stored.body).to_hex().to_string(),
        only: request.parts.iter().map(|part| names::of("shelters", part)).collect(),
        document,
    })
}

/// Whether rules have a sheet for a shelter.
fn has_sheet(document: &proto::Document, shelter: &Id) -> bool {
    let proto::Document::Rules(rules) = document else { return false };
    let name = names::of("shelters", shelter);
    rules.sheets.iter().any(|sheet| sheet.shelter.as_ref().is_some_and(|shelter| shelter.name == name))
}

async fn run_source(
    shared: &Shared,
    request: &ReportRequest,
    run: StoredRun,
    caller: Option<&Caller>,
) -> Result<RunSource, Error> {
    let input = shared.input(&run).await?;
    let spots = spots(request, &input.spots.iter().map(|s| &s.id).collect::<Vec<_>>())?;
    let summary = shared.summary(&run).await?;
    let mut findings = Vec::new();
    for spot in &spots {
        let query = FindingsQuery { spot: Some(*spot), limit: u32::MAX, ..FindingsQuery::default() };
        findings.extend(shared.store().findings(&run, &query).await?);
    }
    let spec = v1::RunSpec::decode(run.spec.as_slice()).map_err(Error::internal)?;
    let advice = of_spots(shared, &spec, &input, &spots, caller).await?;
    Ok(RunSource {
        advice,
        findings,
        input: (*input).clone(),
        run_id: run.id,
        run_time: run.create_time,
        result_hash: run.result_hash,
        spots,
        summary: (*summary).clone(),
    })
}

/// Rendering is long and must not hold up the async threads; a few at a time, a bounded number waits, and more are refused.
async fn blocking<T: Send + 'static>(
    shared: &Arc<Shared>,
    caller: Option<&Caller>,
    work: impl FnOnce() -> Result<T, RenderError> + Send + 'static,
) -> Result<T, Error> {
    let full = |full: NoRoom| Error::Overloaded { what: format!("{} reports wait to be rendered already", full.limit) };
    let place = shared.renders.take(Caller::name(caller)).await.map_err(full)?;
    // The place goes with the work: the typesetter cannot be told to stop, so that where the caller has gone away, it is free
    // only once the page is set.
    let work = move || {
        let _place = place;
        work()
    };
    tokio::task::spawn_blocking(work).await.map_err(Error::internal)?.map_err(refused)
}

fn refused(error: RenderError) -> Error {
    match error {
        RenderError::UnknownTemplate { template } => {
            Error::NotFound { collection: "templates", name: format!("templates/{template}") }
        }
        RenderError::TemplateFault { template, message } => {
            Error::TemplateFault { template: format!("templates/{template}"), message }
        }
        RenderError::UnknownLanguage { given, known } => {
            let text = format!("language_code is '{given}'; accepted: {known}; name one of these");
            Error::field("language_code", FaultReason::Unknown, text)
        }
        RenderError::BadLogo { message } => Error::field("logo", FaultReason::BadForm, message),
        RenderError::TooExpensive { message } => Error::field("spots", FaultReason::OutOfRange, message),
        RenderError::Internal { message } => Error::internal(message),
    }
}

/// Indices of the spots to report on.
fn spots(request: &ReportRequest, known: &[&Id]) -> Result<Vec<usize>, Error> {
    if request.parts.is_empty() {
        if known.len() > MAX_SPOTS {
            let text =
                format!("the run has {} spots; accepted: up to {MAX_SPOTS} in a report; name the spots", known.len());
            return Err(Error::field("spots", FaultReason::OutOfRange, text));
        }
        return Ok((0..known.len()).collect());
    }
    let mut faults = Vec::new();
    let mut found = Vec::with_capacity(request.parts.len());
    for (i, id) in request.parts.iter().enumerate() {
        match known.iter().position(|k| *k == id) {
            Some(index) => found.push(index),
            None => {
                let text =
                    format!("spots[{i}] is 'spots/{id}', which is no spot of this run; accepted: one of its spots");
                faults.push(domain::Fault::new(format!("spots[{i}]"), FaultReason::Unknown, text));
            }
        }
    }
    if faults.is_empty() { Ok(found) } else { Err(Error::BadFields(faults)) }
}

/// Fingerprint of everything that the bytes of a report depend on.
fn content_key(request: &ReportRequest, result_hash: &str, fingerprint: &str) -> String {
    let settings = &request.settings;
    let unit = match settings.length_unit {
        LengthUnit::Metres => "m",
        LengthUnit::Feet => "ft",
    };
    let paper = match settings.paper {
        Paper::A4 => "a4",
        Paper::UsLetter => "us-letter",
    };
    let mut hasher = blake3::Hasher::new_derive_key("lakebeam report content 4");
    let source = request.source.to_string();
    let parts = [
        source.as_str(),
        result_hash,
        fingerprint,
        unit,
        paper,
        &settings.language,
        if settings.appendix { "appendix" } else { "" },
        &settings.title,
        &settings.organisation,
        &settings.contact,
    ];
    let parts = parts.into_iter().map(str::as_bytes).chain([settings.logo.as_slice()]);
    for part in parts.chain(request.parts.iter().map(|id| id.as_str().as_bytes())) {
        // Lengths keep ("ab", "c") and ("a", "bc") apart.
        hasher.update(&part.len().to_le_bytes()).update(part);
    }
    hasher.finalize().to_hex().to_string()
}

fn report_message(report: &StoredReport) -> v1::Report {
    v1::Report {
        name: format!("reports/{}", report.id),
        source: report.source.clone(),
        template: report.template.clone(),
        title: report.title.clone(),
        page_count: i32::try_from(report.page_count).unwrap_or(i32::MAX),
        size_bytes: i64::try_from(report.size_bytes).unwrap_or(i64::MAX),
        content_hash: report.content_hash.clone(),
        create_time: Some(timestamp(report.create_time)),
    }
}
