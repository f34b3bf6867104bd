//! From bytes to rows: byte order mark, separator, header, line numbers.

use std::collections::BTreeMap;
use std::sync::Arc;

use csv::{ByteRecord, ReaderBuilder};
use domain::notation::cut;

use super::column::{Column, InUnit};
use super::row::Row;
use crate::exchange::{RowFault, line_ends};
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

/// A file whose header has been read.
pub struct Table<'b> {
    layout: Arc<Layout>,
    records: Records<'b>,
}

/// The records of a file with their line numbers.
struct Records<'b> {
    reader: csv::Reader<&'b [u8]>,
    bytes: &'b [u8],
    /// The latest record; its room is used again.
    record: ByteRecord,
    /// Line numbers are counted from here.
    counted: Counted,
}

/// Cells of a header that are looked up: many times what any record has.
const MAX_COLUMNS: usize = 1_000;

/// A byte offset and the line that it lies on.
#[derive(Debug, Clone, Copy)]
struct Counted {
    offset: usize,
    line: u32,
}

impl<'b> Table<'b> {
    /// Reads the header. Its faults go into `faults`; nothing comes back where there is no header at all. Beside the table come the columns
    /// that are of no known field, by their names in the file.
    pub(crate) fn open(
        bytes: &'b [u8],
        columns: Vec<Column>,
        defaults: &BTreeMap<String, String>,
        faults: &mut Vec<RowFault>,
    ) -> Option<(Self, Vec<String>)> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
            faults.push(of_file("the file is UTF-16; accepted: UTF-8; save it as CSV UTF-8"));
            return None;
        }
        let (separator, skipped) = separator(bytes);
        let body = bytes.get(skipped..).unwrap_or_default();
        let reader = ReaderBuilder::new().delimiter(separator).has_headers(false).flexible(true).from_reader(body);
        let first_line = if skipped > 0 { 2 } else { 1 };
        let mut layout = Layout::new(columns, Source::Lines);
        layout.decimal_comma = separator != b',';
        let mut records = Records {
            reader,
            bytes: body,
            record: ByteRecord::new(),
            counted: Counted { offset: 0, line: first_line },
        };
        // A list may have a title over its header.
        for _ in 0..titles(body, separator, &layout) {
            records.advance();
        }
        let Some(line) = records.advance() else {
            faults.push(of_file("the file is empty; accepted: a header line, then a line for each record"));
            return None;
        };
        let given = records.record.len();
        if given > MAX_COLUMNS {
            let message =
                format!("the header has {given} cells; accepted: up to {MAX_COLUMNS}; drop columns that no record has");
            faults.push(of_file(&message));
            return None;
        }
        let names: Vec<_> = records.record.iter().map(|cell| String::from_utf8_lossy(cell).trim().to_owned()).collect();
        let unused = layout.read_header(line, names, defaults, faults);
        Some((Self { layout: Arc::new(layout), records }, unused))
    }
}

/// Records over the header: those before the first that names two columns, of the first ten; none where none does.
fn titles(body: &[u8], separator: u8, layout: &Layout) -> usize {
    const LOOKED_AT: usize = 10;
    let mut reader = ReaderBuilder::new().delimiter(separator).has_headers(false).flexible(true).from_reader(body);
    let names = |record: &ByteRecord| {
        let cells = record.iter().take(MAX_COLUMNS).filter_map(|cell| std::str::from_utf8(cell).ok());
        cells.filter(|cell| layout.find(cell).is_some()).take(2).count() == 2
    };
    let first = reader.byte_records().take(LOOKED_AT).position(|record| record.is_ok_and(|record| names(&record)));
    first.unwrap_or(0)
}

/// The rows that hold anything.
impl Iterator for Table<'_> {
    type Item = Row;

    fn next(&mut self) -> Option<Row> {
        loop {
            let line = self.records.advance()?;
            let record = &self.records.record;
            if record.iter().any(|cell| !cell.trim_ascii().is_empty()) {
                let open_quote = self.records.end_in_open_quote(record);
                return Some(Row::new(Arc::clone(&self.layout), line, record, open_quote));
            }
        }
    }
}

