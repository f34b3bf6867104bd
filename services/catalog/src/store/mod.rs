//! Opening the database: one writer, several readers, migrations, and errors that say what to do.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{AssertSqlSafe, ConnectOptions as _, Row as _, Sqlite, Transaction};

use crate::error::StoreError;

static MIGRATIONS: sqlx::migrate::Migrator = sqlx::migrate!("../../migrations");

/// The store. Cheap to clone; all clones share the same connections.
#[derive(Debug, Clone)]
pub struct Store {
    path: PathBuf,
    /// One connection: SQLite has one writer, and waiting here is fairer than busy retries.
    writer: SqlitePool,
    readers: SqlitePool,
    /// How to open one more connection, for work that must block neither readers nor the writer.
    connect: SqliteConnectOptions,
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
#[derive(Debug, Clone)]
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
#[derive(Debug, Clone)]
pub struct Write {
    /// Name of the caller.
    pub actor: String,
    /// Now.
    pub at: Timestamp,
}

impl Store {
    /// Opens a database file, creating it if there is none, and brings its schema up to date.
    ///
    /// # Errors
    /// A newer schema, a corrupt, locked or read-only file, a full disk: each its own variant, and the file untouched.
    pub async fn open(path: impl AsRef<Path>, options: OpenOptions) -> Result<Self, StoreError> {
        let path = path.as_ref().to_path_buf();
        let fail = |e| StoreError::from_sqlite(&path, e);
        let connect = SqliteConnectOptions::new()
            .filename(&path)
            .create_if_missing(true)
            .busy_timeout(options.busy_timeout)
            .foreign_keys(true)
            .synchronous(match options.synchronous {
                Synchronous::Full => SqliteSynchronous::Full,
                Synchronous::Normal => SqliteSynchronous::Normal,
            });
        // The schema of an existing file is looked at before anything, even the journal mode, is written to it.
        refuse_newer(&path, &connect).await?;
        let connect = connect.journal_mode(SqliteJournalMode::Wal);
        let writer = SqlitePoolOptions::new().max_connections(1).connect_with(connect.clone()).await.map_err(fail)?;
        migrate(&path, &writer).await?;
        let readers = SqlitePoolOptions::new()
            .max_connections(options.readers)
            .connect_with(connect.clone().pragma("query_only", "ON"))
            .await
            .map_err(fail)?;
        Ok(Self { path, writer, readers, connect })
    }

    /// The database file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a consistent copy of the whole database to a new file, while the store goes on being used.
    ///
    /// Done by `VACUUM INTO`, which reads one snapshot under WAL and leaves a compact file; the page-by-page backup interface would
    /// start over whenever somebody writes.
    ///
    /// # Errors
    /// The file exists already, or it cannot be written.
    pub async fn backup(&self, to: &Path) -> Result<(), StoreError> {
        if to.exists() {
            return Err(StoreError::CannotOpen {
                path: to.to_path_buf(),
                detail: "it exists already; a backup never overwrites, so name a new file".to_owned(),
            });
        }
        let Some(name) = to.to_str() else {
            return Err(StoreError::CannotOpen {
                path: to.to_path_buf(),
                detail: "the name is not valid UTF-8".to_owned(),
            });
        };
        let mut own = self.connect.connect().await.map_err(|e| self.fail(e))?;
        let result = sqlx::query("VACUUM INTO ?").bind(name).execute(&mut own).await;
        result.map(|_| ()).map_err(|e| StoreError::from_sqlite(to, e))
    }

    /// Checks the whole file (`PRAGMA integrity_check`).
    ///
    /// # Errors
    /// The file is corrupt.
    pub async fn check_integrity(&self) -> Result<(), StoreError> {
        let row = sqlx::query("PRAGMA integrity_check").fetch_one(&self.readers).await.map_err(|e| self.fail(e))?;
        let verdict: String = row.try_get(0).map_err(|e| self.fail(e))?;
        if verdict == "ok" { Ok(()) } else { Err(StoreError::Corrupt { path: self.path.clone(), detail: verdict }) }
    }

    /// Ends all connections; pending commits are finished first.
    pub async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }

