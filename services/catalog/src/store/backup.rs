//! Backups of a whole file and their way back.

use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions as _, Connection as _};

use super::partial::{COMPANIONS, Partial, beside, exchange, is_unsupported, sync_folder, unwritable};
use super::{Store, crash_point, open};
use crate::error::StoreError;
use crate::import::Existing;

/// How long to wait for another program's lock.
const PATIENCE: Duration = Duration::from_secs(5);

/// Writes a copy of a whole database, as it is at one moment, to a new file, whoever else reads and writes it meanwhile.
///
/// SQLite's page-by-page backup would start over whenever another program writes, and its interface asks for unsafe code;
/// `VACUUM INTO` reads one snapshot, holds nobody up, and leaves a compact file. The copy is checked, pressed to the disk, and
/// gets its name only then. The database is not brought to a newer schema.
///
/// # Errors
/// The database is not one of ours or not sound, the new file exists already, or it cannot be written.
pub async fn back_up(database: &Path, to: &Path) -> Result<(), StoreError> {
    if std::fs::symlink_metadata(to).is_ok() {
        let advice = "a backup never overwrites; name a new file";
        return Err(StoreError::FileExists { path: to.to_path_buf(), advice });
    }
    let partial = Partial::begin(to)?;
    copy(database, partial.path(), to).await?;
    crash_point(format_args!("backup-made"));
    partial.place().map_err(|error| unwritable(to, &error))
}

/// Puts a backup in the place of a database that no service has open. The backup is checked first and stays as it is; the
/// database that was there is kept beside the new one, under the name that is returned.
///
/// # Errors
/// The backup is not one of ours, of a newer schema or not sound; a database is there and `existing` refuses; it is in use; it
/// cannot be written. The database is then as it was.
pub async fn restore(backup: &Path, database: &Path, existing: Existing) -> Result<Option<PathBuf>, StoreError> {
    if database.exists() && existing == Existing::Refuse {
        let advice = "ask for it to be replaced, and it is kept beside the restored one; or name another database";
        return Err(StoreError::FileExists { path: database.to_path_buf(), advice });
    }
    let database = &pointed_at(database);
    let partial = Partial::begin(database)?;
    copy(backup, partial.path(), database).await?;
    crash_point(format_args!("restore-copied"));
    let held = release(database).await?;
    crash_point(format_args!("restore-released"));
    let swapped = swap(partial, database).map_err(|error| unwritable(database, &error));
    if let Some(held) = held {
        // Nothing was written through it; it kept others away.
        let _ = held.close().await;
    }
    swapped
}

/// The file itself where a link to it is given: it is the file that SQLite opens, and beside which its log lies.
fn pointed_at(path: &Path) -> PathBuf {
    let link = std::fs::symlink_metadata(path).is_ok_and(|found| found.is_symlink());
    let file = if link { std::fs::canonicalize(path).ok() } else { None };
    file.unwrap_or_else(|| path.to_path_buf())
}

/// Copies a snapshot of a database of ours to a file that will become `to`, and checks the copy.
async fn copy(from: &Path, partial: &Path, to: &Path) -> Result<(), StoreError> {
    let fail = |error| StoreError::from_sqlite(from, error);
    let Some(name) = partial.to_str() else {
        let detail = "its name is not UTF-8; name another file".to_owned();
        return Err(StoreError::CannotOpen { path: to.to_path_buf(), detail });
    };
    let options = SqliteConnectOptions::new().filename(from).busy_timeout(PATIENCE);
    open::refuse_unknown(from, &options).await?;
    let mut source = options.connect().await.map_err(fail)?;
    let copied = sqlx::query("VACUUM INTO ?").bind(name).execute(&mut source).await;
    source.close().await.map_err(fail)?;
    copied.map_err(|error| match StoreError::from_sqlite(to, error) {
        // Only the database is read, so it is the one that is damaged.
        StoreError::Corrupt { detail, .. } => StoreError::Corrupt { path: from.to_path_buf(), detail },
        other => other,
    })?;
    let mut copy = SqliteConnectOptions::new().filename(partial).read_only(true).connect().await.map_err(fail)?;
    let fault = fault_of(&mut copy).await;
    copy.close().await.map_err(fail)?;
    match fault.map_err(fail)? {
        Some(detail) => Err(StoreError::Corrupt { path: from.to_path_buf(), detail }),
        None => Ok(()),
    }
}

