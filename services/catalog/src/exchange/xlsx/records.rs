//! Records of a kind, one row each as in CSV.

use std::fs::File;
use std::marker::PhantomData;

use jiff::Timestamp;
use rust_xlsxwriter::{DocProperties, Workbook};

use super::sheet::Sheet;
use super::{XlsxError, made_at, written};
use crate::exchange::csv::CsvRecord;
use crate::exchange::csv::cells::CellValue;

/// A file of records under construction.
pub struct RecordsBook<R> {
    book: Workbook,
    sheet: Sheet,
    records: PhantomData<fn(&R)>,
}

impl<R: CsvRecord> RecordsBook<R> {
    /// An empty file; `at` is the moment that it says it was made at.
    ///
    /// # Errors
    /// The writer fails.
    pub fn new(name: &str, at: Timestamp) -> Result<Self, XlsxError> {
        let mut book = Workbook::new();
        book.set_properties(&DocProperties::new().set_title(name).set_creation_datetime(&made_at(at)?));
        let headers: Vec<_> = R::columns().iter().map(|column| column.name.to_owned()).collect();
        let sheet = Sheet::new(&mut book, name, &headers, 1)?;
        Ok(Self { book, sheet, records: PhantomData })
    }

    /// Adds records.
    ///
    /// # Errors
    /// There are more rows than a sheet can hold.
    pub fn add(&mut self, records: &[R]) -> Result<(), XlsxError> {
        let Self { book, sheet, .. } = self;
        let mut rows = Vec::new();
        for record in records {
            rows.clear();
            record.write(&mut rows);
            for cells in &rows {
                let row = sheet.next_row()?;
                for (at, (_, value)) in (0_u16..).zip(cells.values()) {
                    match value {
                        CellValue::Empty => {}
                        CellValue::Number(number) => sheet.number(book, row, at, number)?,
                        CellValue::Text(text) => sheet.text(book, row, at, text)?,
                    }
                }
            }
        }
        Ok(())
    }

    /// The file, without a name, to be read from its beginning; it is gone once it is dropped.
    ///
    /// # Errors
    /// The writer or the disk fails.
    pub fn finish(self) -> Result<File, XlsxError> {
        let Self { mut book, sheet, .. } = self;
        sheet.finish(&mut book)?;
        let headers = ["column", "unit", "needed", "accepts"].map(str::to_owned);
        let mut notes = Sheet::new(&mut book, "columns", &headers, 0)?;
        for column in R::columns() {
            let row = notes.next_row()?;
            let needed = if column.required { "yes" } else { "" };
            for (at, text) in (0_u16..).zip([column.name, column.unit, needed, &column.accepts]) {
                notes.text(&mut book, row, at, text)?;
            }
        }
        notes.finish(&mut book)?;
        written(&mut book)
    }
}
