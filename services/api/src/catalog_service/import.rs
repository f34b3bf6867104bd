//! ImportRecords: a header, then the bytes of a file in chunks.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::time::Duration;

use catalog::exchange::{RowFault, Take, csv, gpx, xlsx};
use catalog::{Commit, Existing, ImportMode, ImportOutcome, Skip};
use domain::{Cancel, Fault, FaultReason, SpotRecord};
use futures::FutureExt as _;
use futures::future::BoxFuture;
use proto::v1;
use proto::v1::import_records_request::Part;
use tonic::{Request, Status, Streaming};
use tonic_types::StatusExt as _;

use crate::budget::Held;
use crate::context::{Caller, Shared};
use crate::convert::Reading;
use crate::error::{Error, Reason};
use crate::fleet_service::loan;
use crate::json_lines;
use crate::reflect::{Depth, missing};
use crate::resource::{ForKind, Record, for_kind, kind};

/// Bytes of one chunk.
const CHUNK_BYTES: usize = 1024 * 1024;
/// Defaults of one header, and characters of each.
const DEFAULTS: usize = 64;
const DEFAULT_CHARS: usize = 2_000;

/// Why waypoints are refused for another kind of record.
pub(super) const SPOTS_ONLY: &str =
    "format is GPX or GEO_JSON, which hold spots only; accepted for other kinds: CSV, JSON_LINES, XLSX; choose one";

/// Takes the stream in, then reads and stores the file.
pub(super) async fn import(
    shared: &Shared,
    request: Request<Streaming<v1::ImportRecordsRequest>>,
) -> Result<v1::ImportRecordsResponse, Error> {
    let caller = request.extensions().get::<Caller>().cloned();
    let mut held = shared.uploads.begin(Caller::name(caller.as_ref()));
    let (header, bytes) = receive(request.into_inner(), shared.context.limits.upload_bytes, &mut held).await?;
    // The bytes count until the file has been read, whatever becomes of the call.
    let file = File { header, bytes, held };
    let kind = file.header.kind;
    let stored = if file.header.format == Format::Gpx {
        store_read::<SpotRecord>(shared, file, caller.clone(), read_gpx).await?
    } else {
        let stored = for_kind(kind, Store { shared, file, caller: caller.clone() });
        stored.ok_or_else(|| Error::internal("a header without faults has no kind"))?.await?
    };
    if kind == v1::RecordKind::Bookings {
        loan::follow(shared, caller).await?;
    }
    Ok(stored)
}

/// Reads and stores a file of records.
struct Store<'a> {
    shared: &'a Shared,
    file: File,
    caller: Option<Caller>,
}

impl<'a> ForKind for Store<'a> {
    type Done = BoxFuture<'a, Result<v1::ImportRecordsResponse, Error>>;

    fn of<R: Record>(self) -> Self::Done {
        store::<R>(self.shared, self.file, self.caller).boxed()
    }
}

struct File {
    header: Header,
    bytes: Vec<u8>,
    held: Held,
}

/// A header that has been read.
struct Header {
    kind: v1::RecordKind,
    format: Format,
    mode: ImportMode,
    defaults: BTreeMap<String, String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Csv,
    JsonLines,
    Xlsx,
    /// Of spots only.
    Gpx,
}

