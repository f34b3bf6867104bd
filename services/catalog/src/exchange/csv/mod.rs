//! CSV: one header line, units in the column names, the same names as the fields of the public API.
//!
//! Read are commas, semicolons and tabs, with or without a byte order mark, any line end, quoted cells. Where the separator is
//! not a comma, numbers may have a decimal comma. Blanks around a cell do not count. Figures that a cell leaves out
//! take the default of the public API. Written are commas and decimal points, and what is written reads back to the
//! same records, but for blanks around a text. A text that a spreadsheet would compute stands behind an apostrophe.

pub(crate) mod booking;
pub(crate) mod column;
mod formula;
pub(crate) mod option;
mod provenance;
pub(crate) mod row;
mod sensor;
mod shelter;
pub(crate) mod spot;
mod survey;
pub(crate) mod table;
pub(crate) mod target;
pub(crate) mod unit;

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use domain::{Fault, Id, notation};
use rayon::prelude::*;

use self::row::Row;
use self::table::Table;
use super::{Ids, PART_ROWS, Parsed, Take};

pub use self::column::Column;

/// Rows that are in hand at once.
const ROWS_AT_ONCE: usize = 500;
/// Fewer rows are not worth the way to another thread.
const ROWS_A_THREAD: usize = 50;

/// A record that has a CSV form: one row a record, or several for a sensor with several options.
pub trait CsvRecord: Sized + form::Form {
    /// Every column, in the order of the writer.
    fn columns() -> &'static [Column] {
        Self::COLUMNS
    }
}

impl<R: form::Form> CsvRecord for R {}

/// What a record's own module provides; sealed.
pub(crate) mod form {
    use std::ops::ControlFlow;

    use super::{Cells, Column, Table, Take};

    /// A record as rows of a file.
    pub trait Form: Sized + Send {
        /// Every column, in the order of the writer.
        #[doc(hidden)]
        const COLUMNS: &'static [Column];
        /// Reads every row.
        #[doc(hidden)]
        fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()>;
        /// Writes the rows of one record.
        #[doc(hidden)]
        fn write(&self, rows: &mut Vec<Cells>);
    }
}

/// Reads a file; `defaults` are cells of columns that the file lacks. Every record that comes back has passed its check.
#[must_use]
pub fn read<R: CsvRecord>(bytes: &[u8], defaults: &BTreeMap<String, String>) -> Parsed<R> {
    let mut parsed = Parsed::default();
    let _ = read_parts(bytes, defaults, &mut |part| {
        parsed.append(part);
        ControlFlow::Continue(())
    });
    parsed
}

/// Reads a file part by part, so that a long one is never held as records all at once. As for the rest like [`read`].
pub fn read_parts<R: CsvRecord>(
    bytes: &[u8],
    defaults: &BTreeMap<String, String>,
    take: &mut Take<'_, R>,
) -> ControlFlow<()> {
    let mut faults = Vec::new();
    let table = Table::open(bytes, R::COLUMNS, defaults, &mut faults);
    let refused = !faults.is_empty();
    if refused {
        take(Parsed { faults, ..Parsed::default() })?;
    }
    let Some(table) = table else { return ControlFlow::Continue(()) };
    R::read(table, &mut |mut part| {
        if refused {
            // Rows under a header that is not understood are looked at for their faults, but not to be stored.
            part.records.clear();
        }
        part.faults.sort_by_key(|fault| fault.line);
        take(part)
    })
}

/// The header line.
#[must_use]
pub fn header<R: CsvRecord>() -> Vec<u8> {
    let names: Vec<_> = R::COLUMNS.iter().map(|column| column.name.to_owned()).collect();
    lines(&[names])
}

/// The lines of some records, to follow the header.
#[must_use]
pub fn rows<R: CsvRecord>(records: &[R]) -> Vec<u8> {
    let mut rows = Vec::with_capacity(records.len());
    for record in records {
        record.write(&mut rows);
    }
    let rows: Vec<_> = rows.iter().map(Cells::guarded).collect();
    lines(&rows)
}

/// The header and an example line, to be filled in.
#[must_use]
pub fn template<R: CsvRecord>() -> String {
    let names: Vec<_> = R::COLUMNS.iter().map(|column| column.name.to_owned()).collect();
    let examples: Vec<_> = R::COLUMNS.iter().map(|column| column.example.to_owned()).collect();
    String::from_utf8_lossy(&lines(&[names, examples])).into_owned()
}

fn lines(rows: &[Vec<String>]) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        // Writing to memory has no way to fail.
        let _ = writer.write_record(row);
    }
    writer.into_inner().unwrap_or_default()
}

/// What a cell holds.
pub(crate) enum CellValue<'c> {
    Empty,
    Number(f64),
    Text(&'c str),
}

/// The cells of one row to be written.
pub struct Cells {
    columns: &'static [Column],
    cells: Vec<String>,
}

