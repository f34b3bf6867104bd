//! Spreadsheets (Office Open XML): findings of a run, written only, and records of a kind, both ways.
//!
//! The header row stays in sight and says the units; figures are numbers, so that they can be sorted and charted; what
//! the figures lean on has a sheet of its own. The same data give the same bytes.

mod findings;
mod read;
mod records;
mod sheet;

use std::fs::File;
use std::io::{BufWriter, Seek as _};

use jiff::Timestamp;
use rust_xlsxwriter::Workbook;

pub use self::findings::FindingsBook;
pub use self::read::{Unreadable, read};
pub use self::records::RecordsBook;

/// Rows that a sheet can hold under its header.
pub const MOST_ROWS: u32 = 1_048_575;

/// Why a file cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum XlsxError {
    /// More rows than a sheet can hold.
    #[error("there are more than {MOST_ROWS} rows, which one sheet cannot hold; export fewer, or another format")]
    TooManyRows,
    /// The writer failed.
    #[error("the spreadsheet cannot be written: {0}")]
    Writer(#[from] rust_xlsxwriter::XlsxError),
    /// The disk failed.
    #[error("the spreadsheet cannot be written: {0}")]
    File(#[from] std::io::Error),
}

/// A book as a file without a name: a large one would take hundreds of megabytes in memory.
fn written(book: &mut Workbook) -> Result<File, XlsxError> {
    let mut file = tempfile::tempfile()?;
    book.save_to_writer(BufWriter::new(&mut file))?;
    file.rewind()?;
    Ok(file)
}

/// The years 1900 to 9999, all that the format can name.
const FORMAT_SECONDS: std::ops::RangeInclusive<i64> = -2_208_988_800..=253_402_300_799;

/// The moment that a file says it was made at; where a clock is set wrong, the nearest that the format can name.
fn made_at(at: Timestamp) -> Result<rust_xlsxwriter::ExcelDateTime, XlsxError> {
    let seconds = at.as_second().clamp(*FORMAT_SECONDS.start(), *FORMAT_SECONDS.end());
    Ok(rust_xlsxwriter::ExcelDateTime::from_timestamp(seconds)?)
}
