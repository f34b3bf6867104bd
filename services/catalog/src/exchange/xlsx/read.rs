//! The first sheet of a spreadsheet as the text of a CSV file, so that one reader knows the columns of both.

use std::io::{Cursor, Read as _};

use calamine::{DataRef, Reader as _, Xlsx};

/// Why a spreadsheet cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    /// It is another kind of file, or damaged.
    #[error(
        "this is no spreadsheet of the form .xlsx ({0}); accepted: a workbook saved as .xlsx, or CSV; save it again"
    )]
    Form(String),
    /// A workbook of charts alone.
    #[error(
        "the workbook has no sheet; accepted: the records in the first sheet, the names of the columns in its first row"
    )]
    NoSheet,
    /// More than the service unpacks.
    #[error("the spreadsheet takes more than 256 MiB unpacked; split it, or save it as CSV")]
    TooLarge,
    /// A cell far below all others.
    #[error("the first sheet has a cell in row {row}, far below all others; delete what does not belong to the table")]
    Scattered {
        /// Row of the sheet, 1 is the first.
        row: u32,
    },
}

/// Bytes that a spreadsheet may take unpacked; a few kilobytes can say gigabytes.
const MOST_UNPACKED: u64 = 256 * 1024 * 1024;
/// Cells of a row that are looked at, and empty rows in the middle of a sheet: a cell far out makes no empty text without end.
const MOST_COLUMNS: u32 = 1_000;
const MOST_EMPTY_ROWS: u32 = 10_000;

/// The first sheet, a line a row: line 7 of the text is row 7 of the sheet, which is why a line end inside a cell becomes a blank.
/// Days are written year first, numbers with a decimal point, and of a formula the figure that the sheet last showed.
///
/// # Errors
/// It is no spreadsheet of this form, has no sheet, or is too large to be unpacked.
pub fn read(bytes: &[u8]) -> Result<Vec<u8>, Unreadable> {
    bounded(bytes, MOST_UNPACKED)?;
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|error| unreadable(&error))?;
    let name = book.sheet_names().first().cloned().ok_or(Unreadable::NoSheet)?;
    let mut cells = book.worksheet_cells_reader(&name).map_err(|error| unreadable(&error))?;
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    let mut row = Row::default();
    while let Some(cell) = cells.next_cell().map_err(|error| unreadable(&error))? {
        let (at, column) = cell.get_position();
        while row.number < at {
            row.write(&mut writer)?;
            if at.saturating_sub(row.number) > MOST_EMPTY_ROWS {
                return Err(Unreadable::Scattered { row: at.saturating_add(1) });
            }
        }
        if column < MOST_COLUMNS {
            row.put(column, text(cell.get_value()));
        }
    }
    row.write(&mut writer)?;
    writer.into_inner().map_err(|error| unreadable(error.error()))
}

/// Unpacks every part without keeping it: what a packed file says of its size may be a lie.
fn bounded(bytes: &[u8], most: u64) -> Result<(), Unreadable> {
    let mut parts = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|error| unreadable(&error))?;
    let mut left = most;
    for index in 0..parts.len() {
        let part = parts.by_index(index).map_err(|error| unreadable(&error))?;
        let unpacked = std::io::copy(&mut part.take(left + 1), &mut std::io::sink());
        let unpacked = unpacked.map_err(|error| unreadable(&error))?;
        left = left.checked_sub(unpacked).ok_or(Unreadable::TooLarge)?;
    }
    Ok(())
}

fn unreadable(error: &dyn std::error::Error) -> Unreadable {
    Unreadable::Form(error.to_string())
}

/// One row under way.
#[derive(Default)]
struct Row {
    number: u32,
    /// Cells of the longest row so far: empty ones at the end of another are not in the file.
    width: usize,
    cells: Vec<String>,
}

impl Row {
    fn put(&mut self, column: u32, text: String) {
        let Ok(column) = usize::try_from(column) else { return };
        if self.cells.len() <= column {
            self.cells.resize(column + 1, String::new());
        }
        if let Some(cell) = self.cells.get_mut(column) {
            *cell = text;
        }
    }

