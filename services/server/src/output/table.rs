//! Tables that fit the terminal.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

/// A table under construction.
pub(crate) struct Columns {
    table: Table,
    right: Vec<bool>,
}

/// Width of tables that go to a file or a pipe.
const PLAIN_WIDTH: u16 = 120;

impl Columns {
    /// A table with these headers; those that start with `>` stand to the right.
    pub(crate) fn new(headers: &[&str]) -> Self {
        let mut table = Table::new();
        table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
        if table.width().is_none() {
            table.set_width(PLAIN_WIDTH);
        }
        let right: Vec<bool> = headers.iter().map(|h| h.starts_with('>')).collect();
        let names = headers.iter().map(|h| h.trim_start_matches('>').to_uppercase());
        table.set_header(names.zip(&right).map(|(name, right)| aligned(name, *right)));
        Self { table, right }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.table.add_row(cells.into_iter().zip(&self.right).map(|(text, right)| aligned(text, *right)));
    }

    /// Prints the table.
    pub(crate) fn print(&self) {
        for line in self.table.to_string().lines() {
            println!("{}", line.trim_end());
        }
    }
}

fn aligned(text: String, right: bool) -> Cell {
    Cell::new(text).set_alignment(if right { CellAlignment::Right } else { CellAlignment::Left })
}
