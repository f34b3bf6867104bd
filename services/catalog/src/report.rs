//! Rendered reports.

use jiff::Timestamp;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

use crate::error::StoreError;
use crate::rows::timestamp;
use crate::store::{Store, Write, audit, crash_point, safe};

/// A report to be stored.
#[derive(Debug, Clone)]
pub struct NewReport {
    /// Id of the report.
    pub id: String,
    /// Fingerprint of source, template and settings.
    pub content_key: String,
    /// Resource it reports on.
    pub source: String,
    /// Template it was made with.
    pub template: String,
    /// Heading.
    pub title: String,
    /// Pages.
    pub page_count: u32,
    /// The PDF.
    pub pdf: Vec<u8>,
}

/// A stored report, without its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredReport {
    /// Position in the order of creation.
    pub seq: i64,
    /// Id.
    pub id: String,
    /// Resource it reports on.
    pub source: String,
    /// Template it was made with.
    pub template: String,
    /// Heading.
    pub title: String,
    /// Pages.
    pub page_count: u32,
    /// Bytes of the PDF.
    pub size_bytes: u64,
    /// BLAKE3 of the PDF, hexadecimal.
    pub content_hash: String,
    /// When it was stored.
    pub create_time: Timestamp,
}

const COLLECTION: &str = "reports";
const COLUMNS: &str = "seq, id, source, template, title, page_count, size_bytes, content_hash, create_time";

impl Store {
    /// Stores a report; if one of the same content key is there already, that one stays and is returned.
    ///
    /// # Errors
    /// The database fails.
    pub async fn put_report(&self, report: NewReport, write: &Write) -> Result<StoredReport, StoreError> {
        let mut tx = self.begin().await?;
        let inserted = sqlx::query(safe(format!(
            "INSERT INTO reports (id, content_key, source, template, title, page_count, size_bytes, content_hash, create_time) \
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (content_key) DO NOTHING RETURNING {COLUMNS}"
        )))
        .bind(&report.id)
        .bind(&report.content_key)
        .bind(&report.source)
        .bind(&report.template)
        .bind(&report.title)
        .bind(i64::from(report.page_count))
        .bind(i64::try_from(report.pdf.len()).unwrap_or(i64::MAX))
        .bind(blake3::hash(&report.pdf).to_hex().to_string())
        .bind(write.at.as_microsecond())
        .fetch_optional(&mut *tx)
        .await
        .map_err(|error| match error.as_database_error() {
            Some(said) if said.is_unique_violation() => {
                StoreError::AlreadyExists { collection: COLLECTION, id: report.id.clone() }
            }
            _ => self.fail(error),
        })?;
        let Some(inserted) = inserted else {
            drop(tx);
            let stored = self.report_by_key(&report.content_key).await?;
            return stored.ok_or_else(|| missing(&report.id));
        };
        let stored = read(&inserted)?;
        sqlx::query("INSERT INTO report_files (report, pdf) VALUES (?, ?)")
            .bind(stored.seq)
            .bind(report.pdf)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        audit(&mut tx, write, "render", &format!("{COLLECTION}/{}", report.id)).await.map_err(|e| self.fail(e))?;
        crash_point(format_args!("report-written"));
        self.commit(tx).await?;
        crash_point(format_args!("report-committed"));
        Ok(stored)
    }

    /// The report of a content key, if there is one.
    ///
    /// # Errors
    /// The database fails.
    pub async fn report_by_key(&self, content_key: &str) -> Result<Option<StoredReport>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM reports WHERE content_key = ?");
        let row = sqlx::query(safe(sql)).bind(content_key).fetch_optional(&mut *self.reader().await?).await;
        row.map_err(|e| self.fail(e))?.as_ref().map(read).transpose()
    }

    /// One report.
    ///
    /// # Errors
    /// There is none.
    pub async fn report(&self, id: &str) -> Result<StoredReport, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM reports WHERE id = ?");
        let row = sqlx::query(safe(sql))
            .bind(id)
            .fetch_optional(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        row.as_ref().map(read).unwrap_or_else(|| Err(missing(id)))
    }

    /// Reports, newest first: at most `limit`, only those older than `before`, only on `source` if given.
    ///
    /// # Errors
    /// The database fails.
    pub async fn list_reports(
        &self,
        source: Option<&str>,
        before: Option<i64>,
        limit: u32,
    ) -> Result<Vec<StoredReport>, StoreError> {
        let sql = format!(
            "SELECT {COLUMNS} FROM reports WHERE seq < ? AND (? IS NULL OR source = ?) ORDER BY seq DESC LIMIT ?"
        );
        let rows = sqlx::query(safe(sql))
            .bind(before.unwrap_or(i64::MAX))
            .bind(source)
            .bind(source)
            .bind(i64::from(limit))
            .fetch_all(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        rows.iter().map(read).collect()
    }

    /// The bytes of a report.
    ///
    /// # Errors
    /// There is none.
    pub async fn report_bytes(&self, id: &str) -> Result<Vec<u8>, StoreError> {
        let row = sqlx::query("SELECT pdf FROM report_files JOIN reports ON seq = report WHERE id = ?")
            .bind(id)
            .fetch_optional(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?
            .ok_or_else(|| missing(id))?;
        row.try_get(0).map_err(|e| self.fail(e))
    }
}

fn missing(id: &str) -> StoreError {
    StoreError::NotFound { collection: COLLECTION, id: id.to_owned() }
}

fn read(row: &SqliteRow) -> Result<StoredReport, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    Ok(StoredReport {
        seq: row.try_get("seq").map_err(bad)?,
        id: row.try_get("id").map_err(bad)?,
        source: row.try_get("source").map_err(bad)?,
        template: row.try_get("template").map_err(bad)?,
        title: row.try_get("title").map_err(bad)?,
        page_count: row.try_get("page_count").map_err(bad)?,
        size_bytes: u64::try_from(row.try_get::<i64, _>("size_bytes").map_err(bad)?).unwrap_or(0),
        content_hash: row.try_get("content_hash").map_err(bad)?,
        create_time: timestamp(row.try_get("create_time").map_err(bad)?)?,
    })
}
