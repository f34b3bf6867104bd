//! Tables that fit the terminal.

use crate::output::shown::say;
use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets};

/// A table under construction.
pub(crate) struct Columns {
    headers: Vec<String>,
    right: Vec<bool>,
    rows: Vec<Vec<String>>,
}

/// Blanks around the text of a cell.
const PADDING: usize = 2;

impl Columns {
    /// A table with these headers; those that start with `>` stand to the right.
    pub(crate) fn new(headers: &[&str]) -> Self {
        Self {
            right: headers.iter().map(|h| h.starts_with('>')).collect(),
            headers: headers.iter().map(|h| h.trim_start_matches('>').to_uppercase()).collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Prints the table. A terminal that is too narrow gets fewer columns, never half a word; a file or a pipe gets them all,
    /// a row a line.
    pub(crate) fn print(&self) {
        let width = Table::new().width();
        let shown = width.map_or(self.headers.len(), |width| self.fitting(usize::from(width)));
        for line in self.set(shown, width).lines() {
            say!("{}", line.trim_end());
        }
        if let Some(left_out) = self.headers.get(shown..).filter(|names| !names.is_empty()) {
            say!(
                "Not shown, for want of room: {}. A wider window or --json has them.",
                left_out.join(", ").to_lowercase()
            );
        }
    }

    /// The first `shown` columns as text; on a terminal, cells wrap between words.
    fn set(&self, shown: usize, width: Option<u16>) -> String {
        let mut table = Table::new();
        table.load_style(presets::NOTHING);
        let cells = |texts: &[String]| {
            texts.iter().zip(&self.right).take(shown).map(|(text, right)| aligned(text, *right)).collect::<Vec<_>>()
        };
        table.set_header(cells(&self.headers));
        table.add_rows(self.rows.iter().map(|row| cells(row)));
        match width {
            None => table.set_content_arrangement(ContentArrangement::Disabled),
            Some(width) => table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width),
        };
        for (column, least) in table.column_iter_mut().zip(self.least()) {
            let least = u16::try_from(least + PADDING).unwrap_or(u16::MAX);
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(least)));
        }
        table.to_string()
    }

    /// How many columns, from the first, fit that width with every word whole; one at least.
    fn fitting(&self, width: usize) -> usize {
        let ends = self.least().into_iter().scan(0, |used, least| {
            *used += least + PADDING;
            Some(*used)
        });
        ends.take_while(|end| *end <= width).count().max(1)
    }

    /// The width of each column's longest word.
    fn least(&self) -> Vec<usize> {
        let longest = |column: usize| {
            let texts = self.rows.iter().filter_map(|row| row.get(column)).chain(self.headers.get(column));
            texts.flat_map(|text| text.split_whitespace()).map(|word| word.chars().count()).max().unwrap_or(0)
        };
        (0..self.headers.len()).map(longest).collect()
    }
}

fn aligned(text: &str, right: bool) -> Cell {
    Cell::new(text).set_alignment(if right { CellAlignment::Right } else { CellAlignment::Left })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Columns {
        let mut table = Columns::new(&["name", ">score", "why not"]);
        table.row([
            "runs/r7k2m".to_owned(),
            "71.0".to_owned(),
            "the extraordinarily long slope hides the lure".to_owned(),
        ]);
        table
    }

    #[test]
    fn a_narrow_terminal_gets_fewer_columns_and_whole_words() {
        let table = table();
        for width in 12..=80_u16 {
            let shown = table.fitting(usize::from(width));
            let set = table.set(shown, Some(width));
            let words: Vec<_> = set.split_whitespace().collect();
            assert!(words.contains(&"runs/r7k2m"), "{width}: {set}");
            assert!(shown < 3 || words.contains(&"extraordinarily"), "{width}: {set}");
            assert!(set.lines().all(|line| line.trim_end().chars().count() <= usize::from(width)), "{width}: {set}");
        }
        assert_eq!((table.fitting(18), table.fitting(19), table.fitting(36)), (1, 2, 3));
    }

    #[test]
    fn a_pipe_gets_a_row_a_line() {
        assert_eq!(table().set(3, None).lines().count(), 2);
    }
}
