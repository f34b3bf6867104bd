//! Whether the file that a store has open is still the one of its name, and sound.

use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use crate::error::StoreError;

/// The open file. It is looked at by name alone: to open it here would release SQLite's locks on it (POSIX, `fcntl`).
#[derive(Debug, Clone)]
pub(crate) struct Watch(Arc<Watched>);

#[derive(Debug)]
struct Watched {
    path: PathBuf,
    device: u64,
    inode: u64,
    /// The first damage that a statement met.
    damage: OnceLock<String>,
}

impl Watch {
    /// Remembers which file has the name.
    pub(super) fn of(path: &Path) -> Result<Self, StoreError> {
        let found = std::fs::metadata(path)
            .map_err(|error| StoreError::CannotOpen { path: path.to_path_buf(), detail: error.to_string() })?;
        let (device, inode) = (found.dev(), found.ino());
        Ok(Self(Arc::new(Watched { path: path.to_path_buf(), device, inode, damage: OnceLock::new() })))
    }

    /// Remembers damage that a statement met.
    pub(super) fn damaged(&self, detail: &str) {
        let _ = self.0.damage.set(detail.to_owned());
    }

    /// # Errors
    /// The file was moved, removed, replaced or emptied, or a statement met damage.
    pub(super) fn check(&self) -> Result<(), StoreError> {
        let Watched { path, device, inode, damage } = &*self.0;
        let lost = |detail: &'static str| Err(StoreError::Lost { path: path.clone(), detail });
        let met = || {
            damage
                .get()
                .map_or(Ok(()), |detail| Err(StoreError::Corrupt { path: path.clone(), detail: detail.clone() }))
        };
        match std::fs::metadata(path) {
            // Anything but a missing name says nothing of the file.
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => lost("it was moved or removed"),
            Err(_) => met(),
            Ok(found) if (found.dev(), found.ino()) != (*device, *inode) => lost("another file has taken its place"),
            Ok(found) if found.len() == 0 => lost("it was emptied"),
            Ok(_) => met(),
        }
    }
}
