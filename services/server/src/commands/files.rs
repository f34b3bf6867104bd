//! Import and export of files.

use std::io::{IsTerminal as _, Write as _};
use std::path::Path;

use proto::v1::{self, RecordKind, import_records_request::Part};

use super::names::full_name;
use crate::cli::{self, Format, Kind};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{self, json, table::Columns};
use crate::starter;

/// Bytes of a file in one message.
const CHUNK_BYTES: usize = 256 * 1024;

/// Kinds in an order in which none refers to a later one.
const REFERRED_FIRST: [RecordKind; 9] = [
    RecordKind::Goals,
    RecordKind::Targets,
    RecordKind::Sensors,
    RecordKind::Shelters,
    RecordKind::Spots,
    RecordKind::Bookings,
    RecordKind::Units,
    RecordKind::UnitChecks,
    RecordKind::BeamSurveys,
];

/// Imports files, each all or nothing.
pub(super) async fn import(connection: &Connection, args: &cli::Import, as_json: bool) -> Outcome {
    if args.starter {
        return import_starter(connection, args, as_json).await;
    }
    let defaults = defaults(&args.defaults)?;
    let mut faults = 0;
    let mut files = Vec::with_capacity(args.files.len());
    for file in &args.files {
        files.push((kind_of(file, args.kind)?, file));
    }
    // What is referred to before what refers to it, in whatever order they were named.
    files.sort_by_key(|(kind, _)| REFERRED_FIRST.iter().position(|first| *first == kind.number()));
    for (kind, file) in files {
        let format = format_of(file, args.format)?;
        let bytes =
            std::fs::read(file).map_err(|e| CliError::Usage(format!("{} cannot be read: {e}", file.display())))?;
        let header = v1::ImportHeader {
            kind: kind.number().into(),
            format: record_format(format).into(),
            skip_bad_rows: args.skip_bad_rows,
            replace_existing: args.replace,
            validate_only: args.check_only,
            defaults: defaults.clone(),
        };
        let answer = send(connection, header, bytes).await?;
        faults += answer.fault_count;
        if as_json {
            json::print(&answer)?;
        } else {
            print_outcome(file, kind, args, &answer);
        }
    }
    if faults == 0 {
        Ok(())
    } else {
        Err(CliError::Partial(format!("{faults} fault(s) in the files; nothing that is listed above was stored")))
    }
}

/// Imports the lures and fish that come with the program.
async fn import_starter(connection: &Connection, args: &cli::Import, as_json: bool) -> Outcome {
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Targets.into(),
        format: v1::RecordFormat::Csv.into(),
        // What is stored already is a fault of its row.
        skip_bad_rows: true,
        replace_existing: args.replace,
        validate_only: args.check_only,
        ..v1::ImportHeader::default()
    };
    let answer = send(connection, header, starter::TARGETS.as_bytes().to_vec()).await?;
    if as_json {
        return json::print(&answer);
    }
    say!("{} lures and fish stored, {} were there already.", answer.created + answer.replaced, answer.fault_count);
    Ok(())
}

/// Sends a file to the service.
pub(super) async fn send(
    connection: &Connection,
    header: v1::ImportHeader,
    bytes: Vec<u8>,
) -> Result<v1::ImportRecordsResponse, CliError> {
    let first = v1::ImportRecordsRequest { part: Some(Part::Header(header)) };
    let bytes = prost::bytes::Bytes::from(bytes);
    let chunks: Vec<_> = (0..bytes.len())
        .step_by(CHUNK_BYTES)
        .map(|at| v1::ImportRecordsRequest {
            part: Some(Part::Chunk(bytes.slice(at..bytes.len().min(at + CHUNK_BYTES)))),
        })
        .collect();
    let parts = futures::stream::iter(std::iter::once(first).chain(chunks));
    Ok(connection.catalog().import_records(parts).await?.into_inner())
}