impl Cells {
    /// A row of empty cells.
    fn new(columns: &'static [Column]) -> Self {
        Self { columns, cells: vec![String::new(); columns.len()] }
    }

    /// The cell of a column; empty where there is none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.iter().find(|(name, _)| *name == column).map_or("", |(_, cell)| cell)
    }

    /// Every cell with the name of its column.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (&'static str, &str)> {
        self.columns.iter().map(|column| column.name).zip(self.cells.iter().map(String::as_str))
    }

    /// Every cell as it goes to a file that a spreadsheet may open.
    fn guarded(&self) -> Vec<String> {
        let cells = self.columns.iter().zip(&self.cells);
        cells
            .map(|(column, cell)| if column.figure { cell.clone() } else { formula::guarded(cell).into_owned() })
            .collect()
    }

    /// Every cell with its column, figures as numbers.
    pub(crate) fn values(&self) -> impl Iterator<Item = (&'static Column, CellValue<'_>)> {
        self.columns.iter().zip(&self.cells).map(move |(column, cell)| {
            if cell.is_empty() {
                return (column, CellValue::Empty);
            }
            let number = if column.figure { cell.parse().ok() } else { None };
            (column, number.map_or(CellValue::Text(cell), CellValue::Number))
        })
    }

    /// Fills a cell with text.
    fn set(&mut self, column: &str, text: impl Into<String>) {
        let at = self.columns.iter().position(|known| known.name == column);
        debug_assert!(at.is_some(), "no column {column}");
        if let Some(cell) = at.and_then(|at| self.cells.get_mut(at)) {
            *cell = text.into();
        }
    }

    /// Fills a cell with a figure given in the canonical unit.
    fn set_number(&mut self, column: &str, canonical: f64) {
        if let Some(known) = self.columns.iter().find(|known| known.name == column) {
            self.set(column, notation::number(known.scale.from_si(canonical)));
        }
    }

    /// Fills a cell with the name of a choice.
    fn set_choice<T: PartialEq>(&mut self, column: &str, value: &T, choices: &[(&str, T)]) {
        if let Some((name, _)) = choices.iter().find(|(_, known)| known == value) {
            self.set(column, *name);
        }
    }
}

/// Reads rows of which each is a record. To split a file into rows is for one thread; what a row says is for as many as there are.
fn read_each<R: Send>(
    mut rows: impl Iterator<Item = Row>,
    read: impl Fn(&mut Row) -> Option<R> + Sync,
    id: impl Fn(&R) -> &Id,
    check: impl Fn(&R) -> Vec<Fault> + Sync,
    column_of: impl Fn(&str) -> &'static str + Copy + Sync,
    take: &mut Take<'_, R>,
) -> ControlFlow<()> {
    let understood = |row: &mut Row| {
        let record = read(row);
        if let Some(record) = &record {
            row.judge(check(record), column_of);
        }
        record
    };
    let empty = || Parsed { checked: true, ..Parsed::default() };
    let mut part = empty();
    let mut ids = Ids::default();
    let mut batch = Vec::with_capacity(ROWS_AT_ONCE);
    let mut records = Vec::with_capacity(ROWS_AT_ONCE);
    loop {
        batch.extend(rows.by_ref().take(ROWS_AT_ONCE));
        if batch.is_empty() {
            return take(part);
        }
        batch.par_iter_mut().with_min_len(ROWS_A_THREAD).map(understood).collect_into_vec(&mut records);
        for (mut row, record) in batch.drain(..).zip(records.drain(..)) {
            if part.records.len() + part.faults.len() >= PART_ROWS {
                take(std::mem::replace(&mut part, empty()))?;
            }
            part.rows_read += 1;
            if let Some(record) = record {
                if row.text("id") == id(&record).as_str()
                    && let Some(first) = ids.note(id(&record), row.line(), true)
                {
                    row.refuse_twice("id", first);
                }
                if row.is_sound() {
                    part.records.push((row.line(), record));
                    continue;
                }
            }
            part.faults.append(&mut row.into_faults());
        }
    }
}

/// The column of a field of the public API: `canopy.height_m` stands in `canopy_height_m`, `relief[0].offset_m` in `relief`.
/// Where a record has an entry of its own for a field, `own` says so.
fn column_of(columns: &'static [Column], own: &[(&str, &'static str)], field: &str) -> &'static str {
    if let Some((_, column)) = own.iter().find(|(path, _)| field.starts_with(path)) {
        return column;
    }
    let known = |name: &str| columns.iter().find(|column| column.name == name).map(|column| column.name);
    let first = field.split(['[', '.']).next().unwrap_or_default();
    let last = field.rsplit('.').next().unwrap_or_default();
    known(&field.replace('.', "_")).or_else(|| known(first)).or_else(|| known(last)).unwrap_or("")
}

#[cfg(test)]
mod tests;
