//! Opening: refuse what is not ours before anything is written, then bring the schema up to date.

use std::io::Read as _;
use std::path::Path;
use std::time::{Duration, Instant};

use sqlx::migrate::{MigrateError, Migrator};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqliteSynchronous};
use sqlx::{ConnectOptions as _, Connection as _};

use super::condition::Watched;
use super::crash_point;
use super::gate::Gate;
use super::older;
use super::partial::{Partial, beside, unwritable};
use super::readers::{Readers, pool};
use super::watch::Watch;
use super::{OpenOptions, Store, Synchronous};
use crate::error::StoreError;

static MIGRATIONS: Migrator = sqlx::migrate!("../../migrations");

/// `PRAGMA application_id` of our files, set by the first migration.
const APPLICATION_ID: i64 = 1_279_415_629;
/// Pause between attempts at a file that two programs open at once.
const RETRY_PAUSE: Duration = Duration::from_millis(20);
/// Of a new file. Half as many calls of the operating system as with the usual 4 KiB, and a record of the catalog is far smaller still.
const PAGE_BYTES: u32 = 8192;
/// The write-ahead log is cut back to this after a large transaction.
const LOG_BYTES: &str = "67108864";

impl Store {
    /// Opens a database file, creating it if there is none, and brings its schema up to date. A new file is its owner's alone.
    ///
    /// # Errors
    /// A newer schema, a foreign, corrupt, locked or read-only file, a full disk: each its own variant, and the file
    /// is left as it was.
    pub async fn open(path: impl AsRef<Path>, options: OpenOptions) -> Result<Self, StoreError> {
        let path = path.as_ref().to_path_buf();
        let sort = |error| StoreError::from_sqlite(&path, error);
        create_if_missing(&path, options.busy_timeout).await?;
        let plain = SqliteConnectOptions::new().filename(&path).busy_timeout(options.busy_timeout);
        let watch = Watch::of(&path)?;
        refuse_unknown(&path, &plain).await?;
        let connect = plain
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
        let watched = Watched::default();
        let writer = connect_writer(&with_log, options.busy_timeout, &watched).await.map_err(sort)?;
        migrate(&path, &writer).await?;
        // A restore may have put another file there since the look.
        watch.check()?;
        let connect = connect.pragma("query_only", "ON");
        let readers = Readers::new(&connect, options.readers);
        let gate = Gate::new(pool(1).connect_lazy_with(connect));
        Ok(Self { path, writer, readers, gate, watched, waits: super::wait::Waits::default(), watch })
    }
}

/// Opens the writer. The switch to the write-ahead log of a new file needs it alone for a moment and does not wait for
/// others by itself.
async fn connect_writer(
    connect: &SqliteConnectOptions,
    patience: Duration,
    watched: &Watched,
) -> Result<SqlitePool, sqlx::Error> {
    let start = Instant::now();
    let watched = watched.clone();
    let pool = pool(1).after_release(move |connection, _| {
        let watched = watched.clone();
        Box::pin(async move {
            // The rollback that a dropped transaction asked for comes first.
            connection.ping().await?;
            // After a full disk SQLite has rolled back by itself, and the rollback that follows fails: such a connection would
            // refuse every later write.
            let free = match connection.begin_with("BEGIN").await {
                Ok(nothing) => nothing.rollback().await.is_ok(),
                Err(_) => false,
            };
            Ok(free && !watched.take_suspect())
        })
    });
    loop {
        match pool.clone().connect_with(connect.clone()).await {
            Err(error) if is_busy(&error) && start.elapsed() < patience => tokio::time::sleep(RETRY_PAUSE).await,
            result => return result,
        }
    }
}

fn is_busy(error: &sqlx::Error) -> bool {
    let code = error.as_database_error().and_then(|said| said.code()?.parse::<i64>().ok());
    code.is_some_and(|code| matches!(code & 0xff, 5 | 6))
}

/// Makes a new database beside its place and moves it there whole, so that no kill leaves half of one under its name.
async fn create_if_missing(path: &Path, patience: Duration) -> Result<(), StoreError> {
    let start = Instant::now();
    let partial = loop {
        if path.exists() {
            return Ok(());
        }
        refuse_remains(path)?;
        match Partial::begin(path) {
            Err(StoreError::UnderWay { .. }) if start.elapsed() < patience => tokio::time::sleep(RETRY_PAUSE).await,
            begun => break begun?,
        }
    };
    let sort = |error| StoreError::from_sqlite(path, error);
    let connect = SqliteConnectOptions::new()
        .filename(partial.path())
        .page_size(PAGE_BYTES)
        .foreign_keys(true)
        // Worth nothing until it is whole, and pressed to the disk then.
        .journal_mode(SqliteJournalMode::Memory)
        .synchronous(SqliteSynchronous::Off);
    let writer = pool(1).connect_with(connect).await.map_err(sort)?;
    let made = match migrate(path, &writer).await {
        Ok(()) => sqlx::query("PRAGMA journal_mode = WAL").execute(&writer).await.map(drop).map_err(sort),
        failed => failed,
    };
    writer.close().await;
    made?;
    crash_point(format_args!("database-made"));
    match partial.place() {
        // Another process was first; its file is opened.
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        placed => placed.map_err(|error| unwritable(path, &error)),
    }
}

