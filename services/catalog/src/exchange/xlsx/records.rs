//! Records of a kind, one row each as in CSV.

use jiff::Timestamp;
use rust_xlsxwriter::{DocProperties, Workbook};

use super::sheet::Sheet;
use super::{XlsxError, made_at};
use crate::exchange::csv::{CellValue, CsvRecord};

/// A file of records; `at` is the moment that it says it was made at.
///
/// # Errors
/// There are more rows than a sheet can hold.
pub fn records<R: CsvRecord>(name: &str, records: &[R], at: Timestamp) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    book.set_properties(&DocProperties::new().set_title(name).set_creation_datetime(&made_at(at)?));
    let headers: Vec<_> = R::columns().iter().map(|column| column.name.to_owned()).collect();
    let mut sheet = Sheet::new(name, &headers, 1)?;
    let mut rows = Vec::new();
    for record in records {
        rows.clear();
        record.write(&mut rows);
        for cells in &rows {
            let row = sheet.next_row()?;
            for (at, (_, value)) in (0_u16..).zip(cells.values()) {
                match value {
                    CellValue::Empty => {}
                    CellValue::Number(number) => sheet.number(row, at, number)?,
                    CellValue::Text(text) => sheet.text(row, at, text)?,
                }
            }
        }
    }
    sheet.finish(&mut book)?;
    let mut notes = Sheet::new("columns", &["column", "unit", "needed", "accepts"].map(str::to_owned), 0)?;
    for column in R::columns() {
        let row = notes.next_row()?;
        let needed = if column.required { "yes" } else { "" };
        for (at, text) in (0_u16..).zip([column.name, column.unit, needed, column.accepts]) {
            notes.text(row, at, text)?;
        }
    }
    notes.finish(&mut book)?;
    Ok(book.save_to_buffer()?)
}
