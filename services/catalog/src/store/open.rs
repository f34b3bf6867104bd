//! Opening: refuse what is not ours before anything is written, then bring the schema up to date.

use std::path::Path;
use std::time::{Duration, Instant};

use sqlx::migrate::{MigrateError, Migrator};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{ConnectOptions as _, Connection as _};

use super::{OpenOptions, Store, Synchronous};
use crate::error::StoreError;

static MIGRATIONS: Migrator = sqlx::migrate!("../../migrations");

/// `PRAGMA application_id` of our files, set by the first migration.
const APPLICATION_ID: i64 = 1_279_415_629;
/// Pause between attempts at a file that two programs open at once.
const RETRY_PAUSE: Duration = Duration::from_millis(20);
/// How long a caller waits for a connection before it is told that the database is busy.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(30);
/// Of a new file. Half as many calls of the operating system as with the usual 4 KiB, and a record of the catalog is far smaller still.
const PAGE_BYTES: u32 = 8192;
/// The write-ahead log is cut back to this after a large transaction.
const LOG_BYTES: &str = "67108864";

impl Store {
    /// Opens a database file, creating it if there is none, and brings its schema up to date.
    ///
    /// # Errors
    /// A newer schema, a foreign, corrupt, locked or read-only file, a full disk: each its own variant, and the file
    /// is left as it was.
    pub async fn open(path: impl AsRef<Path>, options: OpenOptions) -> Result<Self, StoreError> {
        let path = path.as_ref().to_path_buf();
        let sort = |error| StoreError::from_sqlite(&path, error);
        let plain = SqliteConnectOptions::new().filename(&path).busy_timeout(options.busy_timeout);
        refuse_unknown(&path, &plain).await?;
        let connect = plain
            .create_if_missing(true)
            .page_size(PAGE_BYTES)
            .foreign_keys(true)
            .synchronous(match options.synchronous {
                Synchronous::Full => SqliteSynchronous::Full,
                Synchronous::Normal => SqliteSynchronous::Normal,
            })
            .pragma("journal_size_limit", LOG_BYTES);
        let with_log = connect
            .clone()
            .journal_mode(SqliteJournalMode::Wal)
            // What a statement of many rows keeps to undo itself by is no more than the page cache: a file would only cost time.
            .pragma("temp_store", "MEMORY");
        let writer = connect_writer(&with_log, options.busy_timeout).await.map_err(sort)?;
        migrate(&path, &writer).await?;
        // Readers open when they are first needed: a start should not wait for them.
        let readers = pool(options.readers.max(1)).connect_lazy_with(connect.pragma("query_only", "ON"));
        Ok(Self { path, writer, readers, waits: super::wait::Waits::default() })
    }
}

/// A pool whose connections live as long as it does: they are local handles that cannot go stale.
fn pool(connections: u32) -> SqlitePoolOptions {
    SqlitePoolOptions::new()
        .max_connections(connections)
        .acquire_timeout(ACQUIRE_TIMEOUT)
        .idle_timeout(None)
        .max_lifetime(None)
        .test_before_acquire(false)
}

/// Opens the writer. The switch to the write-ahead log of a new file needs it alone for a moment and does not wait for
/// others by itself.
async fn connect_writer(connect: &SqliteConnectOptions, patience: Duration) -> Result<SqlitePool, sqlx::Error> {
    let start = Instant::now();
    loop {
        match pool(1).connect_with(connect.clone()).await {
            Err(error) if is_busy(&error) && start.elapsed() < patience => tokio::time::sleep(RETRY_PAUSE).await,
            result => return result,
        }
    }
}

fn is_busy(error: &sqlx::Error) -> bool {
    let code = error.as_database_error().and_then(|said| said.code()?.parse::<i64>().ok());
    code.is_some_and(|code| matches!(code & 0xff, 5 | 6))
}

/// Looks at an existing file, reading only, and refuses what this version must not touch.
pub(super) async fn refuse_unknown(path: &Path, plain: &SqliteConnectOptions) -> Result<(), StoreError> {
    match std::fs::metadata(path) {
        Ok(file) if file.is_dir() => {
            let detail = "it is a folder; name a file in it".to_owned();
            return Err(StoreError::CannotOpen { path: path.to_path_buf(), detail });
        }
        Ok(file) if file.len() > 0 => {}
        // A file of no bytes is what SQLite itself makes of a new database.
        _ => return Ok(()),
    }
    let sort = |error| StoreError::from_sqlite(path, error);
    let mut reader = plain.clone().read_only(true).connect().await.map_err(sort)?;
    let looked_at = look(&mut reader).await.map_err(sort);
    let closed = reader.close().await.map_err(sort);
    let Seen { application_id, tables, newest } = looked_at?;
    closed?;
    let known = newest_known();
    match newest {
        Some(found) if found > known => Err(StoreError::NewerSchema { path: path.to_path_buf(), found, known }),
        // A program that also keeps its migrations this way, or no migrations at all.
        _ if tables > 0 && application_id != APPLICATION_ID => Err(StoreError::Foreign { path: path.to_path_buf() }),
        _ => Ok(()),
    }
}

/// What an existing file says of itself.
struct Seen {
    application_id: i64,
    tables: i64,
    /// Newest migration; none before the first one.
    newest: Option<i64>,
}

async fn look(reader: &mut SqliteConnection) -> Result<Seen, sqlx::Error> {
    let application_id = sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut *reader).await?;
    let tables = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema").fetch_one(&mut *reader).await?;
    Ok(Seen { application_id, tables, newest: newest_applied(reader).await? })
}

async fn newest_applied(reader: &mut SqliteConnection) -> Result<Option<i64>, sqlx::Error> {
    let has_migrations: bool =
        sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = '_sqlx_migrations')")
            .fetch_one(&mut *reader)
            .await?;
    if !has_migrations {
        return Ok(None);
    }
    sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations").fetch_one(&mut *reader).await
}

fn newest_known() -> i64 {
    MIGRATIONS.iter().map(|migration| migration.version).max().unwrap_or(0)
}

/// Applies the migrations that are missing, all in one transaction. sqlx takes no lock of its own on SQLite: the write lock of
/// this transaction keeps two programs that start at once apart, and the later one finds nothing left to do.
async fn migrate(path: &Path, writer: &SqlitePool) -> Result<(), StoreError> {
    let sort = |error| StoreError::from_sqlite(path, error);
    let mut transaction = writer.begin_with("BEGIN IMMEDIATE").await.map_err(sort)?;
    let newest = newest_applied(&mut transaction).await.map_err(sort)?;
    let known = newest_known();
    if newest.is_some_and(|found| found > known) {
        let found = newest.unwrap_or(known);
        return Err(StoreError::NewerSchema { path: path.to_path_buf(), found, known });
    }
    MIGRATIONS.run(&mut *transaction).await.map_err(|error| match error {
        MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _) => sort(error),
        other => StoreError::CannotOpen {
            path: path.to_path_buf(),
            detail: format!(
                "its schema is not of a released version ({other}); restore a backup, or name another file"
            ),
        },
    })?;
    transaction.commit().await.map_err(sort)
}
