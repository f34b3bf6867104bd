//! AdminService: the audit trail, and the removal of old results.

use std::sync::Arc;

use catalog::{AuditEntry, Purge, Role};
use domain::{Fault, FaultReason};
use jiff::Timestamp;
use proto::v1;
use proto::v1::admin_service_server::AdminService;
use tonic::{Request, Response, Status};

use crate::context::{Caller, Shared};
use crate::error::Error;
use crate::paging::{Listing, page_size};
use crate::request::{Incoming, whole};
use crate::resource::timestamp;

/// What a purge may remove.
fn purgeable() -> Vec<&'static str> {
    ["runs", "reports"].into_iter().chain(proto::COLLECTIONS.iter().map(|(collection, _)| *collection)).collect()
}

/// Names that the answer to a purge lists at most.
const SAMPLE: usize = 100;

/// The handlers of AdminService.
pub struct AdminHandlers {
    shared: Arc<Shared>,
}

impl AdminHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl AdminService for AdminHandlers {
    async fn get_caller(&self, request: Request<v1::GetCallerRequest>) -> Result<Response<v1::Caller>, Status> {
        // The gate puts the role there; a service without a gate lets everybody do everything.
        let role = match request.extensions().get::<Role>().copied().unwrap_or(Role::Admin) {
            Role::Read => v1::CallerRole::Read,
            Role::Write => v1::CallerRole::Write,
            Role::Admin => v1::CallerRole::Admin,
        };
        let caller = whole(request)?.caller;
        let display_name = Caller::name(caller.as_ref()).to_owned();
        Ok(Response::new(v1::Caller { display_name, role: role.into() }))
    }

    async fn list_audit_entries(
        &self,
        request: Request<v1::ListAuditEntriesRequest>,
    ) -> Result<Response<v1::ListAuditEntriesResponse>, Status> {
        let v1::ListAuditEntriesRequest { page_size: size, page_token } = whole(request)?.message;
        let limit = page_size(size)?;
        let listing = Listing { kind: "auditEntries", selection: &[] };
        let before = match listing.position(&page_token)? {
            Some(position) => Some(position.parse().map_err(|_| Error::BadPageToken)?),
            None => None,
        };
        let mut entries = self.shared.store().audit_trail(before, limit + 1).await.map_err(Error::from)?;
        let more = entries.len() > limit as usize;
        entries.truncate(limit as usize);
        let last = entries.last().filter(|_| more).map(|entry| entry.seq.to_string());
        Ok(Response::new(v1::ListAuditEntriesResponse {
            audit_entries: entries.into_iter().map(message).collect(),
            next_page_token: listing.token(last.as_deref()),
        }))
    }

    async fn purge_results(
        &self,
        request: Request<v1::PurgeResultsRequest>,
    ) -> Result<Response<v1::PurgeResultsResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        let purge = purge(&message).map_err(Error::BadFields)?;
        let store = self.shared.store();
        let found = store.purgeable(&purge).await.map_err(Error::from)?;
        if message.force {
            store.purge(&found, &self.shared.write(caller)).await.map_err(Error::from)?;
        }
        let names = found.removed.iter().take(SAMPLE).map(|(collection, id)| format!("{collection}/{id}"));
        Ok(Response::new(v1::PurgeResultsResponse {
            purge_count: i32::try_from(found.removed.len()).unwrap_or(i32::MAX),
            purge_sample: names.collect(),
            kept_count: i32::try_from(found.kept).unwrap_or(i32::MAX),
            free_bytes: i64::try_from(store.free_bytes().await.map_err(Error::from)?).unwrap_or(i64::MAX),
        }))
    }
}

/// What is to be purged; every fault of the request.
fn purge(message: &v1::PurgeResultsRequest) -> Result<Purge, Vec<Fault>> {
    let mut faults = Vec::new();
    let before = message.before.unwrap_or_default();
    let before = Timestamp::new(before.seconds, before.nanos).ok();
    if before.is_none() {
        let text =
            "before is no point of time; accepted: a time of the years 1 to 9999, its nanos from 0 to 999,999,999";
        faults.push(Fault::new("before", FaultReason::OutOfRange, text));
    }
    let known = purgeable();
    for (at, given) in message.collections.iter().enumerate().take(known.len() + 1) {
        if !known.contains(&given.as_str()) {
            let given: String = given.chars().take(80).collect();
            let text = format!("'{given}' is no collection of results; accepted: {}", known.join(", "));
            faults.push(Fault::new(format!("collections[{at}]"), FaultReason::Unknown, text));
        }
    }
    let collections = if message.collections.is_empty() {
        known.into_iter().map(str::to_owned).collect()
    } else {
        message.collections.clone()
    };
    match before {
        Some(before) if faults.is_empty() => Ok(Purge { before, collections }),
        _ => Err(faults),
    }
}

fn message(entry: AuditEntry) -> v1::AuditEntry {
    let AuditEntry { seq: _, time, actor, action, resource } = entry;
    v1::AuditEntry { time: Some(timestamp(time)), actor, action, resource }
}
