//! One row: its cells as text, numbers and choices, and every fault met on the way.

use std::cell::Cell;
use std::sync::Arc;

use csv::ByteRecord;
use domain::field::{Accepted, NOT_GIVEN};
use domain::notation::{self, Numbers, cut, plain_name};
use domain::scale::scale_of;
use domain::{Fault, FaultReason, Id};

use super::formula::unguarded;
use super::layout::{Layout, Place, Source};
use crate::exchange::RowFault;
use crate::nearest::nearest;

/// A row of a file.
pub struct Row {
    layout: Arc<Layout>,
    line: u32,
    cells: Texts,
    /// The column that was asked for last. Readers go through the columns in their order, so that the next one lies close by.
    latest: Cell<usize>,
    faults: Vec<RowFault>,
}

/// The cells of a row, without the blanks around them, in one piece of memory.
#[derive(Default)]
struct Texts {
    text: String,
    /// Where each cell ends.
    ends: Vec<usize>,
}

impl Texts {
    fn push(&mut self, cell: &str) {
        self.text.push_str(cell.trim());
        self.ends.push(self.text.len());
    }

    fn get(&self, index: usize) -> Option<&str> {
        let end = *self.ends.get(index)?;
        let start = index.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        self.text.get(start..end)
    }
}

/// The entries of a cell that lists some with slashes between: a unit behind the last one is that of all.
fn listed(cell: &str) -> Vec<String> {
    let parts: Vec<&str> = cell.split('/').map(str::trim).filter(|part| !part.is_empty()).collect();
    let figure =
        |part: &str| part.len() - part.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',')).len();
    if parts.iter().any(|part| !part.starts_with(|c: char| c.is_ascii_digit())) {
        return vec![cell.to_owned()];
    }
    let unit = parts.last().and_then(|last| last.get(figure(last)..)).unwrap_or_default();
    parts
        .iter()
        .map(|part| if figure(part) == part.len() { format!("{part}{unit}") } else { (*part).to_owned() })
        .collect()
}

impl Row {
    pub(crate) fn new(layout: Arc<Layout>, line: u32, record: &ByteRecord, open_quote: bool) -> Self {
        let (given, named) = (record.len(), layout.headers.len());
        let mut row = Self { layout, line, cells: Texts::default(), latest: Cell::new(0), faults: Vec::new() };
        row.cells.text.reserve(record.as_slice().len());
        row.cells.ends.reserve(given);
        for (index, cell) in record.iter().enumerate() {
            match std::str::from_utf8(cell) {
                Ok(text) => row.cells.push(unguarded(text.trim())),
                Err(error) => {
                    row.cells.push(&String::from_utf8_lossy(cell));
                    let message = format!(
                        "byte {} of the cell is not UTF-8; accepted: UTF-8 text; save the file as CSV UTF-8",
                        error.valid_up_to() + 1
                    );
                    row.add(row.layout.headers.get(index).cloned().unwrap_or_default(), message);
                }
            }
        }
        if open_quote {
            let message = "a quote is opened and never closed; accepted: cells quoted on both sides; close it";
            row.add(String::new(), message.to_owned());
        } else if given != named {
            let message = format!(
                "the row has {given} cells; accepted: {named}, as in the header; add or drop separators, or quote cells that hold one"
            );
            row.add(String::new(), message);
        }
        row
    }

    /// A row whose cells are text already.
    pub(crate) fn of_texts(layout: Layout, line: u32, texts: impl Iterator<Item = String>) -> Self {
        let mut cells = Texts::default();
        texts.for_each(|text| cells.push(&text));
        Self { layout: Arc::new(layout), line, cells, latest: Cell::new(0), faults: Vec::new() }
    }

