//! Which cell of a row belongs to which column: names of a header and the fields that they mean.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::notation::cut;

use super::column::{Column, InUnit};
use crate::exchange::RowFault;
use crate::nearest::nearest;

/// Where the cells of a column come from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Place {
    /// Nowhere: the file lacks the column.
    Absent,
    /// From the file.
    Cell {
        /// Index of the cell in its row.
        index: usize,
        /// Name of the column in the file.
        header: String,
        /// Unit of the column in the file.
        scale: InUnit,
    },
    /// From the caller, or from the name of another column, for every row the same.
    Default {
        /// The cell.
        cell: String,
        /// Unit of the column.
        scale: InUnit,
    },
}

/// What the rows are in their file: faults speak its language.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    /// Lines of cells under one header, which is judged once.
    Lines,
    /// Waypoints, each with its own elements.
    Waypoints,
}

/// Which cell of a row belongs to which column.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    pub(crate) columns: Arc<[Column]>,
    pub(crate) source: Source,
    /// One for each column.
    pub(crate) places: Vec<Place>,
    /// Names as the file gives them, by cell.
    pub(crate) headers: Vec<String>,
    /// Whether numbers may have a decimal comma: only where it cannot be taken for a separator.
    pub(crate) decimal_comma: bool,
}

impl Layout {
    /// A layout in which no column has a place yet.
    pub(crate) fn new(columns: Vec<Column>, source: Source) -> Self {
        let places = vec![Place::Absent; columns.len()];
        Self { columns: columns.into(), source, places, headers: Vec::new(), decimal_comma: false }
    }

    /// Gives a cell its column by a name; `header` is what the file calls it. What is wrong with the name comes back.
    pub(crate) fn assign(&mut self, index: usize, name: &str, header: &str) -> Result<(), String> {
        let Some((at, scale)) = self.find(name).or_else(|| self.priced(name)) else {
            return Err(self.unknown(name, index));
        };
        let Some(place) = self.places.get_mut(at) else { return Ok(()) };
        if let Place::Cell { header, .. } = place {
            return Err(format!("the column gives the same as '{}'; accepted: one of them; drop one", cut(header)));
        }
        *place = Place::Cell { index, header: header.to_owned(), scale };
        Ok(())
    }

    /// Gives a column the same cell in every row, unless the file has the column. What is wrong with the name comes back.
    pub(crate) fn default(&mut self, name: &str, cell: &str) -> Result<(), String> {
        let Some((at, scale)) = self.find(name) else {
            let proposal = self.proposal(name).unwrap_or_else(|| self.known());
            return Err(format!("the default is for no known column; {proposal}"));
        };
        if let Some(place @ Place::Absent) = self.places.get_mut(at) {
            *place = Place::Default { cell: cell.trim().to_owned(), scale };
        }
        Ok(())
    }

    pub(super) fn read_header(
        &mut self,
        line: u32,
        names: Vec<String>,
        defaults: &BTreeMap<String, String>,
        faults: &mut Vec<RowFault>,
    ) -> Vec<String> {
        let mut fault = |column: &str, message: String| {
            faults.push(RowFault { line, column: cut(column), message, id: String::new() });
        };
        let mut unused = Vec::new();
        for (index, name) in names.iter().enumerate() {
            match self.assign(index, name, name) {
                Ok(()) => {}
                // Lists hold much that belongs to no record, such as what is in stock. What could be a slip of the pen is a fault.
                Err(_) if !name.is_empty() && !self.is_known(name) && self.proposal(name).is_none() => {
                    unused.push(cut(name));
                }
                Err(message) => fault(name, message),
            }
        }
        for (name, cell) in defaults {
            if let Err(message) = self.default(name, cell) {
                fault(name, message);
            }
        }
        for (column, place) in self.columns.iter().zip(&self.places) {
            let made = matches!(column.name, "id" | "option_id") && self.is_named();
            if column.required && *place == Place::Absent && !made {
                let message =
                    format!("the column is missing; it is required: {}; add it to the header", column.accepts);
                fault(column.name, message);
            }
        }
        self.headers = names;
        unused
    }

    fn is_known(&self, name: &str) -> bool {
        self.find(name).is_some()
    }

    /// The column of a name in a header, and its unit. Case, blanks, hyphens and brackets do not matter.
    pub(super) fn find(&self, given: &str) -> Option<(usize, InUnit)> {
        let name = header_name(given);
        let of = |(at, column): (usize, &Column)| Some((at, column.is_named(&name)?));
        // A whole name of the column goes before a common word with more behind it.
        let own = |column: &Column| {
            column.name == name || column.also().any(|other| other == name) || column.words.contains(&name.as_str())
        };
        let columns = || self.columns.iter().enumerate();
        columns().filter(|(_, column)| own(column)).find_map(of).or_else(|| columns().find_map(of))
    }

