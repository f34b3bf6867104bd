//! The one error of this crate. What happened is kept apart from what SQLite said about it.

use std::path::PathBuf;

use planning::domain::Fault;

/// Why the store could not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No such record.
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
        "{collection}/{id} has changed since it was read: the etag given is {given}, the stored one is {stored}; read it again"
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
    /// A record that does not pass its own checks.
    #[error("the record has {} fault(s), the first: {}", .0.len(), .0.first().map_or("", |f| f.message.as_str()))]
    Faulty(
        /// Every fault.
        Vec<Fault>,
    ),
    /// The database was written by a newer lakebeam.
    #[error("{} was written by a newer lakebeam (schema {found}, this one knows {known}); use that version, or restore a backup", path.display())]
    NewerSchema {
        /// File.
        path: PathBuf,
        /// Schema found.
        found: i64,
        /// Newest schema known.
        known: i64,
    },
    /// The file is not a sound database.
    #[error("{} is not a sound lakebeam database ({detail}); nothing was changed: restore a backup, or name another file", path.display())]
    Corrupt {
        /// File.
        path: PathBuf,
        /// What SQLite said.
        detail: String,
    },
    /// Somebody else holds the file.
    #[error("{} is locked by another program; stop it, or wait and try again", path.display())]
    Locked {
        /// File.
        path: PathBuf,
    },
    /// The file may not be written.
    #[error("{} may not be written; check the permissions of the file and its folder", path.display())]
    ReadOnly {
        /// File.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("no room to write {}; nothing of this step was kept: free some space and try again", path.display())]
    DiskFull {
        /// File.
        path: PathBuf,
    },
    /// The file cannot be opened at all.
    #[error("{} cannot be opened: {detail}", path.display())]
    CannotOpen {
        /// File.
        path: PathBuf,
        /// Why.
        detail: String,
    },
    /// A stored record that no longer reads; never expected.
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
    /// Sorts what SQLite said into what a person can act on.
    pub(crate) fn from_sqlite(path: &std::path::Path, error: sqlx::Error) -> Self {
        let path = path.to_path_buf();
        let Some(db) = error.as_database_error() else {
            return match &error {
                sqlx::Error::Io(io) if io.kind() == std::io::ErrorKind::PermissionDenied => Self::ReadOnly { path },
                sqlx::Error::PoolTimedOut => Self::Locked { path },
                _ => Self::Database(error),
            };
        };
        let extended: i64 = db.code().and_then(|c| c.parse().ok()).unwrap_or(0);
        // Result codes of SQLite (sqlite.org/rescode.html); the low byte is the primary one. 778 is IOERR_WRITE.
        match (extended & 0xff, extended) {
            (5 | 6, _) => Self::Locked { path },
            (8, _) => Self::ReadOnly { path },
            (13, _) | (_, 778) => Self::DiskFull { path },
            (11 | 26, _) => Self::Corrupt { path, detail: db.message().to_owned() },
            (14, _) => Self::CannotOpen { path, detail: db.message().to_owned() },
            _ => Self::Database(error),
        }
    }
}