    /// The row as one for each entry that its cells list, such as `9/20`: of cells that list none every entry has the same.
    ///
    /// A row that is refused anyway, as one whose cells list different numbers of entries, comes back with the first of each.
    pub(crate) fn entries(mut self, columns: &[&'static str]) -> Vec<Self> {
        let lists: Vec<(&'static str, Vec<String>)> = columns
            .iter()
            .map(|column| (*column, listed(self.text(column))))
            .filter(|(_, entries)| entries.len() > 1)
            .collect();
        let Some((first, entries)) = lists.first() else { return vec![self] };
        let many = entries.len();
        if let Some((column, other)) = lists.iter().find(|(_, other)| other.len() != many) {
            let message = format!(
                "it lists {}, but '{}' lists {many}; accepted: one, or as many in the same order; correct one of the two",
                other.len(),
                self.header(first)
            );
            self.refuse(column, message);
        }
        let many = if self.faults.is_empty() { many } else { 1 };
        let row = |at: usize| {
            let mut cells = Texts::default();
            for index in 0..self.cells.ends.len() {
                let listed = lists.iter().find(|(column, _)| self.stands_in(column, index));
                let entry = listed.and_then(|(_, entries)| entries.get(at)).map(String::as_str);
                cells.push(entry.or_else(|| self.cells.get(index)).unwrap_or_default());
            }
            let (layout, faults) = (Arc::clone(&self.layout), if at == 0 { self.faults.clone() } else { Vec::new() });
            Self { layout, line: self.line, cells, latest: Cell::new(0), faults }
        };
        (0..many).map(row).collect()
    }

    /// The line that the row starts on.
    pub(crate) fn line(&self) -> u32 {
        self.line
    }

    /// The faults of the row, each with its id.
    pub(crate) fn into_faults(self) -> Vec<RowFault> {
        let id = cut(&self.id_text());
        let mut faults = self.faults;
        for fault in &mut faults {
            fault.id.clone_from(&id);
        }
        faults
    }

    /// Whether nothing has been refused so far.
    pub(crate) fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    /// The cell of a column without the blanks around it; empty where the file lacks the column.
    pub(crate) fn text(&self, column: &str) -> &str {
        match self.place(column) {
            Some(Place::Cell { index, .. }) => self.cells.get(*index).unwrap_or_default(),
            Some(Place::Default { cell, .. }) => cell,
            Some(Place::Absent) | None => "",
        }
    }

    /// The id of the record: as it stands, or made from its name where the file gives none.
    pub(crate) fn id_text(&self) -> String {
        let given = self.text("id");
        if given.is_empty() {
            self.made_id("id").map_or_else(String::new, |id| id.to_string())
        } else {
            given.to_owned()
        }
    }

    /// An id that is made where the file gives none: of a record from its name, of a beam from its angle and its frequency.
    pub(crate) fn made_id(&self, column: &str) -> Option<Id> {
        match column {
            "id" => Id::of_name(self.text("display_name")),
            "option_id" => {
                let beam = [self.text("beamwidth_deg"), self.text("frequency_khz")];
                (!beam.concat().is_empty()).then(|| Id::of_name(&format!("beam {}", beam.join(" "))))?
            }
            _ => None,
        }
    }

    /// The id in a cell.
    pub(crate) fn id(&mut self, column: &str) -> Option<Id> {
        match Id::parse(self.text(column)) {
            Ok(id) => return Some(id),
            Err(_) if self.text(column).is_empty() => self.missing(column),
            Err(error) => self.refuse(column, error.to_string()),
        }
        None
    }

    /// The id of another record, with or without its collection.
    pub(crate) fn reference(&mut self, column: &str, collection: &str) -> Option<Id> {
        let text = self.text(column).trim().to_owned();
        let id = text.strip_prefix(collection).and_then(|rest| rest.strip_prefix('/')).unwrap_or(&text);
        match Id::parse(id) {
            Ok(id) => return Some(id),
            Err(_) if id.is_empty() => self.missing(column),
            Err(error) => self.refuse(column, error.to_string()),
        }
        None
    }

    /// A required day.
    pub(crate) fn day(&mut self, column: &str) -> Option<jiff::civil::Date> {
        let text = self.text(column).trim().to_owned();
        if text.is_empty() {
            self.missing(column);
            return None;
        }
        let day = text.parse().ok();
        if day.is_none() {
            self.refuse(
                column,
                format!("'{}' is no day; accepted: year, month and day such as 2027-01-15", cut(&text)),
            );
        }
        day
    }

    /// What several rows share stands on the first; a later row that says otherwise is a slip.
    pub(crate) fn same_in(&self, later: &mut Self, columns: impl Iterator<Item = &'static str>) {
        for column in columns {
            let (one, other) = (self.text(column).to_owned(), later.text(column).to_owned());
            if !other.is_empty() && other != one {
                let message = format!(
                    "'{}' differs from '{}' on line {}; accepted: the same for every row of one id, or empty; correct one",
                    cut(&other),
                    cut(&one),
                    self.line()
                );
                later.refuse(column, message);
            }
        }
    }

    /// The number in a cell, in the unit of its field; none for an empty one.
    pub(crate) fn number(&mut self, column: &str) -> Option<f64> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        match self.numbers(column).read(text) {
            Ok(value) => Some(value),
            Err(problem) => {
                let message = format!("{problem}; accepted: {}; correct it", self.accepts(column));
                self.refuse(column, message);
                None
            }
        }
    }

    /// The whole number in a cell; none for an empty one.
    pub(crate) fn whole(&mut self, column: &str) -> Option<u32> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let parsed = text.parse().ok();
        if parsed.is_none() {
            let message =
                format!("'{}' is not a whole number; accepted: {}; correct it", cut(text), self.accepts(column));
            self.refuse(column, message);
        }
        parsed
    }

