//! The audit trail.

use proto::v1;

use super::derived::made;
use crate::cli;
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::output::{json, table::Columns};

/// Entries in one page of the trail.
const PAGE: u32 = 1_000;

/// Lists the latest writes, newest first.
pub(super) async fn list(connection: &Connection, args: &cli::Audit, as_json: bool) -> Outcome {
    let mut table = Columns::new(&["time", "who", "did", "what"]);
    let mut left = args.limit;
    let mut page_token = String::new();
    while left > 0 {
        let page_size = i32::try_from(left.min(PAGE)).unwrap_or(i32::MAX);
        let request = v1::ListAuditEntriesRequest { page_size, page_token };
        let page = connection.admin().list_audit_entries(request).await?.into_inner();
        for entry in &page.audit_entries {
            left = left.saturating_sub(1);
            if as_json {
                json::print(entry)?;
            } else {
                let v1::AuditEntry { time, actor, action, resource } = entry;
                table.row([made(time.as_ref()), actor.clone(), action.clone(), resource.clone()]);
            }
        }
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    if !as_json {
        table.print();
    }
    Ok(())
}