impl Records<'_> {
    /// Goes on to the next record; the line that it starts on.
    fn advance(&mut self) -> Option<u32> {
        // Reading bytes from memory, of any number of cells, has no way to fail.
        if !self.reader.read_byte_record(&mut self.record).unwrap_or(false) {
            return None;
        }
        let start = self.record.position().map_or(0, csv::Position::byte);
        // The reader reports where it stood: line ends before the record are still to be skipped.
        let start = usize::try_from(start).unwrap_or(usize::MAX);
        let blank = |byte: &&u8| matches!(**byte, b'\r' | b'\n');
        let start = start + self.bytes.get(start..).unwrap_or_default().iter().take_while(blank).count();
        let between = self.bytes.get(self.counted.offset..start).unwrap_or_default();
        let ends = line_ends(between);
        self.counted = Counted {
            offset: start.max(self.counted.offset),
            line: self.counted.line.saturating_add(u32::try_from(ends).unwrap_or(u32::MAX)),
        };
        Some(self.counted.line)
    }

    /// Whether the file ends inside a quoted cell of this record, which then swallowed the lines that follow it.
    fn end_in_open_quote(&self, record: &ByteRecord) -> bool {
        let end = usize::try_from(self.reader.position().byte()).unwrap_or(usize::MAX);
        let raw = self.bytes.get(self.counted.offset..).unwrap_or_default();
        let last = record.iter().next_back().unwrap_or_default();
        let quotes = || raw.iter().filter(|byte| **byte == b'"').count();
        end >= self.bytes.len()
            && raw.contains(&b'"')
            && !last.is_empty()
            && quotes() % 2 == 1
            && (last.contains(&b'\n') || raw.windows(last.len() + 1).any(|part| opens(part, last)))
    }
}

/// Whether a stretch of the file is a quote with the cell right behind it.
fn opens(part: &[u8], cell: &[u8]) -> bool {
    part.split_first().is_some_and(|(first, rest)| *first == b'"' && rest == cell)
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

    fn read_header(
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
    fn find(&self, given: &str) -> Option<(usize, InUnit)> {
        let name = header_name(given);
        let of = |(at, column): (usize, &Column)| Some((at, column.is_named(&name)?));
        // A name of the column's own goes before a common word.
        let own = |column: &Column| column.name == name || column.also().any(|other| other == name);
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

/// A fault of the file as a whole.
fn of_file(message: &str) -> RowFault {
    RowFault { line: 1, column: String::new(), message: message.to_owned(), id: String::new() }
}

/// The separator, and how many bytes a line such as `sep=;` before the header takes.
fn separator(bytes: &[u8]) -> (u8, usize) {
    let first = bytes.split(|byte| *byte == b'\n').find(|line| !line.trim_ascii().is_empty()).unwrap_or_default();
    if let Some([separator @ (b',' | b';' | b'\t'), rest @ ..]) = first.strip_prefix(b"sep=")
        && rest.trim_ascii().is_empty()
        && bytes.starts_with(b"sep=")
    {
        return (*separator, (first.len() + 1).min(bytes.len()));
    }
    let mut quoted = false;
    let mut counts = [(b',', 0_usize), (b';', 0), (b'\t', 0)];
    for byte in first {
        if *byte == b'"' {
            quoted = !quoted;
        } else if !quoted && let Some((_, count)) = counts.iter_mut().find(|(separator, _)| separator == byte) {
            *count += 1;
        }
    }
    // The first of the most frequent ones, so that a comma wins a tie.
    let most = counts.iter().map(|(_, count)| *count).max().unwrap_or(0);
    let found = counts.iter().find(|(_, count)| *count == most);
    (found.map_or(b',', |(separator, _)| *separator), 0)
}
