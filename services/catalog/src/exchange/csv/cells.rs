//! The cells of one row to be written.

use domain::field::{Field, Given, Holds, name_of};
use domain::notation;
use domain::sensor::PROVENANCES;
use domain::{Id, Provenance};

use super::formula;

/// What a cell holds.
pub(crate) enum CellValue<'c> {
    Empty,
    Number(f64),
    Text(&'c str),
}

/// A cell with the column that it stands in.
struct Cell {
    column: &'static str,
    kind: Kind,
    text: String,
}

/// What is in a cell.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Figure,
    Text,
}

/// The cells of one row to be written.
#[derive(Default)]
pub struct Cells(Vec<Cell>);

impl Cells {
    /// Adds the cells of some fields of a record.
    pub(crate) fn of<R>(&mut self, fields: &'static [Field<R>], record: &R) {
        for field in fields {
            let (kind, text) = cell(field, record);
            match self.0.last_mut() {
                // Fields of which a record has one at most share a column.
                Some(shared) if shared.column == field.column => {
                    if shared.text.is_empty() {
                        shared.text = text;
                    }
                }
                _ => self.0.push(Cell { column: field.column, kind, text }),
            }
        }
    }

    /// Adds the cells of an entry after the first: of the record itself only the id.
    pub(crate) fn id_of<R>(&mut self, fields: &'static [Field<R>], record: &R) {
        for field in fields {
            let text = if let Holds::Id { get, .. } = &field.holds { get(record).to_string() } else { String::new() };
            self.0.push(Cell { column: field.column, kind: Kind::Text, text });
        }
    }

    /// The cell of a column; empty where there is none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.iter().find(|(name, _)| *name == column).map_or("", |(_, cell)| cell)
    }

    /// Every cell with the name of its column.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (&'static str, &str)> {
        self.0.iter().map(|cell| (cell.column, cell.text.as_str()))
    }

    /// Every cell as it goes to a file that a spreadsheet may open.
    pub(super) fn guarded(&self) -> Vec<String> {
        let guarded = |cell: &Cell| match cell.kind {
            Kind::Figure => cell.text.clone(),
            Kind::Text => formula::guarded(&cell.text).into_owned(),
        };
        self.0.iter().map(guarded).collect()
    }

    /// Every cell with its column, figures as numbers.
    pub(crate) fn values(&self) -> impl Iterator<Item = (&'static str, CellValue<'_>)> {
        self.0.iter().map(|cell| {
            if cell.text.is_empty() {
                return (cell.column, CellValue::Empty);
            }
            let number = if cell.kind == Kind::Figure { cell.text.parse().ok() } else { None };
            (cell.column, number.map_or(CellValue::Text(&cell.text), CellValue::Number))
        })
    }
}

fn cell<R>(field: &Field<R>, record: &R) -> (Kind, String) {
    let number = |value: Option<f64>| value.map_or_else(String::new, notation::number);
    let text = |text: Option<&str>| (Kind::Text, text.unwrap_or_default().to_owned());
    match &field.holds {
        Holds::Id { get, .. } => text(Some(get(record).as_str())),
        Holds::Text { get, .. } | Holds::Notes { get, .. } => text(Some(get(record))),
        Holds::Reference { get, .. } => text(get(record).map(Id::as_str)),
        Holds::Figure { get, .. } => (Kind::Figure, get(record).map_or_else(String::new, figure)),
        Holds::Number { get, .. } => (Kind::Figure, number(get(record))),
        Holds::Whole { get, .. } => (Kind::Figure, get(record).map_or_else(String::new, |value| value.to_string())),
        Holds::Choice { get, .. } => text(get(record)),
        Holds::Flag { get, .. } => (Kind::Text, get(record).to_string()),
        Holds::Day { get, .. } => (Kind::Text, get(record).map_or_else(String::new, |day| day.to_string())),
        Holds::Amount { get, .. } => (Kind::Text, get(record).map_or_else(String::new, notation::write_price)),
        Holds::List { write, .. } => (Kind::Figure, write(record)),
    }
}

/// A figure as it is read: `40`, `50 assumed`, `14 ±1 measured`.
fn figure(given: Given) -> String {
    let mut text = notation::number(given.value);
    if let Some(spread) = given.spread {
        text.push_str(" ±");
        text.push_str(&notation::number(spread));
    }
    if given.source != Provenance::Stated
        && let Some(name) = name_of(&PROVENANCES, &given.source)
    {
        text.push(' ');
        text.push_str(name);
    }
    text
}
