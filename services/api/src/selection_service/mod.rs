//! SelectionService: runs, their findings, explanations, and evaluations at once.

mod evaluate;
mod export;
mod findings;
mod inline;
mod recommend;
pub(crate) mod stored;
mod watch;

pub(crate) use recommend::of_spots;

use std::sync::Arc;

use catalog::StoredRun;
use domain::FaultReason;
use prost::Message as _;
use proto::v1;
use proto::v1::selection_service_server::SelectionService;
use runs::StartRun;
use tonic::codegen::BoxStream;
use tonic::{Request, Response, Status};

use crate::context::Shared;
use crate::crud::referrers;
use crate::error::Error;
use crate::ids;
use crate::paging::{Listing, page_size};
use crate::reflect::Depth;
use crate::request::{Incoming, parts, whole};
use crate::resolve;
use inline::Instead;
use stored::{run_message, stored_run};

/// Longest request id, in characters.
const MAX_REQUEST_ID: usize = 64;

/// The handlers of SelectionService.
pub struct SelectionHandlers {
    shared: Arc<Shared>,
}

impl SelectionHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl SelectionService for SelectionHandlers {
    type WatchRunStream = BoxStream<v1::WatchRunResponse>;
    type StreamFindingsStream = BoxStream<v1::Finding>;
    type RecommendStream = BoxStream<v1::RecommendResponse>;
    type ExportFindingsStream = BoxStream<v1::ExportFindingsResponse>;

