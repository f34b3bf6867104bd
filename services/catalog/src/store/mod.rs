//! The database: one writer, several readers, an audit trail.

mod backup;
mod condition;
mod crash;
mod gate;
mod older;
mod open;
mod partial;
mod readers;
mod tables;
mod wait;
mod watch;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use sqlx::sqlite::SqlitePool;
use sqlx::{AssertSqlSafe, Sqlite, Transaction};
use tokio::sync::oneshot;

use crate::error::StoreError;
use crate::rows::timestamp;

pub use backup::{back_up, restore};
pub use condition::Condition;
pub(crate) use crash::crash_point;
pub use gate::{Role, StoredToken};
pub use tables::{Aside, FoundTables, TableFile};
pub use wait::WriterWait;

/// A commit does not move what is in the log.
const NO_CHECKPOINTS: &str = "PRAGMA wal_autocheckpoint = 0";
/// A commit moves what is in the log once that is a thousand pages, as is SQLite's way.
const CHECKPOINTS: &str = "PRAGMA wal_autocheckpoint = 1000";

/// The store. Cheap to clone; all clones share the same connections.
#[derive(Debug, Clone)]
pub struct Store {
    path: PathBuf,
    /// A pool of one: SQLite has one writer, and to queue here is fairer than to retry on a busy file.
    writer: SqlitePool,
    readers: readers::Readers,
    gate: gate::Gate,
    watched: condition::Watched,
    waits: wait::Waits,
    watch: watch::Watch,
}

/// How hard a commit is pressed to the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Synchronous {
    /// A commit survives loss of power.
    Full,
    /// A commit survives a crash of the program but perhaps not loss of power; the database stays sound.
    Normal,
}

/// How to open a store.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenOptions {
    /// How hard commits are pressed to the disk; `Full` unless said otherwise.
    pub synchronous: Synchronous,
    /// How long to wait for another program's lock.
    pub busy_timeout: Duration,
    /// Readers at once.
    pub readers: u32,
}

impl Default for OpenOptions {
    fn default() -> Self {
        Self { synchronous: Synchronous::Full, busy_timeout: Duration::from_secs(5), readers: 4 }
    }
}

/// Who writes, and when: goes into the audit trail and the time stamps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Write {
    /// Name of the caller.
    pub actor: String,
    /// Now, to the microsecond.
    pub at: Timestamp,
}

/// One line of the audit trail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditEntry {
    /// Position in the trail.
    pub seq: i64,
    /// When.
    pub time: Timestamp,
    /// Who.
    pub actor: String,
    /// What: `create`, `update`, `delete`, `import`, `start`, `cancel`, `derive`, `render`, `revoke`.
    pub action: String,
    /// On which resource, such as `spots/north-bar`.
    pub resource: String,
}

impl Store {
    /// The database file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The audit trail, newest first: at most `limit` entries, only those before `before`.
    ///
    /// # Errors
    /// The database fails.
    pub async fn audit_trail(&self, before: Option<i64>, limit: u32) -> Result<Vec<AuditEntry>, StoreError> {
        let rows: Vec<(i64, i64, String, String, String)> = sqlx::query_as(
            "SELECT seq, time, actor, action, resource FROM audit WHERE seq < ? ORDER BY seq DESC LIMIT ?",
        )
        .bind(before.unwrap_or(i64::MAX))
        .bind(i64::from(limit))
        .fetch_all(&mut *self.reader().await?)
        .await
        .map_err(|error| self.fail(error))?;
        rows.into_iter()
            .map(|(seq, time, actor, action, resource)| {
                Ok(AuditEntry { seq, time: timestamp(time)?, actor, action, resource })
            })
            .collect()
    }

    /// Looks whether the open file is still the one of its name, and whether a statement met damage in it.
    ///
    /// # Errors
    /// The file was moved, removed, replaced, emptied or damaged. Nothing is acknowledged from then on.
    pub fn check_file(&self) -> Result<(), StoreError> {
        self.watch.check()
    }

    /// Tells `hears` of every write from now on how long it waited until it could begin. Only the first one is told.
    pub fn tell_writer_waits(&self, hears: WriterWait) {
        self.waits.told_to(hears);
    }

    /// Ends all connections; commits under way are finished first.
    pub async fn close(&self) {
        self.gate.close().await;
        self.readers.close().await;
        self.writer.close().await;
    }

