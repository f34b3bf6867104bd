//! Findings of a run: by page, as a stream, summed up, explained.

use std::sync::Arc;

use catalog::{FindingKey, FindingsQuery, StoredRun};
use domain::selection::RunInput;
use domain::{Cancel, FaultReason, Id};
use futures::{StreamExt as _, TryStreamExt as _};
use planning::selection::Prepared;
use prost::Message as _;
use proto::v1;
use tonic::Status;
use tonic::codegen::BoxStream;

use super::stored::stored_run;
use crate::ahead::ahead;
use crate::context::{Caller, Shared};
use crate::convert::finding::{FindingWriter, step};
use crate::error::Error;
use crate::ids;
use crate::names::{self, FindingName};
use crate::paging::{Listing, MAX_PAGE, page_size};

/// Which findings a request selects.
pub(super) struct Selection {
    pub(super) run: StoredRun,
    id: Id,
    pub(super) input: Arc<RunInput>,
    pub(super) spot: Option<usize>,
    pub(super) max_rank: Option<u32>,
}

pub(super) async fn select(shared: &Shared, parent: &str, spot: &str, max_rank: i32) -> Result<Selection, Error> {
    let run = stored_run(shared, "parent", parent).await?;
    let input = shared.input(&run).await?;
    let spot = if spot.is_empty() { None } else { Some(spot_index(&input, "spot", spot)?) };
    let max_rank = match u32::try_from(max_rank) {
        Ok(0) => None,
        Ok(rank) => Some(rank),
        Err(_) => {
            let text = format!("max_rank is {max_rank}; accepted: 0 for all, or 1 and more; leave it out");
            return Err(Error::field("max_rank", FaultReason::OutOfRange, text));
        }
    };
    let id = Id::parse(&run.id).map_err(Error::internal)?;
    Ok(Selection { run, id, input, spot, max_rank })
}

fn spot_index(input: &RunInput, field: &str, name: &str) -> Result<usize, Error> {
    let id = names::parse(field, "spots", name)?;
    input.spots.iter().position(|s| s.id == id).ok_or_else(|| {
        let text = format!("{field} is '{name}', which is no spot of this run; accepted: one of its spots");
        Error::field(field, FaultReason::Unknown, text)
    })
}

/// A page of findings.
pub(super) async fn list(
    shared: &Shared,
    request: &v1::ListFindingsRequest,
) -> Result<v1::ListFindingsResponse, Error> {
    let limit = page_size(request.page_size)?;
    let selection = select(shared, &request.parent, &request.spot, request.max_rank).await?;
    let rank = request.max_rank.to_string();
    let parts = [request.parent.as_str(), request.spot.as_str(), rank.as_str()];
    let listing = Listing { kind: "findings", selection: &parts };
    let after = match listing.position(&request.page_token)? {
        Some(position) => Some(read_position(&position).ok_or(Error::BadPageToken)?),
        None => None,
    };
    let query = FindingsQuery { spot: selection.spot, max_rank: selection.max_rank, after, limit: limit + 1 };
    let mut found = shared.store().findings(&selection.run, &query).await?;
    let more = found.len() > limit as usize;
    found.truncate(limit as usize);
    let last = found.last().filter(|_| more).map(|f| format!("{}:{}:{}", f.spot, f.rank, f.option));
    let writer = FindingWriter::new(&selection.id, &selection.input);
    Ok(v1::ListFindingsResponse {
        findings: found.iter().map(|f| writer.write(f)).collect::<Result<_, _>>()?,
        next_page_token: listing.token(last.as_deref()),
    })
}

fn read_position(position: &str) -> Option<FindingKey> {
    let mut parts = position.split(':');
    let (spot, rank, option) = (parts.next()?, parts.next()?, parts.next()?);
    Some(FindingKey { spot: spot.parse().ok()?, rank: rank.parse().ok()?, option: option.parse().ok()? })
}

