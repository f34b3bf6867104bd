//! Ids of runs, reports and documents by their beginning, and the newest of each.

use sqlx::Row as _;

use crate::error::StoreError;
use crate::store::{Store, safe};

/// Ids that [`Store::ids_beginning`] returns at most: enough to show that a beginning has several.
const MOST: i64 = 4;

impl Store {
    /// Ids of a collection that begin so, in their order and no more than a few; an id that is the beginning itself comes first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn ids_beginning(&self, collection: &'static str, beginning: &str) -> Result<Vec<String>, StoreError> {
        // Ids are of letters, digits and hyphens, all of which sort before '~'.
        let (table, of) = table(collection);
        let select = format!("SELECT id FROM {table} WHERE {of} AND id >= ? AND id < ? || '~' ORDER BY id LIMIT ?");
        let rows = sqlx::query(safe(select))
            .bind(collection)
            .bind(beginning)
            .bind(beginning)
            .bind(MOST)
            .fetch_all(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        rows.iter().map(|row| row.try_get("id").map_err(|e| StoreError::BadRecord(e.to_string()))).collect()
    }

    /// The id that was stored last in a collection, if there is one.
    ///
    /// # Errors
    /// The database fails.
    pub async fn latest_id(&self, collection: &'static str) -> Result<Option<String>, StoreError> {
        let (table, of) = table(collection);
        let row = sqlx::query(safe(format!("SELECT id FROM {table} WHERE {of} ORDER BY seq DESC LIMIT 1")))
            .bind(collection)
            .fetch_optional(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        row.map(|row| row.try_get("id").map_err(|e| StoreError::BadRecord(e.to_string()))).transpose()
    }
}

/// The table of a collection, and what holds for its rows.
fn table(collection: &str) -> (&'static str, &'static str) {
    match collection {
        "runs" => ("runs", "? <> ''"),
        "reports" => ("reports", "? <> ''"),
        _ => ("documents", "collection = ?"),
    }
}
