//! The one error of this crate. What a person can act on is kept apart from what SQLite said about it.

use std::path::{Path, PathBuf};
use std::time::Duration;

use domain::Fault;

use crate::run::state::RunState;

/// How long one statement of a caller may read.
pub(crate) const MOST_READING: Duration = Duration::from_secs(20);

/// Why the store could not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No such resource.
    #[error("there is no {collection}/{id}")]
    NotFound {
        /// Collection, such as `spots`.
        collection: &'static str,
        /// Id asked for.
        id: String,
    },
    /// The id is taken.
    #[error("{collection}/{id} exists already; choose another id, or update the one there is")]
    AlreadyExists {
        /// Collection.
        collection: &'static str,
        /// Id asked for.
        id: String,
    },
    /// The record changed since it was read.
    #[error(
        "{collection}/{id} has changed since it was read: the etag given is '{given}', the stored one is '{stored}'; read it again"
    )]
    StaleEtag {
        /// Collection.
        collection: &'static str,
        /// Id.
        id: String,
        /// Etag given.
        given: String,
        /// Etag stored.
        stored: String,
    },
    /// A filter that cannot be used.
    #[error("filter, character {at}: {problem}")]
    BadFilter {
        /// Position of the fault, counted in characters from 1.
        at: usize,
        /// What is wrong and what is accepted.
        problem: String,
    },
    /// A record that does not pass its own check.
    #[error("the record has {} fault(s), the first: {}", .0.len(), .0.first().map_or("", |fault| fault.message.as_str()))]
    Faulty(
        /// Every fault.
        Vec<Fault>,
    ),
    /// The reader of a file ended before the file did.
    #[error("the file was not read to its end; nothing was stored: send it again")]
    ImportBroken,
    /// The run has ended, so nothing can be added to it.
    #[error("runs/{id} has ended; start a new run")]
    RunEnded {
        /// Id of the run.
        id: String,
    },
    /// The run has not ended, so it cannot be removed.
    #[error("runs/{id} has not ended; cancel it first")]
    RunNotEnded {
        /// Id of the run.
        id: String,
        /// Its state.
        state: RunState,
    },
    /// Others refer to the resource.
    #[error(
        "{collection}/{id} is used by {count} other(s): {}; delete them first, or ask for it to be deleted all the same",
        .by.join(", ")
    )]
    Referenced {
        /// Collection.
        collection: &'static str,
        /// Id.
        id: String,
        /// Names of the first of them.
        by: Vec<String>,
        /// How many there are.
        count: u64,
    },
    /// The database was written by a newer version.
    #[error(
        "{} was written by a newer lakebeam (schema {found}, this one knows up to {known}); use that version, or restore an older backup",
        path.display()
    )]
    NewerSchema {
        /// File.
        path: PathBuf,
        /// Schema found.
        found: i64,
        /// Newest schema known.
        known: i64,
    },
    /// A sound database, but not one of ours.
    #[error("{} is a database of another program; nothing was changed: name another file", path.display())]
    Foreign {
        /// File.
        path: PathBuf,
    },
    /// The file is not a sound database.
    #[error(
        "{} is not a sound database ({detail}); nothing was changed: restore a backup, or name another file",
        path.display()
    )]
    Corrupt {
        /// File.
        path: PathBuf,
        /// What SQLite said.
        detail: String,
    },
    /// The file of an open store is no longer the one that was opened.
    #[error(
        "{} is lost to the program that uses it: {detail}; put the file back beside its log (-wal), or restore a backup",
        path.display()
    )]
    Lost {
        /// File.
        path: PathBuf,
        /// What happened to it.
        detail: &'static str,
    },
    /// Another process makes the same file.
    #[error("another backup, restore or first start is writing {} at this moment; wait until it has ended", path.display())]
    UnderWay {
        /// File.
        path: PathBuf,
    },
    /// Another program holds the file.
    #[error("{} is locked by another program; stop it, or wait and try again", path.display())]
    Locked {
        /// File.
        path: PathBuf,
    },
    /// The file may not be written.
    #[error("{} may not be written; check the permissions of the file and of its folder", path.display())]
    ReadOnly {
        /// File.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("there is no room to write {}; nothing of this step was kept: free some space and try again", path.display())]
    DiskFull {
        /// File.
        path: PathBuf,
    },
    /// A file is where one is to be written.
    #[error("{} exists already: {advice}", path.display())]
    FileExists {
        /// File.
        path: PathBuf,
        /// What to do.
        advice: &'static str,
    },
    /// The file cannot be opened, or not created.
    #[error("{} cannot be opened: {detail}", path.display())]
    CannotOpen {
        /// File.
        path: PathBuf,
        /// Why, and what to do.
        detail: String,
    },
    /// Reading took longer than one call may.
    #[error("reading took longer than {} s; ask for less, by fewer comparisons in the filter or smaller pages", .0.as_secs())]
    TooSlow(
        /// The limit.
        Duration,
    ),
    /// Too many callers wait for the database.
    #[error("the database is busy; try again in a moment")]
    Busy,
    /// A stored record that no longer reads: never expected, as records are checked when they are written.
    #[error("a stored record does not read: {0}")]
    BadRecord(
        /// What the reader said.
        String,
    ),
    /// Anything else that SQLite said.
    #[error("the database failed: {0}")]
    Database(
        /// The cause.
        #[source]
        sqlx::Error,
    ),
}

impl StoreError {
    /// A fault of a filter at a position, counted in characters from 1.
    pub(crate) fn in_filter(at: usize, problem: impl Into<String>) -> Self {
        Self::BadFilter { at, problem: problem.into() }
    }

    /// Sorts what SQLite said into what a person can act on.
    pub(crate) fn from_sqlite(path: &Path, error: sqlx::Error) -> Self {
        let path = path.to_path_buf();
        let Some(said) = error.as_database_error() else {
            return match &error {
                sqlx::Error::Io(io) if io.kind() == std::io::ErrorKind::PermissionDenied => Self::ReadOnly { path },
                sqlx::Error::PoolTimedOut => Self::Busy,
                sqlx::Error::ColumnDecode { .. } | sqlx::Error::ColumnNotFound(_) => Self::BadRecord(error.to_string()),
                _ => Self::Database(error),
            };
        };
        let code: i64 = said.code().and_then(|code| code.parse().ok()).unwrap_or(0);
        let detail = said.message().to_owned();
        // Result codes, https://sqlite.org/rescode.html: the low byte is the primary one.
        const IOERR_WRITE: i64 = 778;
        const READONLY_DBMOVED: i64 = 1032;
        match (code & 0xff, code) {
            (5 | 6, _) => Self::Locked { path },
            (_, READONLY_DBMOVED) => Self::Lost { path, detail: "it was moved or removed" },
            (8, _) => Self::ReadOnly { path },
            (9, _) => Self::TooSlow(MOST_READING),
            (11 | 26, _) => Self::Corrupt { path, detail },
            (13, _) | (_, IOERR_WRITE) => Self::DiskFull { path },
            (14, _) => {
                let detail = format!("{detail}; check that the folder exists and may be written");
                Self::CannotOpen { path, detail }
            }
            _ => Self::Database(error),
        }
    }
}
