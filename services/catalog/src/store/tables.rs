//! A file beside the database with what takes long to work out and can be worked out again: records of one length, of which this crate knows nothing but that.
//!
//! It is never needed. A record counts if its check sum holds, so that a process killed in the middle of a write, a machine that loses its power and a file
//! that somebody else made cost the time of working it out again and nothing else. Records are added at the end in batches; once there are twice as many as are
//! kept, the newest are written to a new file that takes the place of the old one. Several processes may use one file: who writes holds its lock, and who
//! finds it taken writes later.

use std::collections::HashSet;
use std::fs::{File, TryLockError};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};

use rustix::fs::{Mode, OFlags};

use super::partial::{Partial, beside};
use crate::error::StoreError;

/// Ends the name of the file.
const ENDING: &str = "-tables";
/// How a file of ours begins: a name, the model of the records, and their length.
const NAME: [u8; 16] = *b"lakebeam tables\n";
const HEADER_BYTES: usize = NAME.len() + 8 + 8;
const SUM_BYTES: usize = 8;

/// Where such records lie, and which.
#[derive(Debug, Clone)]
pub struct TableFile {
    path: PathBuf,
    /// What made them: records of another model are not read.
    model: u64,
    /// Length of one.
    bytes: usize,
    /// How many are kept; in the file are at most twice as many.
    most: usize,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundTables {
    /// Sound records, one after the other.
    pub records: Vec<u8>,
    /// What was left aside.
    pub aside: Aside,
}

/// What of a file was left aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aside {
    /// Nothing; or there is no file.
    Nothing,
    /// Records that were damaged or not written to their end.
    Damaged,
    /// All of it: another model made it.
    OtherModel,
    /// All of it: it is no file of ours.
    Foreign,
}

impl TableFile {
    /// The file beside a database for records of a length that a model made.
    #[must_use]
    pub fn beside(database: &Path, model: u64, bytes: usize, most: usize) -> Self {
        Self { path: beside(database, ENDING), model, bytes, most }
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Reads what there is: the newest records, at most as many as are kept.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn read(&self) -> io::Result<FoundTables> {
        match self.open(OFlags::RDONLY) {
            Ok(mut file) => self.read_from(&mut file),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                Ok(FoundTables { records: Vec::new(), aside: Aside::Nothing })
            }
            Err(error) => Err(error),
        }
    }