    /// Yes or no; none for an empty cell.
    pub(crate) fn flag(&mut self, column: &str) -> Option<bool> {
        let said = self.choice(column, &["true", "false", "yes", "no", "1", "0"])?;
        Some(matches!(said, "true" | "yes" | "1"))
    }

    /// Whether a figure is within its limits, where it is written in another unit than that of its field. One that is not is refused in the unit in
    /// which it is written; the record's own check sees to those in the unit of the field.
    pub(crate) fn within(&mut self, column: &str, accepted: Accepted) -> bool {
        let problem = self.numbers(column).out_of(self.text(column), accepted);
        let within = problem.is_none();
        if let Some(problem) = problem {
            self.refuse(column, format!("{problem}; correct it"));
        }
        within
    }

    /// What the word in a cell stands for, if it is one of those that its column knows.
    pub(crate) fn meant(&self, column: &str) -> Option<&'static str> {
        let known = self.layout.columns.iter().find(|known| known.name == column)?;
        let word = plain_name(self.text(column));
        // A minus becomes an underscore.
        let word = word.trim_start_matches('_');
        known.means.iter().find(|(known, _)| *known == word).map(|(_, meant)| *meant)
    }

    /// What a figure in a cell means, by the words behind it or in its header, such as `400 W peak`.
    pub(crate) fn said_beside(&self, column: &str, means: &[(&'static str, &'static str)]) -> Option<&'static str> {
        let figure = self.text(column);
        if figure.is_empty() {
            return None;
        }
        notation::said(figure, means).or_else(|| notation::said(&self.header(column), means))
    }

    /// Refuses a price whose own currency is another than that of its row.
    pub(crate) fn agree_on_currency(&mut self, column: &str, own: Option<&str>) {
        let of_row = self.text("currency");
        if let Some(own) = own.filter(|own| !of_row.is_empty() && !own.eq_ignore_ascii_case(of_row)) {
            let message =
                format!("the price is in {own}, but its row or header says {}; correct one of the two", cut(of_row));
            self.refuse(column, message);
        }
    }

    /// Refuses a meaning of a figure that its own cell contradicts, such as `400 W peak` beside rms.
    pub(crate) fn agree_on_meaning(
        &mut self,
        column: &str,
        name: &str,
        beside: (&str, &[(&'static str, &'static str)]),
    ) {
        let (figure, means) = beside;
        if let Some(said) = notation::said(self.text(figure), means).filter(|said| *said != name) {
            let message = format!(
                "it says {name}, but {figure} beside it is '{}', which says {said}; correct one of the two",
                cut(self.text(figure))
            );
            self.refuse(column, message);
        }
    }

    /// Whether a cell says that nobody knows.
    pub(crate) fn says_nothing(&self, column: &str) -> bool {
        // Blanks, hyphens and stops do not matter; a hyphen alone is left with nothing.
        const WORDS: [&str; 17] = [
            "",
            "unknown",
            "?",
            "n/a",
            "na",
            "–",
            "—",
            "not_known",
            "not_given",
            "not_stated",
            "none_given",
            "tbd",
            "unbekannt",
            "ka",
            "k/a",
            "keine_angabe",
            "nicht_angegeben",
        ];
        let plain = plain_name(self.text(column)).replace('.', "");
        WORDS.contains(&plain.trim_matches('_'))
    }

    /// The choice in a cell; none for an empty one. Case, blanks and hyphens do not matter.
    pub(crate) fn choice(&mut self, column: &str, choices: &[&'static str]) -> Option<&'static str> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let named = |name: &str| choices.iter().find(|known| **known == name).copied();
        // Mostly the name is written as it should be.
        if let Some(value) = named(text) {
            return Some(value);
        }
        let name = plain_name(text);
        let found = match self.meant(column) {
            Some(choice) if choice == NOT_GIVEN => return None,
            Some(choice) => named(choice),
            None => named(&name),
        };
        if found.is_none() {
            let meant = nearest(&name, choices.iter().copied());
            let advice = meant.map_or_else(|| "correct it".to_owned(), |known| format!("perhaps {known} is meant"));
            let message = format!("'{}' is none of the choices; accepted: {}; {advice}", cut(text), choices.join(", "));
            self.refuse(column, message);
        }
        found
    }

    /// What a cell holds in a notation of its own; none for an empty one.
    pub(crate) fn notation<T>(
        &mut self,
        column: &str,
        read: impl FnOnce(&str, &Numbers) -> Result<T, String>,
    ) -> Option<T> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        match read(text, &self.numbers(column)) {
            Ok(value) => Some(value),
            Err(problem) => {
                let message = format!("{problem}; accepted: {}; correct it", self.accepts(column));
                self.refuse(column, message);
                None
            }
        }
    }

    /// Refuses a cell.
    pub(crate) fn refuse(&mut self, column: &str, message: String) {
        self.add(self.header(column), message);
    }

    /// Refuses an id that stands on an earlier line too.
    pub(crate) fn refuse_twice(&mut self, column: &str, first: u32) {
        let id = self.text(column);
        let advice = match self.layout.source {
            Source::Lines => "give every record its own id",
            Source::Waypoints => "give every waypoint its own name, or an <id> in its extensions",
        };
        self.refuse(column, format!("'{id}' stands on line {first} already; {advice}"));
    }

    /// Refuses an empty cell. A column that a header misses altogether has been refused once, with the header.
    pub(crate) fn missing(&mut self, column: &str) {
        let accepts = self.accepts(column);
        let message = match self.layout.source {
            Source::Lines if self.place(column) == Some(&Place::Absent) && self.requires(column) => return,
            Source::Lines => format!("the cell is empty; it is required: {accepts}; fill it"),
            Source::Waypoints if column == "display_name" => {
                format!("the waypoint has no <name>; it is required: {accepts}; give it one")
            }
            Source::Waypoints => format!(
                "the waypoint has no {column}; it is required: {accepts}; write it as <{column}> into its extensions, \
                 or give all waypoints without it the same by a default, such as --default {column}={}",
                self.example(column)
            ),
        };
        self.refuse(column, message);
    }

    /// Takes over what the record's own check found. Where a cell was already refused the check saw a stand-in: it is not
    /// heard on that cell, nor on what contradicts what.
    pub(crate) fn judge(&mut self, found: Vec<Fault>, column_of: impl Fn(&str) -> &'static str) {
        let sound = self.is_sound();
        let known: Vec<_> = self.faults.iter().map(|fault| fault.column.clone()).collect();
        for fault in found {
            let column = column_of(&fault.field);
            let header = self.header(column);
            let stands = sound || (fault.reason != FaultReason::Contradiction && !known.contains(&header));
            let absent = self.place(column) == Some(&Place::Absent) && self.requires(column);
            if stands && !absent {
                let beside = fault.beside.as_deref().map(&column_of);
                let message = beside.and_then(|other| self.beside(column, other)).unwrap_or(fault.message);
                self.add(header, message);
            }
        }
    }

    /// That two cells do not fit each other, as they stand in the file, where one of them is in another unit than that of its field.
    fn beside(&self, column: &str, other: &str) -> Option<String> {
        let own = |column: &str| {
            let numbers = self.numbers(column);
            let text = self.text(column);
            numbers.read_plain(text).is_ok() && numbers.scale == Some(scale_of(numbers.unit))
        };
        let (cell, limit) = (self.text(column), self.text(other));
        if cell.is_empty() || limit.is_empty() || (own(column) && own(other)) {
            return None;
        }
        Some(format!(
            "it is {}, which does not fit '{}', which is {}; check which of the two is wrong",
            cut(cell),
            self.header(other),
            cut(limit)
        ))
    }

    /// Adds a fault of what the file calls so.
    pub(crate) fn add(&mut self, column: String, message: String) {
        self.faults.push(RowFault { line: self.line, column: cut(&column), message, id: String::new() });
    }

    fn stands_in(&self, column: &str, cell: usize) -> bool {
        matches!(self.place(column), Some(Place::Cell { index, .. }) if *index == cell)
    }

    fn at(&self, column: &str) -> Option<usize> {
        let named = |at: &usize| self.layout.columns.get(*at).is_some_and(|known| known.name == column);
        let latest = self.latest.get();
        let at = (latest..self.layout.columns.len()).chain(0..latest).find(named)?;
        self.latest.set(at);
        Some(at)
    }

    fn place(&self, column: &str) -> Option<&Place> {
        self.layout.places.get(self.at(column)?)
    }

    fn requires(&self, column: &str) -> bool {
        self.layout.columns.iter().any(|known| known.name == column && known.required)
    }

    fn accepts(&self, column: &str) -> String {
        let known = self.layout.columns.iter().find(|known| known.name == column);
        known.map_or_else(String::new, |known| known.accepts.clone())
    }

    fn example(&self, column: &str) -> &'static str {
        self.layout.columns.iter().find(|known| known.name == column).map_or("", |known| known.example)
    }

    /// The column as the file names it.
    fn header(&self, column: &str) -> String {
        match self.place(column) {
            Some(Place::Cell { header, .. }) => header.clone(),
            _ => column.to_owned(),
        }
    }

    fn numbers(&self, column: &str) -> Numbers {
        let unit = self.layout.columns.iter().find(|known| known.name == column).map_or("", |known| known.measure);
        let scale = match self.place(column) {
            Some(Place::Cell { scale, .. } | Place::Default { scale, .. }) => *scale,
            Some(Place::Absent) | None => Some(scale_of(unit)),
        };
        Numbers { decimal_comma: self.layout.decimal_comma, scale, unit }
    }
}
