//! Files in the making: written beside their place, and moved there once they are whole and on the disk.

use std::cell::Cell;
use std::fs::{File, TryLockError};
use std::io;
use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, Mode, OFlags, RenameFlags, renameat_with};
use rustix::io::Errno;

use crate::error::StoreError;

/// Ends the name of a file in the making; no other program is likely to use it.
const ENDING: &str = ".lakebeam-partial";
/// What SQLite keeps beside a database while it is open, or after a crash.
pub(super) const COMPANIONS: [&str; 3] = ["-wal", "-shm", "-journal"];

/// A file in the making. One process at a time makes it; dropped before it is placed, it is removed.
#[derive(Debug)]
pub(super) struct Partial {
    file: File,
    path: PathBuf,
    target: PathBuf,
    /// Another process may have begun a file of the same name since.
    placed: Cell<bool>,
}

impl Partial {
    /// Begins the file that becomes `target`: empty, readable by its owner alone. What a killed process left behind is emptied.
    ///
    /// # Errors
    /// Another process makes this file at the moment, or the folder may not be written.
    pub(super) fn begin(target: &Path) -> Result<Self, StoreError> {
        let path = beside(target, ENDING);
        let fail = |error: &io::Error| unwritable(target, error);
        loop {
            let flags = OFlags::RDWR | OFlags::CREATE | OFlags::NOFOLLOW | OFlags::CLOEXEC;
            let opened = rustix::fs::open(&path, flags, Mode::RUSR | Mode::WUSR);
            let file = File::from(opened.map_err(|error| fail(&error.into()))?);
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => return Err(StoreError::UnderWay { path: target.to_path_buf() }),
                Err(TryLockError::Error(error)) => return Err(fail(&error)),
            }
            let held = file.metadata().map_err(|error| fail(&error))?;
            // Placed or removed by the process that had the lock before.
            let current = std::fs::metadata(&path).is_ok_and(|found| found.ino() == held.ino());
            if !current {
                continue;
            }
            // A second name of a finished file: it must not be emptied.
            if held.nlink() > 1 {
                std::fs::remove_file(&path).map_err(|error| fail(&error))?;
                continue;
            }
            for companion in COMPANIONS {
                remove(&beside(&path, companion)).map_err(|error| fail(&error))?;
            }
            file.set_len(0).map_err(|error| fail(&error))?;
            return Ok(Self { file, path, target: target.to_path_buf(), placed: Cell::new(false) });
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Presses the file to the disk and gives it its name, which no other file has.
    pub(super) fn place(self) -> io::Result<()> {
        self.place_as(&self.target)
    }

    /// Gives it its name in place of what has that name, without waiting for the disk: for what is worth nothing but time.
    pub(super) fn replace(self) -> io::Result<()> {
        std::fs::rename(&self.path, &self.target)?;
        self.placed.set(true);
        Ok(())
    }

    /// The file itself.
    pub(super) fn file(&self) -> &File {
        &self.file
    }

    /// The same under another name.
    pub(super) fn place_as(&self, name: &Path) -> io::Result<()> {
        self.file.sync_all()?;
        rename_new(&self.path, name)?;
        self.placed.set(true);
        sync_folder(name)
    }
}

impl Drop for Partial {
    fn drop(&mut self) {
        if self.placed.get() {
            return;
        }
        // The lock is still held.
        let _ = remove(&self.path);
        for companion in COMPANIONS {
            let _ = remove(&beside(&self.path, companion));
        }
    }
}

/// Renames a file to a name that no other file has, in one step of the file system.
pub(super) fn rename_new(from: &Path, to: &Path) -> io::Result<()> {
    match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
        Err(error) if is_unsupported(error) => {
            // A second name is refused where there is a file, too.
            std::fs::hard_link(from, to)?;
            std::fs::remove_file(from)
        }
        done => Ok(done?),
    }
}

/// Swaps two files in one step, so that neither name is ever without a file.
pub(super) fn exchange(one: &Path, other: &Path) -> Result<(), Errno> {
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)
}

/// Whether a file system lacks an operation, as some network file systems do.
pub(super) fn is_unsupported(error: Errno) -> bool {
    error == Errno::INVAL || error == Errno::NOSYS || error == Errno::NOTSUP || error == Errno::OPNOTSUPP
}

/// Presses a changed name to the disk.
pub(super) fn sync_folder(of: &Path) -> io::Result<()> {
    let folder = of.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}

fn remove(path: &Path) -> io::Result<()> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// The path with an ending after its last name.
pub(super) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Sorts what the file system said.
pub(super) fn unwritable(path: &Path, error: &io::Error) -> StoreError {
    let path = path.to_path_buf();
    match error.kind() {
        io::ErrorKind::StorageFull => StoreError::DiskFull { path },
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => StoreError::ReadOnly { path },
        io::ErrorKind::AlreadyExists => {
            StoreError::FileExists { path, advice: "it has appeared meanwhile and stays; name a new file" }
        }
        io::ErrorKind::NotFound => {
            let detail = format!("{error}; check that the folder exists and may be written");
            StoreError::CannotOpen { path, detail }
        }
        _ => StoreError::CannotOpen { path, detail: error.to_string() },
    }
}
