//! Records from and to files: CSV and GPX waypoints both ways, GeoJSON and spreadsheets outwards.
//!
//! Reading never stops at the first fault: every fault of a file comes back with its line and column.

pub mod csv;
pub mod geojson;
pub mod gpx;
pub mod xlsx;

use std::collections::HashMap;
use std::ops::ControlFlow;

use domain::Id;

/// Rows of one part of a file that is read in parts.
pub const PART_ROWS: usize = 1_000;

/// Takes what is read of a file, part by part in the order of its lines. It breaks where no more is wanted.
pub type Take<'t, R> = dyn FnMut(Parsed<R>) -> ControlFlow<()> + 't;

/// One fault of one row of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Line of the file, 1 is the first line.
    pub line: u32,
    /// Column by its header, or a path in the record; empty for the row as a whole.
    pub column: String,
    /// What was given, what is accepted, what to do.
    pub message: String,
    /// The id of the record as the file gives it, cut to 60 characters; empty where it gives none.
    pub id: String,
}

/// What was read from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed<R> {
    /// Rows read, header not counted.
    pub rows_read: u32,
    /// The sound records, each with the line that it starts on. Each has passed its own check.
    pub records: Vec<(u32, R)>,
    /// Every fault, by line.
    pub faults: Vec<RowFault>,
    /// Whether the reader has checked each record and seen to it that no id stands twice in the file, so that storing need not.
    pub checked: bool,
    /// Columns that are of no known field and were left aside, by their names in the file.
    pub unused: Vec<String>,
}

impl<R> Default for Parsed<R> {
    fn default() -> Self {
        Self { rows_read: 0, records: Vec::new(), faults: Vec::new(), checked: false, unused: Vec::new() }
    }
}

impl<R> Parsed<R> {
    /// Joins a part to those before it.
    pub fn append(&mut self, part: Self) {
        self.rows_read = self.rows_read.saturating_add(part.rows_read);
        self.records.extend(part.records);
        self.faults.extend(part.faults);
        self.unused.extend(part.unused);
    }
}

/// The ids of a file as far as it has been read: every record needs one of its own.
#[derive(Debug, Default)]
pub(crate) struct Ids {
    lines: HashMap<Id, u32, ahash::RandomState>,
}

impl Ids {
    /// Answers the line of an earlier record that has the id already. If there is none, the id is noted, if it is to be.
    pub(crate) fn note(&mut self, id: &Id, line: u32, keep: bool) -> Option<u32> {
        let first = self.lines.get(id).copied();
        if keep && first.is_none() {
            self.lines.insert(id.clone(), line);
        }
        first
    }
}

/// How many lines end in a stretch of a file, as people count them: by a line feed, a carriage return, or both.
pub(crate) fn line_ends(bytes: &[u8]) -> usize {
    let feeds = bytes.iter().filter(|byte| **byte == b'\n').count();
    let returns = bytes.iter().filter(|byte| **byte == b'\r').count();
    let both = bytes.windows(2).filter(|pair| *pair == b"\r\n").count();
    feeds + returns - both
}
