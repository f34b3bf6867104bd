//! Removing: what others refer to stays unless asked otherwise, and what was computed goes by its age.

use jiff::Timestamp;
use sqlx::{Row as _, Sqlite, Transaction};

use crate::error::StoreError;
use crate::kinds::references;
use crate::store::{Store, Write, audit, safe};

/// Names of others that a refusal lists at most.
const LISTED: usize = 20;
const RUNS: &str = "runs";
const REPORTS: &str = "reports";

/// What happens to a resource that others refer to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Referrers {
    /// It stays; the refusal names them.
    Refuse,
    /// It goes; they keep a name of what is gone.
    Leave,
}

/// Refuses where records refer to a record, or reports to what they were made of.
pub(crate) async fn refuse_referred(
    tx: &mut Transaction<'static, Sqlite>,
    collection: &'static str,
    id: &str,
) -> Result<(), StoreError> {
    let name = format!("{collection}/{id}");
    let records = references(collection).into_iter().map(|(from, columns)| {
        let named: Vec<_> = columns.iter().map(|column| format!("{column} = ?2")).collect();
        format!("SELECT '{from}/' || id AS name FROM {from} WHERE {}", named.join(" OR "))
    });
    let reports =
        std::iter::once("SELECT 'reports/' || id AS name FROM reports WHERE source = ?1 AND ?2 <> ''".to_owned());
    let sql = records.chain(reports).collect::<Vec<_>>().join(" UNION ALL ");
    let rows = sqlx::query(safe(format!("SELECT name, count(*) OVER () FROM ({sql}) ORDER BY name LIMIT {LISTED}")))
        .bind(name)
        .bind(id)
        .fetch_all(&mut **tx)
        .await
        .map_err(StoreError::Database)?;
    let Some(first) = rows.first() else { return Ok(()) };
    let count: i64 = first.try_get(1).map_err(StoreError::Database)?;
    let by = rows.iter().map(|row| row.try_get(0)).collect::<Result<_, _>>().map_err(StoreError::Database)?;
    Err(StoreError::Referenced { collection, id: id.to_owned(), by, count: u64::try_from(count).unwrap_or(0) })
}

/// What a purge is to remove.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Purge {
    /// Everything that was made before this.
    pub before: Timestamp,
    /// Of these collections: `runs`, `reports`, and those of documents.
    pub collections: Vec<String>,
}

/// What a purge found or removed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Purged {
    /// Collection and id of each.
    pub removed: Vec<(String, String)>,
    /// Old ones that stay, because reports that stay refer to them.
    pub kept: u64,
}

impl Store {
    /// Removes a run that has ended, with all its findings.
    ///
    /// # Errors
    /// There is none, it has not ended, or reports refer to it and `referrers` refuses.
    pub async fn delete_run(&self, id: &str, referrers: Referrers, write: &Write) -> Result<(), StoreError> {
        let run = self.run(id).await?;
        if !run.state.is_final() {
            return Err(StoreError::RunNotEnded { id: id.to_owned(), state: run.state });
        }
        self.delete_computed(RUNS, id, referrers, write).await
    }

    /// Removes a report or a document.
    ///
    /// # Errors
    /// There is none, or reports refer to it and `referrers` refuses.
    pub async fn delete_computed(
        &self,
        collection: &'static str,
        id: &str,
        referrers: Referrers,
        write: &Write,
    ) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        if referrers == Referrers::Refuse {
            refuse_referred(&mut tx, collection, id).await?;
        }
        if !delete_row(&mut tx, collection, id, write).await.map_err(|e| self.fail(e))? {
            return Err(StoreError::NotFound { collection, id: id.to_owned() });
        }
        self.commit(tx).await
    }

    /// What a purge would remove: reports first, then documents, then runs that have ended, each from the oldest on.
    ///
    /// # Errors
    /// The database fails.
    pub async fn purgeable(&self, purge: &Purge) -> Result<Purged, StoreError> {
        let asked = |collection: &str| purge.collections.iter().any(|asked| asked == collection);
        let sql = "SELECT collection, id, EXISTS (SELECT 1 FROM reports AS later WHERE later.source = collection || '/' || old.id \
             AND (later.create_time >= ?1 OR NOT ?2)) AS referred FROM ( \
             SELECT 0 AS rank, seq, 'reports' AS collection, id, create_time FROM reports \
             UNION ALL SELECT 1, seq, collection, id, create_time FROM documents \
             UNION ALL SELECT 2, seq, 'runs', id, create_time FROM runs \
             WHERE state IN ('SUCCEEDED', 'FAILED', 'CANCELLED')) AS old WHERE create_time < ?1 ORDER BY rank, seq";
        let rows = sqlx::query(sql)
            .bind(purge.before.as_microsecond())
            .bind(asked(REPORTS))
            .fetch_all(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        let mut purged = Purged::default();
        for row in rows {
            let column = |name: &str| row.try_get::<String, _>(name).map_err(|e| self.fail(e));
            let (collection, id) = (column("collection")?, column("id")?);
            if !asked(&collection) {
                continue;
            }
            if row.try_get("referred").map_err(|e| self.fail(e))? {
                purged.kept += 1;
            } else {
                purged.removed.push((collection, id));
            }
        }
        Ok(purged)
    }

    /// Removes what `purgeable` found, each in a transaction of its own, so that writes of others go on in between.
    ///
    /// # Errors
    /// The database fails; what was removed before stays removed.
    pub async fn purge(&self, found: &Purged, write: &Write) -> Result<(), StoreError> {
        for (collection, id) in &found.removed {
            let mut tx = self.begin().await?;
            delete_row(&mut tx, collection, id, write).await.map_err(|e| self.fail(e))?;
            self.commit(tx).await?;
        }
        Ok(())
    }

    /// Bytes of the file that hold nothing at the moment. New data take them; a backup does not have them.
    ///
    /// # Errors
    /// The database fails.
    pub async fn free_bytes(&self) -> Result<u64, StoreError> {
        let sql = "SELECT freelist_count * page_size FROM pragma_freelist_count, pragma_page_size";
        let bytes: i64 =
            sqlx::query_scalar(sql).fetch_one(&mut *self.reader().await?).await.map_err(|e| self.fail(e))?;
        Ok(u64::try_from(bytes).unwrap_or(0))
    }
}

/// Removes a row with all that hangs on it, and says whether there was one.
async fn delete_row(
    tx: &mut Transaction<'static, Sqlite>,
    collection: &str,
    id: &str,
    write: &Write,
) -> Result<bool, sqlx::Error> {
    let sql = match collection {
        RUNS => "DELETE FROM runs WHERE id = ?1 AND state IN ('SUCCEEDED', 'FAILED', 'CANCELLED')",
        REPORTS => "DELETE FROM reports WHERE id = ?1",
        _ => "DELETE FROM documents WHERE id = ?1 AND collection = ?2",
    };
    let query = sqlx::query(sql).bind(id);
    let query = if sql.contains("?2") { query.bind(collection) } else { query };
    if query.execute(&mut **tx).await?.rows_affected() == 0 {
        return Ok(false);
    }
    audit(tx, write, "delete", &format!("{collection}/{id}")).await?;
    Ok(true)
}