    /// Begins a write transaction. It takes the write lock at once, so that it cannot fail half way for want of it.
    pub(crate) async fn begin(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        self.check_file()?;
        let asked = Instant::now();
        let begun = self.writer.begin_with("BEGIN IMMEDIATE").await.map_err(|error| self.fail(error));
        self.waits.waited(asked.elapsed());
        begun
    }

    pub(crate) async fn commit(&self, transaction: Transaction<'static, Sqlite>) -> Result<(), StoreError> {
        let committed = transaction.commit().await.map_err(|error| self.fail(error));
        if committed.is_ok() {
            self.watched.wrote();
        }
        committed
    }

    /// Commits a transaction of many megabytes. Nobody waits until they have got from the log into the file itself: that is done
    /// afterwards and by a reader, while SQLite would have the commit do it.
    pub(crate) async fn commit_large(&self, mut transaction: Transaction<'static, Sqlite>) -> Result<(), StoreError> {
        sqlx::query(NO_CHECKPOINTS).execute(&mut *transaction).await.map_err(|error| self.fail(error))?;
        let (writer, store) = (self.writer.clone(), self.clone());
        let (tell, told) = oneshot::channel();
        // A task of its own, which ends what it began even if the caller goes away.
        tokio::spawn(async move {
            let committed = transaction.commit().await;
            // Whoever does not listen any more has gone away. Where one of the others fails, later commits do its work.
            let _ = tell.send(committed);
            let _ = sqlx::query(CHECKPOINTS).execute(&writer).await;
            if let Ok(mut reader) = store.reader().await {
                let _ = sqlx::query("PRAGMA wal_checkpoint(PASSIVE)").execute(&mut *reader).await;
            }
        });
        match told.await {
            Ok(committed) => committed.map(|()| self.watched.wrote()).map_err(|error| self.fail(error)),
            Err(_) => Err(self.fail(sqlx::Error::WorkerCrashed)),
        }
    }

    /// A connection for what is found by its key, and for work that takes as long as it takes.
    pub(crate) async fn reader(&self) -> Result<readers::Reader, StoreError> {
        self.readers.quick().await.map_err(|error| self.fail(error))
    }

    /// A connection for what may look at every record.
    pub(crate) async fn scanner(&self) -> Result<readers::Reader, StoreError> {
        self.readers.bounded().await.map_err(|error| self.fail(error))
    }

    /// The tokens as they stand in the file.
    pub(crate) async fn known_tokens(&self) -> Result<gate::Tokens, StoreError> {
        self.gate.tokens().await.map_err(|error| self.fail(error))
    }

    /// Whether the database works, and every change of that.
    #[must_use]
    pub fn condition(&self) -> tokio::sync::watch::Receiver<Condition> {
        self.watched.subscribe()
    }

    /// Writes something that changes nothing, to see whether that is possible.
    ///
    /// # Errors
    /// It is not.
    pub async fn probe(&self) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        // A page is written even where the figure stays the same.
        sqlx::query("PRAGMA user_version = 0").execute(&mut *transaction).await.map_err(|error| self.fail(error))?;
        self.commit(transaction).await
    }

    pub(crate) fn fail(&self, error: sqlx::Error) -> StoreError {
        self.watched.saw(&error);
        let sorted = StoreError::from_sqlite(&self.path, error);
        if let StoreError::Corrupt { detail, .. } = &sorted {
            self.watch.damaged(detail);
        }
        sorted
    }
}

/// Notes a write in the audit trail of its own transaction.
pub(crate) async fn audit(
    transaction: &mut Transaction<'static, Sqlite>,
    write: &Write,
    action: &str,
    resource: &str,
) -> Result<(), sqlx::Error> {
    sqlx::query("INSERT INTO audit (time, actor, action, resource) VALUES (?, ?, ?, ?)")
        .bind(write.at.as_microsecond())
        .bind(&write.actor)
        .bind(action)
        .bind(resource)
        .execute(&mut **transaction)
        .await
        .map(|_| ())
}

/// A statement that this crate put together from its own constants; whatever a caller gives is bound.
pub(crate) fn safe(sql: String) -> AssertSqlSafe<String> {
    AssertSqlSafe(sql)
}
