//! Records from and to files: CSV and GPX waypoints both ways, GeoJSON and spreadsheets outwards.
//!
//! Reading never stops at the first fault: every fault of a file comes back with its line and column.

pub mod csv;
pub mod geojson;
pub mod gpx;
pub(crate) mod scale;
pub mod xlsx;

/// One fault of one row of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Line of the file, 1 is the first line.
    pub line: u32,
    /// Column by its header, or a path in the record; empty for the row as a whole.
    pub column: String,
    /// What was given, what is accepted, what to do.
    pub message: String,
    /// The id of the record, if it could be read.
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
}
