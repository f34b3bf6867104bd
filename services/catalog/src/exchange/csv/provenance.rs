//! Where figures come from: every figure that is given is stated, unless `measured` or `assumed` names its column.

use domain::notation::{cut, plain_name};
use domain::{Fact, Provenance};

use super::Cells;
use super::row::Row;
use crate::nearest::nearest;

/// What `measured` and `assumed` say.
#[derive(Debug, Default)]
pub(crate) struct Marks {
    measured: Vec<String>,
    assumed: Vec<String>,
}

impl Marks {
    /// Reads both columns; `facts` are the columns that may be named.
    pub(crate) fn read(row: &mut Row, facts: &[&str]) -> Self {
        let marks = Self { measured: names(row, "measured", facts), assumed: names(row, "assumed", facts) };
        if let Some(both) = marks.measured.iter().find(|name| marks.assumed.contains(name)) {
            row.refuse("assumed", format!("{both} stands in measured too; accepted: one of the two; drop it from one"));
        }
        marks
    }

    /// Takes over what another row of the same record says.
    pub(crate) fn join(&mut self, other: &Self) {
        self.measured.extend_from_slice(&other.measured);
        self.assumed.extend_from_slice(&other.assumed);
    }

    /// Where the figure of a column comes from.
    pub(crate) fn of(&self, column: &str) -> Provenance {
        if self.measured.iter().any(|name| name == column) {
            Provenance::Measured
        } else if self.assumed.iter().any(|name| name == column) {
            Provenance::Assumed
        } else {
            Provenance::Stated
        }
    }

    /// The figure of a cell; none for an empty one.
    pub(crate) fn fact<T>(&self, row: &mut Row, column: &str, make: impl Fn(f64) -> T) -> Option<Fact<T>> {
        row.number(column).map(|value| Fact { value: make(value), provenance: self.of(column) })
    }

    /// The figure of a cell that must not be empty.
    pub(crate) fn required_fact<T>(&self, row: &mut Row, column: &str, make: impl Fn(f64) -> T) -> Fact<T> {
        Fact { value: make(row.required_number(column)), provenance: self.of(column) }
    }

    /// Notes where a figure that is written comes from.
    pub(crate) fn note(&mut self, column: &str, provenance: Provenance) {
        match provenance {
            Provenance::Stated => {}
            Provenance::Measured => self.measured.push(column.to_owned()),
            Provenance::Assumed => self.assumed.push(column.to_owned()),
        }
    }

    /// Writes a figure and notes where it comes from.
    pub(crate) fn set<T: Copy>(&mut self, cells: &mut Cells, column: &str, fact: &Fact<T>, get: impl Fn(T) -> f64) {
        cells.set_number(column, get(fact.value));
        self.note(column, fact.provenance);
    }

    /// Writes both columns.
    pub(crate) fn write(&self, cells: &mut Cells) {
        cells.set("measured", self.measured.join(" "));
        cells.set("assumed", self.assumed.join(" "));
    }
}

fn names(row: &mut Row, column: &str, facts: &[&str]) -> Vec<String> {
    let given: Vec<String> =
        row.text(column).split([' ', ',', ';', '\n']).filter(|name| !name.trim().is_empty()).map(plain_name).collect();
    for name in &given {
        if !facts.contains(&name.as_str()) {
            let advice = match nearest(name, facts.iter().copied()) {
                Some(known) => format!("the nearest one is {known}"),
                None => format!("accepted: {}", facts.join(", ")),
            };
            row.refuse(column, format!("'{}' is no column of figures; {advice}; correct or drop it", cut(name)));
        }
    }
    given
}