    async fn start_run(&self, request: Request<v1::StartRunRequest>) -> Result<Response<v1::Run>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let spec = message.spec.unwrap_or_default();
        inline::refuse(missing, &spec, &Instead::default())?;
        let request_id = request_id(&message.request_id)?;
        let input = resolve::run_input(&self.shared, &spec, caller.as_ref()).await.map_err(|e| e.under("spec"))?;
        let (spec, input, _) = recommend::checked(&self.shared, caller.as_ref(), (spec, input)).await?;
        let write = self.shared.write(caller);
        if message.validate_only {
            // A run that nobody starts has no name and no state.
            let count = |n: usize| i32::try_from(n).unwrap_or(i32::MAX);
            let (spot_count, option_count) = (count(input.spots.len()), count(input.options.len()));
            let findings_total = i64::from(spot_count) * i64::from(option_count);
            return Ok(Response::new(v1::Run {
                spec: Some(spec),
                spot_count,
                option_count,
                findings_total,
                ..v1::Run::default()
            }));
        }
        let id = ids::fresh(&self.shared, "runs", 'r').await?;
        let start = StartRun { id, request_id, spec: spec.encode_to_vec(), input };
        let asked = start.spec.clone();
        let run = self.shared.context.engine.start(start, write).await.map_err(Error::from)?;
        if run.spec != asked {
            return Err(used_before(&message.request_id, &run).into());
        }
        Ok(Response::new(run_message(&run)?))
    }

    async fn get_run(&self, request: Request<v1::GetRunRequest>) -> Result<Response<v1::Run>, Status> {
        let run = stored_run(&self.shared, "name", &whole(request)?.message.name).await?;
        Ok(Response::new(run_message(&run)?))
    }

    async fn list_runs(&self, request: Request<v1::ListRunsRequest>) -> Result<Response<v1::ListRunsResponse>, Status> {
        let message = whole(request)?.message;
        let limit = page_size(message.page_size)?;
        let listing = Listing { kind: "runs", selection: &[] };
        let before = match listing.position(&message.page_token)? {
            Some(position) => Some(position.parse().map_err(|_| Error::BadPageToken)?),
            None => None,
        };
        let mut runs = self.shared.store().list_runs(before, limit + 1).await.map_err(Error::from)?;
        let more = runs.len() > limit as usize;
        runs.truncate(limit as usize);
        let last = runs.last().filter(|_| more).map(|run| run.seq.to_string());
        Ok(Response::new(v1::ListRunsResponse {
            runs: runs.iter().map(run_message).collect::<Result<_, _>>()?,
            next_page_token: listing.token(last.as_deref()),
        }))
    }

    async fn cancel_run(&self, request: Request<v1::CancelRunRequest>) -> Result<Response<v1::Run>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let id = ids::read(&self.shared, "name", "runs", &message.name).await?;
        let write = self.shared.write(caller);
        let run = self.shared.context.engine.cancel(id.as_str(), &write).await.map_err(Error::from)?;
        Ok(Response::new(run_message(&run)?))
    }

    async fn delete_run(&self, request: Request<v1::DeleteRunRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let id = crate::names::parse("name", "runs", &message.name).map_err(Error::from)?;
        let write = self.shared.write(caller);
        let gone = self.shared.store().delete_run(id.as_str(), referrers(message.force), &write).await;
        Ok(Response::new(gone.map_err(Error::from)?))
    }

    async fn watch_run(&self, request: Request<v1::WatchRunRequest>) -> Result<Response<Self::WatchRunStream>, Status> {
        let run = stored_run(&self.shared, "name", &whole(request)?.message.name).await?;
        Ok(Response::new(watch::watch(Arc::clone(&self.shared), run)))
    }

    async fn list_findings(
        &self,
        request: Request<v1::ListFindingsRequest>,
    ) -> Result<Response<v1::ListFindingsResponse>, Status> {
        Ok(Response::new(findings::list(&self.shared, &whole(request)?.message).await?))
    }

    async fn stream_findings(
        &self,
        request: Request<v1::StreamFindingsRequest>,
    ) -> Result<Response<Self::StreamFindingsStream>, Status> {
        Ok(Response::new(findings::stream(&self.shared, &whole(request)?.message).await?))
    }

    async fn export_findings(
        &self,
        request: Request<v1::ExportFindingsRequest>,
    ) -> Result<Response<Self::ExportFindingsStream>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(export::export(&self.shared, &message, caller.as_ref()).await?))
    }

    async fn summarize_run(
        &self,
        request: Request<v1::SummarizeRunRequest>,
    ) -> Result<Response<v1::SummarizeRunResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let run = stored_run(&self.shared, "name", &message.name).await?;
        Ok(Response::new(findings::summarize(&self.shared, &run, caller.as_ref()).await?))
    }

    async fn explain_finding(
        &self,
        request: Request<v1::ExplainFindingRequest>,
    ) -> Result<Response<v1::ExplainFindingResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(findings::explain(&self.shared, &message.name, caller.as_ref()).await?))
    }

    async fn evaluate(&self, request: Request<v1::EvaluateRequest>) -> Result<Response<v1::EvaluateResponse>, Status> {
        Ok(Response::new(evaluate::evaluate(&self.shared, request).await?))
    }

    async fn recommend(
        &self,
        request: Request<v1::RecommendRequest>,
    ) -> Result<Response<Self::RecommendStream>, Status> {
        Ok(Response::new(recommend::stream(&self.shared, request).await?))
    }
}

/// The caller's own name for a request; none when it is empty.
fn request_id(given: &str) -> Result<Option<String>, Error> {
    let chars = given.chars().count();
    if chars > MAX_REQUEST_ID {
        return Err(Error::field(
            "request_id",
            FaultReason::TooLong,
            format!("request_id has {chars} characters; accepted: up to {MAX_REQUEST_ID}; shorten it"),
        ));
    }
    Ok((!given.is_empty()).then(|| given.to_owned()))
}

/// A request id of an earlier run that was asked something else.
fn used_before(request_id: &str, run: &StoredRun) -> Error {
    let text = format!(
        "request_id is '{request_id}', with which runs/{} was started, of another spec; accepted: the same spec again, or a new request_id; take a new one",
        run.id
    );
    Error::field("request_id", FaultReason::Duplicate, text)
}
