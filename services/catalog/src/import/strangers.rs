//! Rows that refer to what is not stored: a plan would leave them out, weeks later and without the file at hand.

use std::collections::BTreeSet;

use domain::field::Value;
use domain::{Fault, FaultReason};
use sqlx::{Row as _, SqliteConnection};

use super::feed::{Ready, row_fault};
use super::ids::{ROWS_A_STATEMENT, statement_of_ids};
use crate::exchange::RowFault;
use crate::kinds::Resource;
use crate::nearest::nearest;
use crate::rows::columns;
use crate::store::safe;
use domain::field::Holds;

/// So many stored ids are looked through for the one that was meant.
const CANDIDATES: u32 = 5_000;

/// Takes out the rows that refer to records that are not there, each fault with the nearest id that is.
pub(super) async fn refuse<R: Resource>(
    connection: &mut SqliteConnection,
    rows: &mut Vec<Ready>,
) -> Result<Vec<RowFault>, sqlx::Error> {
    let names = columns(R::FIELDS);
    let mut faults = Vec::new();
    for field in R::FIELDS {
        // An option is one of its sensor, which the record's own check or its use sees to.
        let Holds::Reference { collection, .. } = field.holds else { continue };
        let Some(at) = names.iter().position(|name| name == field.column) else { continue };
        if collection.is_empty() || collection.contains('/') {
            continue;
        }
        let named: BTreeSet<&str> = rows.iter().filter_map(|row| text(row, at)).collect();
        let known = stored(connection, collection, &named).await?;
        let strange: BTreeSet<&str> = named.into_iter().filter(|id| !known.contains(*id)).collect();
        if strange.is_empty() {
            continue;
        }
        let sql = format!("SELECT id FROM {collection} ORDER BY id LIMIT {CANDIDATES}");
        let candidates: Vec<String> = sqlx::query_scalar(safe(sql)).fetch_all(&mut *connection).await?;
        let here = rows.iter().filter_map(|row| text(row, at).filter(|id| strange.contains(id)).map(|id| (row, id)));
        for (row, id) in here {
            let advice = nearest(id, candidates.iter().map(String::as_str)).map_or_else(
                || "import it first, or correct it".to_owned(),
                |near| format!("perhaps '{near}' is meant"),
            );
            let message =
                format!("'{id}' is not among the stored {collection}; accepted: the id of one that is; {advice}");
            faults.push(row_fault(row.line, &row.id, Fault::new(field.path, FaultReason::Unknown, message)));
        }
    }
    rows.retain(|row| faults.iter().all(|fault| fault.line != row.line));
    Ok(faults)
}

fn text(row: &Ready, at: usize) -> Option<&str> {
    match row.rows.values.get(at)? {
        Value::Text(id) => Some(id),
        Value::Null | Value::Real(_) | Value::Whole(_) => None,
    }
}

/// Which of some ids are stored.
async fn stored(
    connection: &mut SqliteConnection,
    collection: &str,
    ids: &BTreeSet<&str>,
) -> Result<BTreeSet<String>, sqlx::Error> {
    let ids: Vec<&str> = ids.iter().copied().collect();
    let mut found = BTreeSet::new();
    for part in ids.chunks(ROWS_A_STATEMENT) {
        let query = sqlx::query(safe(statement_of_ids(collection, part.len())));
        let query = part.iter().fold(query, |query, id| query.bind((*id).to_owned()));
        for row in query.persistent(part.len() == ROWS_A_STATEMENT).fetch_all(&mut *connection).await? {
            found.insert(row.try_get(0)?);
        }
    }
    Ok(found)
}
