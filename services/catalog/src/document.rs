//! Documents: what was derived once and never changes (rules, plans, assessments, fits), in a form of the caller's.

use futures::TryStreamExt as _;
use jiff::Timestamp;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

use crate::error::StoreError;
use crate::rows::timestamp;
use crate::store::{Store, Write, audit};

/// Bytes after which a page of documents ends: rules of a large event have 20 MB.
const PAGE_BYTES: usize = 16 * 1024 * 1024;

/// A stored document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// Position in the order of creation.
    pub seq: i64,
    /// Id in its collection.
    pub id: String,
    /// What the caller stored.
    pub body: Vec<u8>,
    /// When it was stored.
    pub create_time: Timestamp,
}

impl Store {
    /// Stores a document under a new id.
    ///
    /// # Errors
    /// The id is taken, or the database fails.
    pub async fn put_document(
        &self,
        collection: &'static str,
        id: &str,
        body: Vec<u8>,
        write: &Write,
    ) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        sqlx::query("INSERT INTO documents (collection, id, body, create_time) VALUES (?, ?, ?, ?)")
            .bind(collection)
            .bind(id)
            .bind(body)
            .bind(write.at.as_microsecond())
            .execute(&mut *tx)
            .await
            .map_err(|error| match error.as_database_error() {
                Some(said) if said.is_unique_violation() => StoreError::AlreadyExists { collection, id: id.to_owned() },
                _ => self.fail(error),
            })?;
        audit(&mut tx, write, "derive", &format!("{collection}/{id}")).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }

    /// One document.
    ///
    /// # Errors
    /// There is none.
    pub async fn document(&self, collection: &'static str, id: &str) -> Result<Document, StoreError> {
        let row = sqlx::query("SELECT seq, id, body, create_time FROM documents WHERE collection = ? AND id = ?")
            .bind(collection)
            .bind(id)
            .fetch_optional(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        let missing = || StoreError::NotFound { collection, id: id.to_owned() };
        row.as_ref().map_or_else(|| Err(missing()), read)
    }

    /// Documents of a collection, newest first: at most `limit`, only those older than `before`, and fewer where they are long; and whether there are more.
    ///
    /// # Errors
    /// The database fails.
    pub async fn list_documents(
        &self,
        collection: &'static str,
        before: Option<i64>,
        limit: u32,
    ) -> Result<(Vec<Document>, bool), StoreError> {
        let mut reader = self.reader().await?;
        let mut rows = sqlx::query(
            "SELECT seq, id, body, create_time FROM documents WHERE collection = ? AND seq < ? ORDER BY seq DESC LIMIT ?",
        )
        .bind(collection)
        .bind(before.unwrap_or(i64::MAX))
        .bind(i64::from(limit) + 1)
        .fetch(&mut *reader);
        let (mut found, mut bytes) = (Vec::new(), 0);
        while let Some(row) = rows.try_next().await.map_err(|e| self.fail(e))? {
            if found.len() >= limit as usize || bytes >= PAGE_BYTES {
                return Ok((found, true));
            }
            let document = read(&row)?;
            bytes += document.body.len();
            found.push(document);
        }
        Ok((found, false))
    }
}

fn read(row: &SqliteRow) -> Result<Document, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    Ok(Document {
        seq: row.try_get("seq").map_err(bad)?,
        id: row.try_get("id").map_err(bad)?,
        body: row.try_get("body").map_err(bad)?,
        create_time: timestamp(row.try_get("create_time").map_err(bad)?)?,
    })
}
