//! JSON lines: what is accepted survives writing and reading unchanged, and faults name their line.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use api::edge::{Record, read_json_lines, write_json_line};
use catalog::exchange::Parsed;

use super::records::{Ids, Shown, comes_back, judged, of_kind};

pub(crate) fn target(data: &[u8]) {
    let Some((kind, file)) = data.split_first() else { return };
    of_kind!(kind, check(file));
}

fn check<R: Record + Shown>(file: &[u8]) {
    let records = judged(read::<R>(file), file, Ids::Any);
    let mut written = Vec::new();
    for record in &records {
        let done = write_json_line(&record.to_message(), &mut written);
        assert!(done.is_ok(), "{record:?} cannot be written: {done:?}");
    }
    let lines = written.iter().filter(|byte| **byte == b'\n').count();
    assert_eq!(lines, records.len(), "one line a record: {}", String::from_utf8_lossy(&written));
    comes_back(&records, read(&written), &written);
}

/// Reads a file, which may be refused but never ends in a fault of the service.
fn read<R: Record>(file: &[u8]) -> Parsed<R> {
    let mut all = Parsed::default();
    let read = read_json_lines::<R>(file, &BTreeMap::new(), &mut |part| {
        all.append(part);
        ControlFlow::Continue(())
    });
    assert!(read.is_ok(), "{:?}", read.err());
    all
}