fn print_outcome(file: &Path, kind: Kind, args: &cli::Import, answer: &v1::ImportRecordsResponse) {
    let stored = answer.created + answer.replaced;
    let verb = if args.check_only { "would be stored" } else { "stored" };
    say!(
        "{}: {} row(s) read, {stored} {} {verb} ({} new, {} overwritten), {} fault(s)",
        file.display(),
        answer.rows_read,
        kind.name(),
        answer.created,
        answer.replaced,
        answer.fault_count
    );
    if !answer.unused_columns.is_empty() {
        say!("Left aside, as no {} has it: {}.", kind.name().trim_end_matches('s'), answer.unused_columns.join(", "));
    }
    if answer.faults.is_empty() {
        return;
    }
    let mut table = Columns::new(&[">line", "column", "id", "what is wrong"]);
    for fault in &answer.faults {
        table.row([fault.line.to_string(), fault.column.clone(), fault.id.clone(), fault.message.clone()]);
    }
    table.print();
    if !args.skip_bad_rows {
        say!("Nothing was stored. Mend the rows, or store the good ones with --skip-bad-rows.");
    }
}

fn defaults(pairs: &[String]) -> Result<std::collections::HashMap<String, String>, CliError> {
    pairs
        .iter()
        .map(|pair| {
            let (column, value) = pair
                .split_once('=')
                .ok_or_else(|| CliError::Usage(format!("--default takes COLUMN=VALUE, not '{pair}'")))?;
            Ok((column.trim().to_owned(), value.trim().to_owned()))
        })
        .collect()
}

fn kind_of(file: &Path, given: Option<Kind>) -> Result<Kind, CliError> {
    let name = file.file_stem().map(|s| s.to_string_lossy().to_lowercase()).unwrap_or_default();
    // The longest name first: `unit-checks.csv` holds no units.
    let list = name.contains("price").then_some(Kind::SENSORS);
    let guessed =
        Kind::all().iter().filter(|k| name.contains(k.name().trim_end_matches('s'))).max_by_key(|k| k.name().len());
    // Waypoints can be nothing else.
    let waypoints = (Format::of_ending(file) == Some(Format::Gpx)).then_some(Kind::SPOTS);
    given.or(waypoints).or(guessed.copied()).or(list).ok_or_else(|| {
        let kinds: Vec<_> = Kind::all().iter().map(|kind| kind.name()).collect();
        let kinds = kinds.join(", ");
        CliError::Usage(format!("what does {} hold? Say --kind ({kinds}), or name the file so", file.display()))
    })
}

fn format_of(file: &Path, given: Option<Format>) -> Result<Format, CliError> {
    given.or_else(|| Format::of_ending(file)).ok_or_else(|| {
        CliError::Usage(format!("in which form is {}? Say --format csv, json-lines or gpx", file.display()))
    })
}

const fn record_format(format: Format) -> v1::RecordFormat {
    match format {
        Format::Csv => v1::RecordFormat::Csv,
        Format::JsonLines => v1::RecordFormat::JsonLines,
        Format::Gpx => v1::RecordFormat::Gpx,
        Format::GeoJson => v1::RecordFormat::GeoJson,
        Format::Xlsx => v1::RecordFormat::Xlsx,
    }
}

/// Exports records to a file or to standard output.
pub(super) async fn export(connection: &Connection, args: &cli::Export) -> Outcome {
    let format = args.format.or_else(|| args.output.as_deref().and_then(Format::of_ending)).unwrap_or(Format::Csv);
    let request = v1::ExportRecordsRequest {
        kind: args.kind.number().into(),
        format: record_format(format).into(),
        filter: args.filter.clone(),
        run: if args.run.is_empty() { String::new() } else { full_name(&args.run, "runs") },
    };
    let mut stream = connection.catalog().export_records(request).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = stream.message().await? {
        bytes.extend_from_slice(&part.chunk);
    }
    match &args.output {
        Some(file) => write(file, &bytes),
        // What goes to a file or a program is as it was sent.
        None if std::io::stdout().is_terminal() => {
            print!("{}", output::shown::escaped(&String::from_utf8_lossy(&bytes)));
            Ok(())
        }
        None => std::io::stdout().write_all(&bytes).map_err(|e| CliError::Usage(e.to_string())),
    }
}

/// Writes a file and says so.
pub(super) fn write(file: &Path, bytes: &[u8]) -> Outcome {
    output::file::write(file, bytes)?;
    say!("{} written, {} bytes.", file.display(), bytes.len());
    Ok(())
}
