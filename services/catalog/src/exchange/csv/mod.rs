//! CSV: one header line, units in the column names, the same names as the fields of the public API.
//!
//! Read are commas, semicolons and tabs, with or without a byte order mark, any line end, quoted cells. Where the separator is
//! not a comma, numbers may have a decimal comma. Blanks around a cell do not count. A figure that a cell leaves out is
//! not given, and stays so. A column that is of no known field is left aside and named. A figure of a sensor or a target may have its spread and its source behind it, such as
//! `14 ±1 measured`; without a source it is stated. Written are commas and decimal points, and what is written reads back to
//! the same records, but for blanks around a text. A text that a spreadsheet would compute stands behind an apostrophe.

pub(crate) mod cells;
pub(crate) mod column;
pub(crate) mod fields;
pub(crate) mod form;
mod formula;
pub(crate) mod layout;
pub(crate) mod records;
pub(crate) mod row;
pub(crate) mod table;

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use self::table::Table;
use super::{Parsed, Take};

pub use self::cells::Cells;
pub use self::column::Column;
pub use self::formula::guarded;

/// A record that has a CSV form: one row a record, or several for a record with a list in it.
pub trait CsvRecord: form::Form {}

impl<R: form::Form> CsvRecord for R {}

/// Every column, in the order of the writer.
#[must_use]
pub fn columns<R: CsvRecord>() -> Vec<Column> {
    R::columns()
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
    let table = Table::open(bytes, R::columns(), defaults, &mut faults);
    let refused = !faults.is_empty();
    let (table, unused) = table.unzip();
    let unused = unused.unwrap_or_default();
    if refused || !unused.is_empty() {
        take(Parsed { faults, unused, ..Parsed::default() })?;
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
    let names: Vec<_> = R::columns().iter().map(|column| column.name.to_owned()).collect();
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
    let names: Vec<_> = R::columns().iter().map(|column| column.name.to_owned()).collect();
    let examples: Vec<_> = R::columns().iter().map(|column| column.example.to_owned()).collect();
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

#[cfg(test)]
mod tests;
#[cfg(test)]
mod words;
