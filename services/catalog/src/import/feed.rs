//! From the reader of a file to the writer of the database: the one reads on while the other stores, and neither gets far ahead.

use std::ops::ControlFlow;
use std::sync::Arc;

use domain::{Fault, FaultReason};
use rayon::prelude::*;
use tokio::sync::mpsc;

use crate::error::StoreError;
use crate::exchange::{Ids, Parsed, RowFault};
use crate::kinds::Resource;
use crate::resource::Rows;

/// Parts under way at once.
const PARTS: usize = 4;
/// Fewer records are not worth the way to another thread.
const ENCODED_AT_ONCE: usize = 100;

/// A record as it goes into its row.
pub(super) struct Ready {
    pub(super) line: u32,
    pub(super) id: Arc<str>,
    pub(super) rows: Rows,
}

/// What a feed says.
pub(super) enum ImportMessage {
    Part(Part),
    /// The file has been read to its end. A feed that falls silent without it was broken off.
    End,
}

/// A part of a file.
pub(super) struct Part {
    pub(super) rows_read: u32,
    pub(super) rows: Vec<Ready>,
    pub(super) faults: Vec<RowFault>,
    pub(super) unused: Vec<String>,
}

/// Where the reader of a file puts what it has read.
pub struct Feed {
    sender: mpsc::Sender<Result<ImportMessage, StoreError>>,
    ids: Ids,
}

/// What an import stores: the other end of a [`Feed`].
pub struct Fed {
    pub(super) receiver: mpsc::Receiver<Result<ImportMessage, StoreError>>,
}

/// A feed and its end.
#[must_use]
pub fn feed() -> (Feed, Fed) {
    let (sender, receiver) = mpsc::channel(PARTS);
    (Feed { sender, ids: Ids::default() }, Fed { receiver })
}

impl Feed {
    /// Takes over a part of a file, and waits where the import has enough in hand. It breaks when the import has ended, as when
    /// the disk is full. To be called outside of async tasks.
    pub fn put<R: Resource>(&mut self, parsed: Parsed<R>) -> ControlFlow<()> {
        let part = ImportMessage::Part(self.ready(parsed));
        if self.sender.blocking_send(Ok(part)).is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }

    /// Says that the file has been read to its end. Without it nothing is stored.
    pub fn finish(self) {
        // Nobody listens any more where the import failed, which it tells itself.
        let _ = self.sender.blocking_send(Ok(ImportMessage::End));
    }

    /// Records as they go into their rows. Whatever the reader did, each has passed its check and has an id of its own.
    fn ready<R: Resource>(&mut self, parsed: Parsed<R>) -> Part {
        let Parsed { rows_read, mut records, mut faults, checked, unused } = parsed;
        records.retain(|(line, record)| checked || self.is_sound(*line, record, &mut faults));
        // Of reading, checking, encoding and storing, this is what can be done by more than one thread.
        let rows = records.par_iter().with_min_len(ENCODED_AT_ONCE);
        let rows = rows.map(|(line, record)| Ready {
            line: *line,
            id: Arc::from(record.id().as_str()),
            rows: Rows::of(record),
        });
        Part { rows_read, rows: rows.collect(), faults, unused }
    }

    /// Whether a record passes its check and has an id of its own.
    fn is_sound<R: Resource>(&mut self, line: u32, record: &R, faults: &mut Vec<RowFault>) -> bool {
        let id = record.id();
        let mut found = record.check();
        if let Some(first) = self.ids.note(id, line, found.is_empty()) {
            let message = format!("'{id}' stands on line {first} already; give every record its own id");
            found.push(Fault::new("id", FaultReason::Duplicate, message));
        }
        let sound = found.is_empty();
        faults.extend(found.into_iter().map(|fault| row_fault(line, id.as_str(), fault)));
        sound
    }
}

pub(super) fn row_fault(line: u32, id: &str, fault: Fault) -> RowFault {
    RowFault { line, column: fault.field, message: fault.message, id: id.to_owned() }
}
