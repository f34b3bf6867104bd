//! What the targets over files of records share: the kind, defaults, and what holds of anything that was read.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;

use catalog::Resource;
use catalog::exchange::{Parsed, RowFault};

/// Calls a generic function with the kind of record that a byte names: the digits `0` to `7` by their low three bits, and with a line of
/// defaults `8` to `?`; goals are `@`, and with defaults `H`.
macro_rules! of_kind {
    ($byte:expr, $check:ident($($argument:expr),*)) => {
        match $byte & 0x47 {
            0x40 => $check::<domain::GoalRecord>($($argument),*),
            0 => $check::<domain::SensorRecord>($($argument),*),
            1 => $check::<domain::SpotRecord>($($argument),*),
            2 => $check::<domain::ShelterRecord>($($argument),*),
            3 => $check::<domain::TargetRecord>($($argument),*),
            4 => $check::<domain::Unit>($($argument),*),
            5 => $check::<domain::Booking>($($argument),*),
            6 => $check::<domain::UnitCheck>($($argument),*),
            _ => $check::<domain::BeamSurvey>($($argument),*),
        }
    };
}
pub(crate) use of_kind;

/// Longest message and longest path or column of a fault, characters: whatever a file holds, people can read what is wrong with it.
const MOST_MESSAGE: usize = 1_500;
const MOST_COLUMN: usize = 200;
/// Longest id said back, characters: as it stands in the file, cut.
const MOST_ID: usize = 63;

/// A record that can be compared and shown.
pub(crate) trait Shown: Resource + PartialEq + Debug {}
impl<R: Resource + PartialEq + Debug> Shown for R {}

/// Splits the input after its first byte: a first line `column=cell<tab>column=cell` where that byte asks for defaults, then the file.
pub(crate) fn with_defaults(kind: u8, rest: &[u8]) -> (BTreeMap<String, String>, &[u8]) {
    if kind & 8 == 0 {
        return (BTreeMap::new(), rest);
    }
    let end = rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len());
    let (line, file) = rest.split_at(end);
    let line = String::from_utf8_lossy(line);
    let cells = line.split('\t').filter_map(|pair| pair.split_once('='));
    let defaults = cells.map(|(column, cell)| (column.to_owned(), cell.to_owned())).collect();
    (defaults, file.strip_prefix(b"\n").unwrap_or(file))
}

/// Whether the ids of a file are all different by what its reader promises, or only by what the store checks later.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ids {
    Different,
    Any,
}

/// What holds of everything that was read from a file; the records come back.
pub(crate) fn judged<R: Shown>(parsed: Parsed<R>, file: &[u8], ids: Ids) -> Vec<R> {
    // However lines end in a file, it has no more of them than this.
    let ends = file.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count();
    let last = u32::try_from(ends).unwrap_or(u32::MAX).saturating_add(1);
    for fault in &parsed.faults {
        has_its_place(fault, last);
    }
    assert!(parsed.faults.is_sorted_by_key(|fault| fault.line), "faults come by line: {:#?}", parsed.faults);
    let count = u32::try_from(parsed.records.len()).unwrap_or(u32::MAX);
    assert!(parsed.rows_read >= count, "{} rows gave {count} records", parsed.rows_read);
    for (line, record) in &parsed.records {
        assert!((1..=last).contains(line), "line {line} of {last}");
        assert_eq!(record.check(), [], "what was read passes its own check: {record:?}");
    }
    let different: BTreeSet<_> = parsed.records.iter().map(|(_, record)| record.id()).collect();
    assert!(ids == Ids::Any || different.len() == parsed.records.len(), "an id stands twice");
    parsed.records.into_iter().map(|(_, record)| record).collect()
}

/// A fault names a line that there is, and says something that can be read.
fn has_its_place(fault: &RowFault, last: u32) {
    assert!((1..=last).contains(&fault.line), "a file of {last} lines: {fault:?}");
    let (message, column) = (fault.message.chars().count(), fault.column.chars().count());
    assert!((1..=MOST_MESSAGE).contains(&message), "a message of {message} characters: {fault:?}");
    assert!(column <= MOST_COLUMN, "a column of {column} characters: {fault:?}");
    assert!(fault.id.chars().count() <= MOST_ID, "a long id: {fault:?}");
}

/// What was written reads back to the same records, and without a fault.
pub(crate) fn comes_back<R: Shown>(records: &[R], again: Parsed<R>, written: &[u8]) {
    let text = String::from_utf8_lossy(written);
    assert_eq!(again.faults, [], "what was written is refused: {text}");
    let back: Vec<_> = again.records.into_iter().map(|(_, record)| record).collect();
    assert_eq!(back, records, "what was written reads differently: {text}");
}
