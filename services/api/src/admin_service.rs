//! AdminService: the audit trail.

use std::sync::Arc;

use catalog::AuditEntry;
use proto::v1;
use proto::v1::admin_service_server::AdminService;
use tonic::{Request, Response, Status};

use crate::context::Shared;
use crate::error::Error;
use crate::paging::{Listing, page_size};
use crate::request::whole;
use crate::resource::timestamp;

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
}

fn message(entry: AuditEntry) -> v1::AuditEntry {
    let AuditEntry { seq: _, time, actor, action, resource } = entry;
    v1::AuditEntry { time: Some(timestamp(time)), actor, action, resource }
}
