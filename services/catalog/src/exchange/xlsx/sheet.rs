//! A sheet with a header that stays in sight.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Workbook};

use super::{MOST_ROWS, XlsxError};

/// Characters of the narrowest and of the widest column.
const WIDTHS: (usize, usize) = (8, 60);
/// Longest text of a cell, a limit of the format.
const MOST_CHARS: usize = 32_767;

/// A table under construction in a book, whose rows are written in their order and not held.
pub(super) struct Sheet {
    /// Where it stands in its book.
    at: usize,
    widths: Vec<usize>,
    rows: u32,
}

impl Sheet {
    /// An empty table; `frozen` columns on the left stay in sight too.
    pub(super) fn new(book: &mut Workbook, name: &str, headers: &[String], frozen: u16) -> Result<Self, XlsxError> {
        let at = book.worksheets().len();
        let sheet = book.add_worksheet_with_low_memory()?;
        sheet.set_name(name)?;
        let bold = Format::new()
            .set_bold()
            .set_text_wrap()
            .set_align(FormatAlign::Top)
            .set_background_color(Color::RGB(0x00E8_EEF4))
            .set_border_bottom(FormatBorder::Thin);
        for (column, header) in (0_u16..).zip(headers) {
            sheet.write_string_with_format(0, column, header, &bold)?;
        }
        sheet.set_freeze_panes(1, frozen)?;
        sheet.set_repeat_rows(0, 0)?;
        // A header may wrap between its words, so its longest word counts.
        let widths = headers.iter().map(|header| longest(header.split(' '))).collect();
        Ok(Self { at, widths, rows: 0 })
    }

    /// Begins the next row and says its number.
    pub(super) fn next_row(&mut self) -> Result<u32, XlsxError> {
        if self.rows >= MOST_ROWS {
            return Err(XlsxError::TooManyRows);
        }
        self.rows += 1;
        Ok(self.rows)
    }

    pub(super) fn number(&mut self, book: &mut Workbook, row: u32, column: u16, value: f64) -> Result<(), XlsxError> {
        if value.is_finite() {
            book.worksheet_from_index(self.at)?.write_number(row, column, value)?;
            Ok(())
        } else {
            // A sheet has no number for it.
            self.text(book, row, column, if value > 0.0 { "unlimited" } else { "none" })
        }
    }

    pub(super) fn text(&mut self, book: &mut Workbook, row: u32, column: u16, text: &str) -> Result<(), XlsxError> {
        if text.is_empty() {
            return Ok(());
        }
        if let Some(width) = self.widths.get_mut(usize::from(column)) {
            *width = (*width).max(longest(text.lines()));
        }
        let sheet = book.worksheet_from_index(self.at)?;
        if text.chars().count() > MOST_CHARS {
            let cut: String = text.chars().take(MOST_CHARS - 1).chain(['…']).collect();
            sheet.write_string(row, column, cut)?;
        } else {
            sheet.write_string(row, column, text)?;
        }
        Ok(())
    }

    /// Sets the widths and offers filters.
    pub(super) fn finish(self, book: &mut Workbook) -> Result<(), XlsxError> {
        let sheet = book.worksheet_from_index(self.at)?;
        for (column, width) in (0_u16..).zip(&self.widths) {
            let width = u16::try_from((*width).clamp(WIDTHS.0, WIDTHS.1) + 2).unwrap_or(u16::MAX);
            sheet.set_column_width(column, f64::from(width))?;
        }
        if let Some(last) = self.widths.len().checked_sub(1).and_then(|last| u16::try_from(last).ok()) {
            sheet.autofilter(0, 0, self.rows, last)?;
        }
        Ok(())
    }
}

fn longest<'t>(texts: impl Iterator<Item = &'t str>) -> usize {
    texts.map(|text| text.chars().count()).max().unwrap_or(0)
}