    /// Adds records, one after the other; a file that cannot be read on is replaced. False if another process is writing to it: nothing is added then.
    ///
    /// # Errors
    /// The file cannot be written; what it held before is still read.
    pub fn add(&self, records: &[u8]) -> io::Result<bool> {
        let mut file = match self.open(OFlags::RDWR | OFlags::APPEND) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return self.rewrite(records),
            // A folder or a link cannot be written to, and a folder cannot be replaced either: the error is told then.
            Err(_) => return self.rewrite(records),
        };
        if !self.locked(&file)? {
            return Ok(false);
        }
        let held = usize::try_from(file.metadata()?.len()).unwrap_or(usize::MAX);
        let ours = self.header(&mut file)?.is_some_and(|header| header == self.own_header());
        let added = records.len() / self.bytes.max(1);
        let there = held.saturating_sub(HEADER_BYTES) / self.slot();
        if !ours || there + added > 2 * self.most {
            let mut newest = if ours { self.read_from(&mut file)?.records } else { Vec::new() };
            newest.extend_from_slice(records);
            return self.rewrite(&newest);
        }
        // What a killed process left at the end is no whole record.
        let whole = HEADER_BYTES + there * self.slot();
        if whole < held {
            file.set_len(u64::try_from(whole).unwrap_or(u64::MAX))?;
        }
        file.write_all(&self.slots(records))?;
        Ok(true)
    }

    /// Writes a new file with the newest of some records, each once.
    fn rewrite(&self, records: &[u8]) -> io::Result<bool> {
        let partial = match Partial::begin(&self.path) {
            Ok(partial) => partial,
            Err(StoreError::UnderWay { .. }) => return Ok(false),
            Err(error) => return Err(io::Error::other(error)),
        };
        let mut seen = HashSet::new();
        let mut newest: Vec<&[u8]> =
            records.chunks_exact(self.bytes).rev().filter(|record| seen.insert(*record)).take(self.most).collect();
        newest.reverse();
        let mut all = self.own_header().to_vec();
        all.extend(newest.iter().flat_map(|record| self.slots(record)));
        let mut file = partial.file();
        file.write_all(&all)?;
        partial.replace()?;
        Ok(true)
    }

    /// Opens the file itself, through no link, and waits for nobody.
    fn open(&self, flags: OFlags) -> io::Result<File> {
        let flags = flags | OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let file = File::from(rustix::fs::open(&self.path, flags, Mode::empty())?);
        if file.metadata()?.is_file() { Ok(file) } else { Err(io::Error::other("it is no file")) }
    }

    /// Locks a file that still has its name.
    fn locked(&self, file: &File) -> io::Result<bool> {
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(false),
            Err(TryLockError::Error(error)) => return Err(error),
        }
        let held = file.metadata()?.ino();
        Ok(std::fs::symlink_metadata(&self.path).is_ok_and(|found| found.ino() == held))
    }

    fn read_from(&self, file: &mut File) -> io::Result<FoundTables> {
        let nothing = |aside| Ok(FoundTables { records: Vec::new(), aside });
        let own = self.own_header();
        match self.header(file)? {
            Some(header) if header == own => {}
            Some(header) if header.starts_with(&NAME) => return nothing(Aside::OtherModel),
            Some(_) | None => return nothing(Aside::Foreign),
        }
        let mut slots = Vec::new();
        let most = u64::try_from(2 * self.most * self.slot()).unwrap_or(u64::MAX);
        file.take(most).read_to_end(&mut slots)?;
        let mut sound: Vec<&[u8]> = slots.chunks_exact(self.slot()).filter_map(|slot| self.record(slot)).collect();
        let aside = if sound.len() * self.slot() == slots.len() { Aside::Nothing } else { Aside::Damaged };
        let newest = sound.split_off(sound.len().saturating_sub(self.most));
        Ok(FoundTables { records: newest.concat(), aside })
    }

    /// The head of a file, read from its beginning; none if it is shorter.
    fn header(&self, file: &mut File) -> io::Result<Option<[u8; HEADER_BYTES]>> {
        let mut header = [0; HEADER_BYTES];
        file.seek(SeekFrom::Start(0))?;
        match file.read_exact(&mut header) {
            Ok(()) => Ok(Some(header)),
            Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn own_header(&self) -> [u8; HEADER_BYTES] {
        let length = u64::try_from(self.bytes).unwrap_or(u64::MAX);
        let all = NAME.into_iter().chain(self.model.to_le_bytes()).chain(length.to_le_bytes());
        let mut header = [0; HEADER_BYTES];
        header.iter_mut().zip(all).for_each(|(slot, byte)| *slot = byte);
        header
    }

    /// Length of a record with its check sum.
    fn slot(&self) -> usize {
        self.bytes + SUM_BYTES
    }

    /// Records with their check sums.
    fn slots(&self, records: &[u8]) -> Vec<u8> {
        records.chunks_exact(self.bytes).flat_map(|record| [record, &sum(record)].concat()).collect()
    }

    /// The record of a slot, if it is sound.
    fn record<'a>(&self, slot: &'a [u8]) -> Option<&'a [u8]> {
        let (record, found) = slot.split_at_checked(self.bytes)?;
        (sum(record) == found).then_some(record)
    }
}

fn sum(record: &[u8]) -> [u8; SUM_BYTES] {
    let mut sum = [0; SUM_BYTES];
    blake3::Hasher::new().update(record).finalize_xof().fill(&mut sum);
    sum
}