/// All findings that a request selects, page by page as the caller takes them.
pub(super) async fn stream(
    shared: &Arc<Shared>,
    request: &v1::StreamFindingsRequest,
) -> Result<BoxStream<v1::Finding>, Error> {
    let selection = select(shared, &request.parent, &request.spot, request.max_rank).await?;
    let start = (Arc::clone(shared), selection, Some(None));
    let pages = futures::stream::unfold(start, |(shared, selection, after)| async move {
        let after = after?;
        let query = FindingsQuery { spot: selection.spot, max_rank: selection.max_rank, after, limit: MAX_PAGE };
        match page(&shared, &selection, &query).await {
            Ok((messages, next)) => Some((Ok(messages), (shared, selection, next.map(Some)))),
            Err(error) => Some((Err(Status::from(error)), (shared, selection, None))),
        }
    });
    Ok(ahead(pages).map_ok(|page| futures::stream::iter(page).map(Ok)).try_flatten().boxed())
}

/// A page of messages, and the position after which the next one begins.
async fn page(
    shared: &Shared,
    selection: &Selection,
    query: &FindingsQuery,
) -> Result<(Vec<v1::Finding>, Option<FindingKey>), Error> {
    let found = shared.store().findings(&selection.run, query).await?;
    let full = found.len() >= query.limit as usize;
    let writer = FindingWriter::new(&selection.id, &selection.input);
    let messages = found.iter().map(|f| writer.write(f)).collect::<Result<_, _>>()?;
    Ok((messages, found.last().filter(|_| full).map(FindingKey::of)))
}

/// How each option did over all spots, best first.
pub(super) async fn summarize(
    shared: &Shared,
    run: &StoredRun,
    caller: Option<&Caller>,
) -> Result<v1::SummarizeRunResponse, Error> {
    if !run.state.is_final() {
        return Err(Error::RunNotEnded { name: format!("runs/{}", run.id), state: run.state.name() });
    }
    let input = shared.input(run).await?;
    let summary = shared.summary(run).await?;
    let id = Id::parse(&run.id).map_err(Error::internal)?;
    let writer = FindingWriter::new(&id, &input);
    let options = summary.iter().map(|s| writer.summary(s)).collect::<Result<_, _>>()?;
    let spec = v1::RunSpec::decode(run.spec.as_slice()).map_err(Error::internal)?;
    let recommendation = super::recommend::summarized(shared, &spec, &input, caller).await?;
    Ok(v1::SummarizeRunResponse { options, recommendation })
}

/// Every figure behind a stored finding, computed again from the run's own copy of its input.
pub(super) async fn explain(
    shared: &Shared,
    name: &str,
    caller: Option<&Caller>,
) -> Result<v1::ExplainFindingResponse, Error> {
    let mut parsed = names::parse_finding("name", name)?;
    parsed.run = ids::whole(shared, "name", "runs", &parsed.run).await?;
    let run = shared.store().run(parsed.run.as_str()).await?;
    let input = shared.input(&run).await?;
    let (spot, option) = indices(&input, &parsed).ok_or_else(|| not_found(name))?;
    let finding = shared.store().finding(&run, spot, option).await.map_err(|e| match e {
        catalog::StoreError::NotFound { .. } => not_found(name),
        other => other.into(),
    })?;
    let message = FindingWriter::new(&parsed.run, &input).write(&finding)?;
    let work = move |cancel: &Cancel| {
        let prepared = Prepared::new(&only(&input, spot), cancel)?;
        planning::explain::explain(&prepared, 0, option)
    };
    let root = shared.compute(caller, work).await?.map_err(Error::from)?;
    Ok(v1::ExplainFindingResponse { finding: Some(message), root: Some(step(&root)) })
}

fn not_found(name: &str) -> Error {
    Error::NotFound { collection: "findings", name: name.to_owned() }
}

/// The input with one of its spots, so that only that one's tables are built. A finding does not depend on the other spots.
fn only(input: &RunInput, spot: usize) -> RunInput {
    RunInput { spots: input.spots.get(spot).cloned().into_iter().collect(), ..input.clone() }
}

fn indices(input: &RunInput, name: &FindingName) -> Option<(usize, usize)> {
    let spot = input.spots.iter().position(|s| s.id == name.spot)?;
    let option = input.options.iter().position(|o| {
        input
            .sensors
            .get(o.sensor)
            .is_some_and(|s| s.id == name.sensor && s.options.get(o.option).is_some_and(|beam| beam.id == name.option))
    })?;
    Some((spot, option))
}