    pub(crate) fn fail(&self, error: sqlx::Error) -> StoreError {
        StoreError::from_sqlite(&self.path, error)
    }

    pub(crate) fn readers(&self) -> &SqlitePool {
        &self.readers
    }

    /// Begins a write transaction; it takes the write lock at once, so that it cannot fail half way for want of it.
    pub(crate) async fn begin(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        self.writer.begin_with("BEGIN IMMEDIATE").await.map_err(|e| self.fail(e))
    }
}

/// Notes a write in the audit trail of its own transaction.
pub(crate) async fn audit(
    tx: &mut Transaction<'static, Sqlite>,
    write: &Write,
    action: &str,
    resource: &str,
) -> Result<(), sqlx::Error> {
    sqlx::query("INSERT INTO audit (at, actor, action, resource) VALUES (?, ?, ?, ?)")
        .bind(write.at.as_microsecond())
        .bind(&write.actor)
        .bind(action)
        .bind(resource)
        .execute(&mut **tx)
        .await
        .map(|_| ())
}

/// Refuses a file whose schema is newer than ours, reading only.
async fn refuse_newer(path: &Path, connect: &SqliteConnectOptions) -> Result<(), StoreError> {
    if !path.exists() {
        return Ok(());
    }
    let fail = |e| StoreError::from_sqlite(path, e);
    let reader = SqlitePoolOptions::new()
        .max_connections(1)
        .connect_with(connect.clone().read_only(true).create_if_missing(false))
        .await
        .map_err(fail)?;
    let found = newest_migration(&reader).await.map_err(fail);
    reader.close().await;
    let (found, known) = (found?, MIGRATIONS.iter().map(|m| m.version).max().unwrap_or(0));
    match found {
        Some(found) if found > known => Err(StoreError::NewerSchema { path: path.to_path_buf(), found, known }),
        _ => Ok(()),
    }
}

async fn newest_migration(pool: &SqlitePool) -> Result<Option<i64>, sqlx::Error> {
    let tables =
        sqlx::query("SELECT count(*) FROM sqlite_master WHERE name = '_sqlx_migrations'").fetch_one(pool).await?;
    if tables.try_get::<i64, _>(0)? == 0 {
        return Ok(None);
    }
    let row = sqlx::query("SELECT max(version) FROM _sqlx_migrations WHERE success").fetch_one(pool).await?;
    row.try_get(0)
}

/// Applies what is missing. sqlx takes no lock of its own on SQLite, so two processes that start at once are kept apart by a lock file.
async fn migrate(path: &Path, writer: &SqlitePool) -> Result<(), StoreError> {
    let fail = |e| StoreError::from_sqlite(path, e);
    let known = MIGRATIONS.iter().map(|m| m.version).max().unwrap_or(0);
    if newest_migration(writer).await.map_err(fail)? == Some(known) {
        return Ok(());
    }
    let mut name = path.as_os_str().to_owned();
    name.push(".migrating");
    let lock_path = PathBuf::from(name);
    let io = |e: std::io::Error| StoreError::CannotOpen { path: lock_path.clone(), detail: e.to_string() };
    let lock = std::fs::File::create(&lock_path).map_err(io)?;
    // Waiting for the lock would hold up everything else on this thread.
    let lock = tokio::task::spawn_blocking(move || lock.lock().map(|()| lock))
        .await
        .map_err(|e| io(std::io::Error::other(e)))?
        .map_err(io)?;
    let result = MIGRATIONS.run(writer).await;
    // Whoever waits holds the same open file; removing the name only tidies up.
    drop(lock);
    let _ = std::fs::remove_file(&lock_path);
    result.map_err(|e| match e {
        sqlx::migrate::MigrateError::Execute(e) | sqlx::migrate::MigrateError::ExecuteMigration(e, _) => fail(e),
        other => StoreError::Corrupt { path: path.to_path_buf(), detail: other.to_string() },
    })
}

/// A statement that this crate put together from its own constants.
pub(crate) fn safe(sql: String) -> AssertSqlSafe<String> {
    AssertSqlSafe(sql)
}
