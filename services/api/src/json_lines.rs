//! A file of JSON lines as records, each fault with its line and its path.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use catalog::exchange::{PART_ROWS, Parsed, RowFault, Take};
use domain::{Fault, FaultReason, Id};

use crate::convert::joined;
use crate::error::Error;
use crate::resource::Record;
use crate::{json, names};

/// What editors of some systems put before the first line.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Reads a file part by part; it breaks where `take` does. Empty lines count as lines but not as rows.
///
/// # Errors
/// The service itself failed; faults of the file are in what comes back.
pub fn read<R: Record>(
    bytes: &[u8],
    defaults: &BTreeMap<String, String>,
    take: &mut Take<'_, R>,
) -> Result<ControlFlow<()>, Error> {
    let mut parsed = Parsed::default();
    if !defaults.is_empty() {
        parsed.faults.push(RowFault {
            line: 1,
            column: "defaults".to_owned(),
            message: "defaults are given for JSON lines; accepted: none, as each line is a whole record; drop them"
                .to_owned(),
            id: String::new(),
        });
        return Ok(take(parsed));
    }
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    for (line, text) in (1_u32..).zip(bytes.split(|&byte| byte == b'\n')) {
        let text = text.strip_suffix(b"\r").unwrap_or(text);
        if text.trim_ascii().is_empty() {
            continue;
        }
        if parsed.records.len() + parsed.faults.len() >= PART_ROWS && take(std::mem::take(&mut parsed)).is_break() {
            return Ok(ControlFlow::Break(()));
        }
        parsed.rows_read += 1;
        match one::<R>(text)? {
            Ok(record) => parsed.records.push((line, record)),
            Err((id, faults)) => parsed.faults.extend(faults.into_iter().map(|fault| RowFault {
                line,
                column: json::path(&fault.field),
                message: fault.message,
                id: id.clone(),
            })),
        }
    }
    Ok(take(parsed))
}

/// One line: the record, or its id as far as it could be read and its faults.
type Line<R> = Result<R, (String, Vec<Fault>)>;

fn one<R: Record>(line: &[u8]) -> Result<Line<R>, Error> {
    let text = match std::str::from_utf8(line) {
        Ok(text) => text,
        Err(error) => {
            let message = format!(
                "byte {} of the line is not UTF-8; accepted: text in UTF-8; save the file in that encoding",
                error.valid_up_to() + 1
            );
            let fault = Fault::new("", FaultReason::BadForm, message);
            return Ok(Err((String::new(), vec![fault])));
        }
    };
    let read = match json::read::<R::Message>(text)? {
        Ok(read) => read,
        Err(faults) => return Ok(Err((String::new(), faults))),
    };
    let name = R::message_name(&read.message).to_owned();
    let id = names::parse("name", R::COLLECTION, &name);
    let shown = id.as_ref().map_or_else(|_| String::new(), |id| id.to_string());
    // Even without an id of its own the rest of the record is looked at, so that all of its faults come back.
    let (id, missing) = match id {
        Ok(id) => (Some(id), read.missing),
        Err(fault) => (Id::parse("unnamed").ok(), [vec![fault], read.missing].concat()),
    };
    let Some(id) = id else { return Ok(Err((shown, missing))) };
    Ok(joined(missing, R::from_message(id, read.message)).map_err(|faults| (shown, faults)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::{SpotRecord, TargetRecord};

    fn read_all<R: Record>(text: &[u8], defaults: &BTreeMap<String, String>) -> Parsed<R> {
        let mut all = Parsed::default();
        let ended = read::<R>(text, defaults, &mut |part| {
            all.append(part);
            ControlFlow::Continue(())
        });
        assert!(ended.unwrap().is_continue());
        all
    }

    fn read_spots(text: &[u8]) -> Parsed<SpotRecord> {
        read_all(text, &BTreeMap::new())
    }

    #[test]
    fn a_long_file_comes_in_parts_that_keep_count_of_lines() {
        let line = |n: u32| {
            format!(
                "{{\"name\":\"spots/s{n}\",\"displayName\":\"S\",\"depthM\":7,\"bottomClass\":\"BOTTOM_CLASS_SILT\"}}\n"
            )
        };
        let text: String = (0..2_500).map(line).collect::<String>() + "{}\n";
        let mut parts = Vec::new();
        let ended = read::<SpotRecord>(text.as_bytes(), &BTreeMap::new(), &mut |part| {
            parts.push((
                part.rows_read,
                part.records.first().map(|(line, _)| *line),
                part.faults.first().map(|f| f.line),
            ));
            ControlFlow::Continue(())
        });
        assert!(ended.unwrap().is_continue());
        assert_eq!(parts, [(1_000, Some(1), None), (1_000, Some(1_001), None), (501, Some(2_001), Some(2_501))]);
        let ended = read::<SpotRecord>(text.as_bytes(), &BTreeMap::new(), &mut |_| ControlFlow::Break(()));
        assert!(ended.unwrap().is_break());
    }

    #[test]
    fn marks_line_ends_and_empty_lines_are_no_obstacle() {
        let text = b"\xef\xbb\xbf{\"name\":\"spots/a\",\"displayName\":\"A\",\"depthM\":7,\"bottomClass\":\"BOTTOM_CLASS_SILT\"}\r\n\r\n\n{\"name\":\"spots/b\",\"displayName\":\"B\",\"depthM\":8,\"bottomClass\":\"BOTTOM_CLASS_ROCK\"}";
        let parsed = read_spots(text);
        assert_eq!(parsed.faults, []);
        assert_eq!((parsed.rows_read, parsed.records.len()), (2, 2));
        assert_eq!(parsed.records[1].0, 4);
    }

    #[test]
    fn every_fault_has_its_line_and_path() {
        let text = b"{\"name\":\"spots/a\",\"depthM\":-1,\"relief\":[{\"heightM\":0.2}]}\n\xff\n{\"name\":\"lakes/a\",\"depthM\":\"NaN\"}\n{\"depth\":3}";
        let parsed = read_spots(text);
        assert_eq!((parsed.rows_read, parsed.records.len()), (4, 0));
        let found: Vec<_> =
            parsed.faults.iter().map(|fault| (fault.line, fault.column.as_str(), fault.id.as_str())).collect();
        assert_eq!(
            found,
            [
                (1, "displayName", "a"),
                (1, "relief[0].kind", "a"),
                (1, "depthM", "a"),
                (2, "", ""),
                (3, "name", ""),
                (3, "displayName", ""),
                (3, "depthM", ""),
                (4, "depth", ""),
            ]
        );
    }

    #[test]
    fn defaults_do_not_go_with_whole_records() {
        let defaults = BTreeMap::from([("kind".to_owned(), "LURE".to_owned())]);
        let parsed = read_all::<TargetRecord>(b"", &defaults);
        assert_eq!(parsed.faults[0].column, "defaults");
    }
}
