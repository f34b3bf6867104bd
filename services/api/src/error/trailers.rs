//! What of a refusal fits into the trailers of an answer.

use domain::{Fault, FaultReason};
use tonic_types::FieldViolation;

use super::reason::fault_reason;

/// Room for a status in the trailers, bytes: clients of some languages refuse more than 8 KiB of them, and try again.
const TRAILERS_BYTES: usize = 7_000;
/// Of these, what the names of the trailers and the details besides violations take, the id of the request among them.
const OTHER_BYTES: usize = 1_000;
/// Longest message of a status and longest description of one violation, in characters.
const MAX_TEXT_CHARS: usize = 300;
/// What one violation costs besides its texts.
const VIOLATION_OVERHEAD: usize = 16;

/// Room for violations beside the message of a status, which stands in the trailers twice: once with what is not plain ASCII written as
/// three characters a byte, and once among the details, to which base64 adds a third.
pub(super) fn room_beside(message: &str) -> usize {
    let plain = |byte: u8| matches!(byte, b' '..=b'~') && byte != b'%';
    let written: usize = message.bytes().map(|byte| if plain(byte) { 1 } else { 3 }).sum();
    let details = TRAILERS_BYTES.saturating_sub(OTHER_BYTES + written) / 4 * 3;
    details.saturating_sub(message.len())
}

/// Violations as far as they fit: the first ones with what is wrong with them, further ones by their fields alone; the count of those
/// that do not fit even then comes with them.
pub(super) fn violations(faults: &[Fault], mut room: usize) -> (Vec<FieldViolation>, usize) {
    let size = |v: &FieldViolation| v.field.len() + v.description.len() + v.reason.len() + VIOLATION_OVERHEAD;
    let all: Vec<_> =
        faults.iter().filter(|fault| !matches!(fault.reason, FaultReason::More(_))).map(violation).collect();
    let described = if all.iter().map(size).sum::<usize>() <= room { 0 } else { room / 3 };
    let mut kept = Vec::new();
    for mut violation in all {
        if room.saturating_sub(size(&violation)) < described {
            violation.description.clear();
        }
        let Some(left) = room.checked_sub(size(&violation)) else { break };
        room = left;
        kept.push(violation);
    }
    let left_out = total(faults).saturating_sub(kept.len());
    (kept, left_out)
}

/// How many faults there are, listed or not.
pub(super) fn total(faults: &[Fault]) -> usize {
    let count = |fault: &Fault| match fault.reason {
        FaultReason::More(more) => usize::try_from(more).unwrap_or(usize::MAX),
        FaultReason::Missing
        | FaultReason::NotFinite
        | FaultReason::OutOfRange
        | FaultReason::TooLong
        | FaultReason::BadForm
        | FaultReason::Duplicate
        | FaultReason::Contradiction
        | FaultReason::Unknown => 1,
    };
    faults.iter().map(count).sum()
}

fn violation(fault: &Fault) -> FieldViolation {
    FieldViolation {
        field: shortened(&fault.field),
        description: shortened(&fault.message),
        reason: fault_reason(fault.reason).to_owned(),
        localized_message: None,
    }
}

pub(super) fn shortened(text: &str) -> String {
    text.chars().take(MAX_TEXT_CHARS).collect()
}