async fn receive(
    mut stream: Streaming<v1::ImportRecordsRequest>,
    limit: usize,
    held: &mut Held,
) -> Result<(Header, Vec<u8>), Error> {
    let first = next(&mut stream).await?.and_then(|message| message.part);
    let Some(Part::Header(header)) = first else {
        let text = "the first message holds no header; accepted: header first, then chunks; send it";
        return Err(Error::field("header", FaultReason::Missing, text));
    };
    let header = read_header(header)?;
    let mut bytes = Vec::new();
    while let Some(message) = next(&mut stream).await? {
        match message.part {
            Some(Part::Chunk(chunk)) => {
                if chunk.len() > CHUNK_BYTES {
                    let text =
                        format!("chunk has {} bytes; accepted: up to {CHUNK_BYTES}; send more of them", chunk.len());
                    return Err(Error::field("chunk", FaultReason::TooLong, text));
                }
                if bytes.len() + chunk.len() > limit {
                    return Err(Error::UploadTooLarge { limit });
                }
                held.more(chunk.len())?;
                bytes.extend_from_slice(&chunk);
            }
            Some(Part::Header(_)) => {
                let text = "a second header follows; accepted: one, in the first message; begin another import for it";
                return Err(Error::field("header", FaultReason::Duplicate, text));
            }
            None => {
                let text = "a message holds neither header nor chunk; accepted: chunks after the header; send one";
                return Err(Error::field("chunk", FaultReason::Missing, text));
            }
        }
    }
    Ok((header, bytes))
}

/// The next message. A stream that breaks ends the call with nothing stored.
async fn next(stream: &mut Streaming<v1::ImportRecordsRequest>) -> Result<Option<v1::ImportRecordsRequest>, Error> {
    stream.message().await.map_err(|status| {
        if let Some(idle) = stream_idle(&status) {
            return idle;
        }
        let text = format!("the stream broke: {}; nothing was stored; send the file again", status.message());
        Error::field("chunk", FaultReason::BadForm, text)
    })
}

/// The error of a stream that its caller left waiting, if that is what it broke of.
fn stream_idle(status: &Status) -> Option<Error> {
    let details = status.get_error_details();
    let info = details.error_info().filter(|info| info.reason == Reason::StreamIdle.as_str())?;
    let limit = info.metadata.get("limit_ms")?.parse().ok()?;
    Some(Error::StreamIdle { limit: Duration::from_millis(limit) })
}

fn read_header(header: v1::ImportHeader) -> Result<Header, Error> {
    let absent = missing(&header, Depth::Whole)?;
    let mut reading = Reading::default();
    let kind = kind(&mut reading, "kind", header.kind);
    let format = format(&mut reading, header.format);
    if format == Some(Format::Gpx) && kind.is_some_and(|kind| kind != v1::RecordKind::Spots) {
        reading.refuse("format", FaultReason::Contradiction, SPOTS_ONLY);
    }
    if header.defaults.len() > DEFAULTS {
        let text = format!("defaults has {} entries; accepted: up to {DEFAULTS}; drop some", header.defaults.len());
        reading.refuse("defaults", FaultReason::OutOfRange, text);
    }
    if header.defaults.values().chain(header.defaults.keys()).any(|text| text.chars().count() > DEFAULT_CHARS) {
        let text = format!("defaults holds a text of more than {DEFAULT_CHARS} characters; shorten it");
        reading.refuse("defaults", FaultReason::TooLong, text);
    }
    let mode = ImportMode {
        skip_bad: if header.skip_bad_rows { Skip::BadRows } else { Skip::Nothing },
        existing: if header.replace_existing { Existing::Replace } else { Existing::Refuse },
        commit: if header.validate_only { Commit::CheckOnly } else { Commit::Store },
    };
    let defaults = header.defaults.into_iter().collect();
    let read = reading.finish(kind.zip(format), |_| Vec::new());
    let refused = |faults: Vec<Fault>| Error::BadFields(faults).under("header");
    match crate::convert::joined(absent, read).map_err(refused)? {
        Some((kind, format)) => Ok(Header { kind, format, mode, defaults }),
        None => Err(Error::internal("a header without faults has neither kind nor format")),
    }
}