    /// A price with its currency in the name of its column, such as `Price (USD)`; the currency then holds in every row.
    fn priced(&mut self, given: &str) -> Option<(usize, InUnit)> {
        let name = header_name(given);
        let (word, code) = name.rsplit_once('_')?;
        let code = code.to_ascii_uppercase();
        if code.len() != 3 || !code.chars().all(|c| c.is_ascii_uppercase()) {
            return None;
        }
        let place_of = |name: &str| self.columns.iter().position(|column| column.name == name);
        let (price, currency) = (place_of("price")?, place_of("currency")?);
        self.columns.get(price)?.is_named(word)?;
        if let Some(place @ Place::Absent) = self.places.get_mut(currency) {
            *place = Place::Default { cell: code, scale: None };
        }
        Some((price, None))
    }

    /// Whether each record has a name from which an id can be made.
    pub(super) fn is_named(&self) -> bool {
        let places = self.columns.iter().zip(&self.places);
        places.filter(|(column, _)| column.name == "display_name").any(|(_, place)| *place != Place::Absent)
    }

    fn unknown(&self, name: &str, index: usize) -> String {
        if name.is_empty() {
            return format!("cell {} of the header is empty; give the column a name, or drop it", index + 1);
        }
        format!("there is no such column; {}", self.proposal(name).unwrap_or_else(|| self.known()))
    }

    /// Every name that is accepted.
    fn known(&self) -> String {
        let all: Vec<_> = self.columns.iter().map(|column| column.name).collect();
        format!("accepted: {}; rename or drop it", all.join(", "))
    }

    /// The column that a name is of, were it not for the unit at its end, and that unit.
    fn other_unit<'n>(&self, name: &'n str) -> Option<(&Column, &'n str)> {
        self.columns.iter().filter(|column| !column.measure.is_empty() || !column.also.is_empty()).find_map(|column| {
            let names = std::iter::once(column.name).chain(column.also()).map(without_unit);
            let mut stems = names.chain(column.words.iter().copied());
            let unit = stems.find_map(|stem| name.strip_prefix(stem)?.strip_prefix('_'))?;
            (!unit.is_empty() && !unit.contains('_')).then_some((column, unit))
        })
    }

    /// What a name could be meant for. Names of other fields are never proposed by their letters alone: only a slip or two of the pen counts.
    fn proposal(&self, name: &str) -> Option<String> {
        let names = || self.columns.iter().flat_map(|column| std::iter::once(column.name).chain(column.also()));
        // A name without its unit is the usual slip.
        let plain = header_name(name);
        let stem = format!("{plain}_");
        // Short words are like many others, and one with another first letter or of another length is another word.
        let letters = |word: &str| word.chars().count();
        let like = |word: &&str| {
            letters(word) > 4
                && letters(word).abs_diff(letters(&plain)) < 2
                && word.chars().next() == plain.chars().next()
        };
        let words = || self.columns.iter().flat_map(|column| column.words.iter().copied()).filter(like);
        let meant = nearest(&plain, names().chain(words()));
        if let Some((column, unit)) = self.other_unit(&plain)
            && meant.is_none_or(|known| known == column.name || column.also().any(|name| name == known))
        {
            let accepted: Vec<_> = std::iter::once(column.name).chain(column.also()).collect();
            return Some(format!(
                "'{}' is no unit of it that is known; accepted: {}; convert the figures and rename the column",
                cut(unit),
                accepted.join(", ")
            ));
        }
        let known = meant.or_else(|| names().find(|known| known.starts_with(&stem)))?;
        Some(format!("the nearest known one is '{known}'; rename or drop it"))
    }
}

/// The name of a figure without the unit at its end.
fn without_unit(name: &str) -> &str {
    const UNITS: [&str; 16] =
        ["m", "cm", "mm", "ft", "in", "c", "degc", "f", "degf", "deg", "db", "khz", "us", "ms", "w", "percent"];
    name.rsplit_once('_').filter(|(_, unit)| UNITS.contains(unit)).map_or(name, |(stem, _)| stem)
}

/// A name in a header as it is compared: `Depth (ft)` is `depth_ft`, `Beam angle, °` is `beam_angle`.
fn header_name(given: &str) -> String {
    let mut name = String::with_capacity(given.len());
    for c in given.chars().flat_map(char::to_lowercase) {
        match c {
            'µ' | 'μ' => name.push('u'),
            _ if c.is_alphanumeric() => name.push(c),
            '°' => {}
            _ if !name.is_empty() && !name.ends_with('_') => name.push('_'),
            _ => {}
        }
    }
    name.truncate(name.trim_end_matches('_').len());
    name
}
