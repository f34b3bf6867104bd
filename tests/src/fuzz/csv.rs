//! CSV: what is accepted survives writing and reading unchanged, and faults name their line.

use std::collections::BTreeMap;

use catalog::exchange::csv::{self, CsvRecord};
use domain::Id;

use super::records::{Ids, Shown, comes_back, judged, of_kind, with_defaults};

pub(crate) fn target(data: &[u8]) {
    let Some((kind, rest)) = data.split_first() else { return };
    of_kind!(kind, check(*kind, rest));
}

fn check<R: CsvRecord + Shown>(kind: u8, rest: &[u8]) {
    let (defaults, file) = with_defaults(kind, rest);
    let parsed = csv::read::<R>(file, &defaults);
    // A quoted cell may hold line ends, and ids may come from a default; else a line of the file is a row with its id.
    if !file.contains(&b'"') && defaults.is_empty() {
        for (line, record) in &parsed.records {
            stands_on(file, *line, record.id().as_str());
        }
        for fault in parsed.faults.iter().filter(|fault| !fault.id.ends_with('…')) {
            stands_on(file, fault.line, &fault.id);
        }
    }
    let records = judged(parsed, file, Ids::Different);
    round_trip(&records);
}

/// The line of a record or a fault, as people count lines, holds its id.
fn stands_on(file: &[u8], line: u32, id: &str) {
    let text = String::from_utf8_lossy(file).replace("\r\n", "\n").replace('\r', "\n");
    let there = text.split('\n').nth(usize::try_from(line.saturating_sub(1)).unwrap_or(usize::MAX));
    // Where a file has no ids, they are made from names, in which the other separators may stand.
    let made = |there: &str| {
        let cells = [',', ';', '\t'].into_iter().flat_map(|separator| there.split(separator));
        cells.filter_map(Id::of_name).any(|made| made.as_str() == id)
    };
    let stands = there.is_some_and(|there| there.contains(id) || made(there));
    assert!(stands, "'{id}' does not stand on line {line}: {there:?}");
}

/// Writes records and reads them.
pub(crate) fn round_trip<R: CsvRecord + Shown>(records: &[R]) {
    let written = [csv::header::<R>(), csv::rows(records)].concat();
    comes_back(records, csv::read(&written, &BTreeMap::new()), &written);
}