fn format(reading: &mut Reading, number: i32) -> Option<Format> {
    let known = reading.choice(
        "format",
        number,
        |format| (format != v1::RecordFormat::Unspecified).then_some(format),
        v1::RecordFormat::as_str_name,
    )?;
    match known {
        v1::RecordFormat::Csv => Some(Format::Csv),
        v1::RecordFormat::JsonLines => Some(Format::JsonLines),
        v1::RecordFormat::Gpx => Some(Format::Gpx),
        v1::RecordFormat::Xlsx => Some(Format::Xlsx),
        v1::RecordFormat::GeoJson | v1::RecordFormat::Unspecified => {
            let text = format!(
                "format {} cannot be imported; accepted: CSV, JSON_LINES, XLSX, for spots also GPX; convert the file",
                known.as_str_name()
            );
            reading.refuse("format", FaultReason::BadForm, text);
            None
        }
    }
}

/// Reads the records of a file, part by part.
type Read<R> = fn(&[u8], &BTreeMap<String, String>, &mut Take<'_, R>) -> Result<ControlFlow<()>, Error>;

fn read_csv<R: Record>(
    bytes: &[u8],
    defaults: &BTreeMap<String, String>,
    take: &mut Take<'_, R>,
) -> Result<ControlFlow<()>, Error> {
    Ok(csv::read_parts::<R>(bytes, defaults, take))
}

fn read_xlsx<R: Record>(
    bytes: &[u8],
    defaults: &BTreeMap<String, String>,
    take: &mut Take<'_, R>,
) -> Result<ControlFlow<()>, Error> {
    let rows = xlsx::read(bytes).map_err(|error| Error::field("chunk", FaultReason::BadForm, error.to_string()))?;
    Ok(csv::read_parts::<R>(&rows, defaults, take))
}

fn read_gpx(
    bytes: &[u8],
    defaults: &BTreeMap<String, String>,
    take: &mut Take<'_, SpotRecord>,
) -> Result<ControlFlow<()>, Error> {
    Ok(take(gpx::read(bytes, defaults)))
}

async fn store<R: Record>(
    shared: &Shared,
    file: File,
    caller: Option<Caller>,
) -> Result<v1::ImportRecordsResponse, Error> {
    let read: Read<R> = match file.header.format {
        Format::Csv => read_csv::<R>,
        Format::JsonLines => json_lines::read::<R>,
        Format::Xlsx => read_xlsx::<R>,
        Format::Gpx => return Err(Error::internal("waypoints of a kind other than spots passed the header's check")),
    };
    store_read(shared, file, caller, read).await
}

async fn store_read<R: Record>(
    shared: &Shared,
    file: File,
    caller: Option<Caller>,
    read: Read<R>,
) -> Result<v1::ImportRecordsResponse, Error> {
    let File { header, bytes, held } = file;
    let turn = shared.imports.take(Caller::name(caller.as_ref())).await?;
    let mode = header.mode;
    let (mut feed, fed) = catalog::feed();
    // Reading a large file would hold up every other call on this thread. It goes on while what was read is being stored.
    let parse = move |_: &Cancel| -> Result<(), Error> {
        let _held = held;
        if read(&bytes, &header.defaults, &mut |part| feed.put(part))?.is_continue() {
            feed.finish();
        }
        Ok(())
    };
    let write = shared.write(caller.clone());
    let (parsed, outcome) =
        tokio::join!(shared.compute(caller.as_ref(), parse), shared.store().import::<R>(fed, mode, &write));
    drop(turn);
    // Where the reading failed, the storing only tells that it was broken off.
    parsed??;
    Ok(answer(outcome?))
}

fn answer(outcome: ImportOutcome) -> v1::ImportRecordsResponse {
    let count = |number: u32| i32::try_from(number).unwrap_or(i32::MAX);
    let fault = |fault: RowFault| v1::RowFault {
        line: count(fault.line),
        column: fault.column,
        message: fault.message,
        id: fault.id,
    };
    v1::ImportRecordsResponse {
        rows_read: count(outcome.rows_read),
        created: count(outcome.created),
        replaced: count(outcome.replaced),
        fault_count: count(outcome.fault_count),
        faults: outcome.faults.into_iter().map(fault).collect(),
        unused_columns: outcome.unused,
    }
}
