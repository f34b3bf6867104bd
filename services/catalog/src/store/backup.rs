//! Backups, and the check of a whole file.

use std::fs::File;
use std::path::{Path, PathBuf};

use sqlx::ConnectOptions as _;

use super::Store;
use crate::error::StoreError;

impl Store {
    /// Writes a copy of the whole database, as it is at one moment, to a new file, while the store goes on being used.
    ///
    /// `VACUUM INTO` reads one snapshot and leaves a compact file; the page-by-page interface would start over whenever
    /// somebody writes. The copy gets its name only once it is complete and on the disk.
    ///
    /// # Errors
    /// The file exists already, or it cannot be written.
    pub async fn backup(&self, to: &Path) -> Result<(), StoreError> {
        let refused = |detail: String| StoreError::CannotOpen { path: to.to_path_buf(), detail };
        if to.exists() {
            return Err(refused("it exists already, and a backup never overwrites; name a new file".to_owned()));
        }
        let partial = partial_name(to);
        let Some(name) = partial.to_str() else {
            return Err(refused("its name is not UTF-8; name another file".to_owned()));
        };
        // What an interrupted backup left behind is of no use to anybody.
        if partial.exists() {
            std::fs::remove_file(&partial).map_err(|error| refused(error.to_string()))?;
        }
        // A connection of its own: readers may not write even to another file, and the writer should not wait for this.
        let mut own = self.connect.connect().await.map_err(|error| self.fail(error))?;
        let copied = sqlx::query("VACUUM INTO ?").bind(name).execute(&mut own).await;
        let kept = copied.map_err(|error| StoreError::from_sqlite(to, error)).and_then(|_| {
            keep(&partial, to).map_err(|error| match error.kind() {
                std::io::ErrorKind::StorageFull => StoreError::DiskFull { path: to.to_path_buf() },
                _ => refused(error.to_string()),
            })
        });
        if kept.is_err() {
            // Nothing to be done if even that fails: the error that matters is the first one.
            let _ = std::fs::remove_file(&partial);
        }
        kept
    }

    /// Checks the whole file (`PRAGMA integrity_check`) and every reference in it.
    ///
    /// # Errors
    /// The file is corrupt.
    pub async fn check_integrity(&self) -> Result<(), StoreError> {
        let corrupt = |detail| StoreError::Corrupt { path: self.path.clone(), detail };
        let verdict: String = sqlx::query_scalar("PRAGMA integrity_check(1)")
            .fetch_one(self.readers())
            .await
            .map_err(|error| self.fail(error))?;
        if verdict != "ok" {
            return Err(corrupt(verdict));
        }
        let broken = sqlx::query("PRAGMA foreign_key_check")
            .fetch_optional(self.readers())
            .await
            .map_err(|error| self.fail(error))?;
        match broken {
            Some(_) => Err(corrupt("a row refers to one that is gone".to_owned())),
            None => Ok(()),
        }
    }
}

fn partial_name(to: &Path) -> PathBuf {
    let mut name = to.as_os_str().to_owned();
    name.push(".partial");
    PathBuf::from(name)
}

/// Presses the copy to the disk, which `VACUUM INTO` does not, and gives it its name.
fn keep(partial: &Path, to: &Path) -> std::io::Result<()> {
    File::open(partial)?.sync_all()?;
    std::fs::rename(partial, to)?;
    match to.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        Some(folder) => File::open(folder)?.sync_all(),
        None => Ok(()),
    }
}