/// Empties the write-ahead log of a database into its file, which succeeds only when no other program has it open, and keeps it
/// locked while the connection lives. A file that is no sound database has nothing to be emptied and may be put aside as it is;
/// another program's may not.
async fn release(database: &Path) -> Result<Option<SqliteConnection>, StoreError> {
    let fail = |error| StoreError::from_sqlite(database, error);
    if !database.exists() {
        return Ok(None);
    }
    let options = SqliteConnectOptions::new().filename(database).busy_timeout(PATIENCE);
    match open::refuse_unknown(database, &options).await {
        Err(StoreError::Corrupt { .. }) => return Ok(None),
        Ok(()) | Err(StoreError::NewerSchema { .. }) => {}
        Err(other) => return Err(other),
    }
    let mut own = options.connect().await.map_err(fail)?;
    match empty_and_lock(&mut own).await.map_err(fail) {
        Ok(()) => return Ok(Some(own)),
        Err(StoreError::Corrupt { .. }) => {}
        Err(other) => return Err(other),
    }
    own.close().await.map_err(fail)?;
    Ok(None)
}

async fn empty_and_lock(own: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    sqlx::query("PRAGMA journal_mode = DELETE").execute(&mut *own).await?;
    sqlx::query("BEGIN EXCLUSIVE").execute(own).await?;
    Ok(())
}

/// Puts the copy in the place of the database in one step; what was there gets a name of its own.
fn swap(partial: Partial, database: &Path) -> io::Result<Option<PathBuf>> {
    let aside = free_name(database);
    // A log that is left beside the restored file would be replayed into it.
    for companion in COMPANIONS {
        let left = beside(database, companion);
        if left.exists() {
            std::fs::rename(left, beside(&aside, companion))?;
        }
    }
    if !database.exists() {
        return partial.place().map(|()| None);
    }
    // The copy goes by the name of what is put aside until both change places: no name is ever without a file.
    partial.place_as(&aside)?;
    crash_point(format_args!("restore-beside"));
    match exchange(&aside, database) {
        Err(error) if is_unsupported(error) => {
            std::fs::rename(&aside, partial.path())?;
            // A second name first, so that the database's never points to nothing; not every file system has them.
            std::fs::hard_link(database, &aside).or_else(|_| std::fs::rename(database, &aside))?;
            std::fs::rename(partial.path(), database)?;
        }
        done => done?,
    }
    crash_point(format_args!("restore-swapped"));
    sync_folder(database)?;
    Ok(Some(aside))
}

/// A name for what is put aside that nothing has yet.
fn free_name(database: &Path) -> PathBuf {
    let mut name = beside(database, ".before-restore");
    let mut number = 1_u32;
    while name.exists() || COMPANIONS.iter().any(|companion| beside(&name, companion).exists()) {
        number = number.saturating_add(1);
        name = beside(database, &format!(".before-restore-{number}"));
    }
    name
}

impl Store {
    /// Checks the whole file (`PRAGMA integrity_check`) and every reference in it.
    ///
    /// # Errors
    /// The file is corrupt.
    pub async fn check_integrity(&self) -> Result<(), StoreError> {
        let mut reader = self.reader().await?;
        match fault_of(&mut reader).await.map_err(|error| self.fail(error))? {
            Some(detail) => Err(StoreError::Corrupt { path: self.path.clone(), detail }),
            None => Ok(()),
        }
    }
}

/// What is wrong with a file, if anything.
async fn fault_of(reader: &mut SqliteConnection) -> Result<Option<String>, sqlx::Error> {
    let verdict: String = sqlx::query_scalar("PRAGMA integrity_check(1)").fetch_one(&mut *reader).await?;
    if verdict != "ok" {
        return Ok(Some(verdict));
    }
    let broken = sqlx::query("PRAGMA foreign_key_check").fetch_optional(&mut *reader).await?;
    Ok(broken.map(|_| "a row refers to one that is gone".to_owned()))
}