    /// Ends the row, and begins the next.
    fn write(&mut self, writer: &mut csv::Writer<Vec<u8>>) -> Result<(), Unreadable> {
        self.width = self.width.max(self.cells.len()).max(1);
        self.cells.resize(self.width, String::new());
        writer.write_record(&self.cells).map_err(|error| unreadable(&error))?;
        self.cells.clear();
        self.number = self.number.saturating_add(1);
        Ok(())
    }
}

fn text(value: &DataRef<'_>) -> String {
    match value {
        DataRef::Empty => String::new(),
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => number.to_string(),
        DataRef::Bool(yes) => yes.to_string(),
        DataRef::String(text) => line(text),
        DataRef::SharedString(text) => line(text),
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => line(text),
        DataRef::Error(error) => error.to_string(),
        DataRef::DateTime(moment) => {
            let (year, month, day, hour, minute, ..) = moment.to_ymd_hms_milli();
            if (hour, minute) == (0, 0) {
                format!("{year:04}-{month:02}-{day:02}")
            } else {
                format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}")
            }
        }
    }
}

fn line(text: &str) -> String {
    text.replace("\r\n", " ").replace(['\r', '\n'], " ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests {
    use std::io::Write as _;

    use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook};

    use super::*;

    fn book(fill: impl FnOnce(&mut rust_xlsxwriter::Worksheet)) -> Vec<u8> {
        let mut book = Workbook::new();
        fill(book.add_worksheet());
        book.save_to_buffer().unwrap()
    }

    #[test]
    fn a_row_of_the_sheet_is_a_line_of_the_text() {
        let bytes = book(|sheet| {
            sheet.write_string(0, 0, "id").unwrap();
            sheet.write_string(0, 2, "notes").unwrap();
            sheet.write_number(3, 0, 12.5).unwrap();
            sheet.write_boolean(3, 1, true).unwrap();
            sheet.write_string(3, 2, "two\nlines, one cell").unwrap();
            sheet.write_formula(4, 0, Formula::new("=6*7").set_result("42")).unwrap();
            let day = ExcelDateTime::from_ymd(2027, 1, 14).unwrap();
            sheet.write_datetime_with_format(4, 1, day, &Format::new().set_num_format("dd.mm.yyyy")).unwrap();
        });
        let text = String::from_utf8(read(&bytes).unwrap()).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines, ["id,,notes", ",,", ",,", "12.5,true,\"two lines, one cell\"", "42,2027-01-14,"]);
    }

    #[test]
    fn what_is_no_spreadsheet_or_lies_about_its_size_is_refused() {
        assert!(matches!(read(b"id,depth_m\n"), Err(Unreadable::Form(_))));
        let mut packed = zip::ZipWriter::new(Cursor::new(Vec::new()));
        packed.start_file("xl/workbook.xml", zip::write::SimpleFileOptions::default()).unwrap();
        packed.write_all(&vec![0_u8; 1024 * 1024 + 1]).unwrap();
        let packed = packed.finish().unwrap().into_inner();
        assert!(packed.len() < 10_000);
        assert!(matches!(bounded(&packed, 1024 * 1024), Err(Unreadable::TooLarge)));
        assert!(bounded(&packed, 1024 * 1024 + 1).is_ok());
    }

    #[test]
    fn a_cell_far_down_or_far_out_makes_no_text_without_end() {
        let down = book(|sheet| {
            sheet.write_string(0, 0, "id").unwrap();
            sheet.write_string(900_000, 0, "far").unwrap();
        });
        assert!(matches!(read(&down), Err(Unreadable::Scattered { row: 900_001 })));
        let out = book(|sheet| {
            sheet.write_string(0, 0, "id").unwrap();
            sheet.write_string(0, 16_000, "far").unwrap();
        });
        assert_eq!(read(&out).unwrap(), b"id\n");
    }
}
