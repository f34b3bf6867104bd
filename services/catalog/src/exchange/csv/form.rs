//! How a record stands in a file; sealed.

use std::ops::ControlFlow;

use domain::Record;

use super::cells::Cells;
use super::column::{Column, columns};
use super::fields::read_each;
use super::table::Table;
use crate::exchange::Take;

/// A record as rows of a file: one row, unless it says otherwise.
pub trait Form: Record {
    /// Every column, in the order of the writer.
    #[must_use]
    fn columns() -> Vec<Column> {
        columns(Self::FIELDS)
    }
    /// Reads every row.
    #[doc(hidden)]
    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(table, take)
    }
    /// Writes the rows of one record.
    #[doc(hidden)]
    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::default();
        cells.of(Self::FIELDS, self);
        rows.push(cells);
    }
}