/// A log without its database would be replayed into whatever file gets the name.
fn refuse_remains(path: &Path) -> Result<(), StoreError> {
    let refused = |detail: String| Err(StoreError::CannotOpen { path: path.to_path_buf(), detail });
    if std::fs::symlink_metadata(path).is_ok() {
        return refused("it is a link to a file that is not there; name the file itself".to_owned());
    }
    let left = ["-wal", "-journal"].map(|ending| beside(path, ending));
    match left.iter().find(|file| has_content(file)) {
        None => Ok(()),
        Some(log) => refused(format!(
            "it was moved or removed, and its log {} was left behind; put the database back beside its log, or restore a backup",
            log.display()
        )),
    }
}

fn has_content(file: &Path) -> bool {
    std::fs::metadata(file).is_ok_and(|found| found.len() > 0)
}

/// Looks at an existing file and refuses what this version must not touch. Nothing is written, but for an interrupted write of
/// our own, which is rolled back as every reader would.
pub(super) async fn refuse_unknown(path: &Path, plain: &SqliteConnectOptions) -> Result<(), StoreError> {
    let file = std::fs::metadata(path).map_err(|error| unwritable(path, &error))?;
    if file.is_dir() {
        let detail = "it is a folder; name a file in it".to_owned();
        return Err(StoreError::CannotOpen { path: path.to_path_buf(), detail });
    }
    let corrupt = |detail: &str| Err(StoreError::Corrupt { path: path.to_path_buf(), detail: detail.to_owned() });
    match file.len() {
        0 => return corrupt("it is empty, as if what it held was lost; remove it if a new database is to be made"),
        // SQLite takes a single byte for a new database.
        1 => return corrupt("it is one byte long"),
        _ => {}
    }
    let sort = |error| StoreError::from_sqlite(path, error);
    let seen = look_safely(path, plain).await.map_err(sort)?;
    let Some(seen) = seen else { return Err(StoreError::Foreign { path: path.to_path_buf() }) };
    let Seen { application_id, tables, newest } = seen;
    let known = newest_known();
    match newest {
        Some(found) if found > known => Err(StoreError::NewerSchema { path: path.to_path_buf(), found, known }),
        // A program that also keeps its migrations this way, or no migrations at all.
        _ if tables > 0 && application_id != APPLICATION_ID => Err(StoreError::Foreign { path: path.to_path_buf() }),
        _ => Ok(()),
    }
}

/// Looks at a file in the way that leaves nothing behind. None for a file of another program in the middle of a write.
async fn look_safely(path: &Path, plain: &SqliteConnectOptions) -> Result<Option<Seen>, sqlx::Error> {
    let (log, journal) = (beside(path, "-wal"), beside(path, "-journal"));
    // Takes no lock and makes no file. What another program writes meanwhile is not seen.
    let still = plain.clone().read_only(true).immutable(true);
    let first = look(&still).await;
    if has_content(&journal) {
        // The roll back of an interrupted write needs to write.
        let ours = is_marked_ours(path) || begins_a_file(&journal);
        return if ours { look(plain).await.map(Some) } else { Ok(None) };
    }
    match first {
        Ok(seen) if !log.exists() => Ok(Some(seen)),
        Ok(seen) if seen.application_id != 0 && seen.application_id != APPLICATION_ID => Ok(Some(seen)),
        // What counts may still be in the log, or was being written.
        _ => look(&plain.clone().read_only(true)).await.map(Some),
    }
}

/// Whether the first page bears our mark, even where a schema of several pages is half written and no query answers
/// (https://sqlite.org/fileformat.html, section 1.3, bytes 68 to 71).
fn is_marked_ours(path: &Path) -> bool {
    let mut header = [0; 72];
    let read = std::fs::File::open(path).and_then(|mut file| file.read_exact(&mut header));
    let mark = header.last_chunk::<4>().map(|mark| i64::from(i32::from_be_bytes(*mark)));
    read.is_ok() && mark == Some(APPLICATION_ID)
}

/// Whether a journal is that of the first write of a file: rolled back, nothing is left
/// (https://sqlite.org/fileformat.html, section 3, bytes 16 to 19).
fn begins_a_file(journal: &Path) -> bool {
    let pages_before = std::fs::read(journal).ok().and_then(|bytes| bytes.get(16..20).map(|size| size == [0; 4]));
    pages_before == Some(true)
}

/// What an existing file says of itself.
struct Seen {
    application_id: i64,
    tables: i64,
    /// Newest migration; none before the first one.
    newest: Option<i64>,
}

async fn look(connect: &SqliteConnectOptions) -> Result<Seen, sqlx::Error> {
    let mut reader = connect.connect().await?;
    let seen = read_seen(&mut reader).await;
    reader.close().await?;
    seen
}

async fn read_seen(reader: &mut SqliteConnection) -> Result<Seen, sqlx::Error> {
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

/// Applies the migrations that are missing, all in one transaction; what a database of an older schema holds is brought over. sqlx takes no lock of its own on SQLite: the write lock of
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
    let told = |error| match error {
        StoreError::Database(error) => sort(error),
        other => other,
    };
    let before = match newest {
        Some(found) if found <= older::NEWEST => Some(older::take(&mut transaction).await.map_err(told)?),
        Some(found) if found < older::RUNS_SINCE => {
            older::tell_of_runs(&mut transaction).await.map_err(told)?;
            None
        }
        Some(_) | None => None,
    };
    MIGRATIONS.run(&mut *transaction).await.map_err(|error| match error {
        MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _) => sort(error),
        other => StoreError::CannotOpen {
            path: path.to_path_buf(),
            detail: format!(
                "its schema is not of a released version ({other}); restore a backup, or name another file"
            ),
        },
    })?;
    if let Some(before) = before {
        older::put(&mut transaction, before).await.map_err(told)?;
    }
    transaction.commit().await.map_err(sort)
}
