//! From bytes to rows: byte order mark, separator, header, line numbers.

use std::collections::BTreeMap;
use std::sync::Arc;

use csv::{ByteRecord, ReaderBuilder};

use super::column::Column;
use super::layout::{Layout, Source};
use super::row::Row;
use crate::exchange::{RowFault, line_ends};

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
