//! Files: what one holds is shown before anything is stored, and the good rows can be stored while the bad ones wait.

use std::time::Instant;

use axum::extract::Request;
use axum::response::Response;
use http::StatusCode;
use http::header::CONTENT_TYPE;
use maud::{Markup, html};
use multer::{Constraints, Multipart, SizeLimit};
use proto::v1;

use super::kind::Kind;
use super::list::kinds;
use super::uploads::Upload;
use crate::answer::see;
use crate::desk::random_id;
use crate::fields::Fields;
use crate::page::{self, Tab, mark};
use crate::say::Say;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;

/// Largest file, bytes; longer ones go by the terminal.
const MAX_FILE: u64 = 16 * 1024 * 1024;
/// Bytes of one message of an import.
const CHUNK: usize = 256 * 1024;
/// Groups of faults that are listed.
const GROUPS: usize = 10;

/// The form that takes a file.
pub(super) fn ask(visit: &Visit) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    let body = html! {
        h1 { (say.t("import")) }
        (kinds(say, None))
        p { (say.t("import-help")) }
        // The mark comes first, so that a foreign file is not even read.
        form.narrow method="post" action="/shelf/import" enctype="multipart/form-data" {
            (mark(visit))
            div.field {
                label for="kind" { (say.t("import-kind")) }
                select id="kind" name="kind" {
                    @for kind in Kind::ALL { option value=(kind.address()) { (say.t(kind.title_key())) } }
                }
            }
            div.field {
                label for="file" { (say.t("import-file")) }
                input id="file" name="file" type="file" required accept=".csv,.tsv,.txt,.xlsx,.json,.jsonl,.ndjson,.gpx";
                p.help { (say.t("import-file-help")) }
            }
            p.buttons { button.first type="submit" { (say.t("import-look")) } }
        }
    };
    Ok(page::whole(visit, Tab::Shelf, say.t("import"), StatusCode::OK, &body))
}

/// Takes a file and shows what it holds.
pub(super) async fn take(visit: &Visit, request: Request) -> Result<Response, Stop> {
    let kind = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let boundary = multer::parse_boundary(kind).map_err(|_| Stop::BadForm)?;
    let limits = SizeLimit::new().whole_stream(MAX_FILE + 4_096).per_field(MAX_FILE);
    let allowed = Constraints::new().size_limit(limits).allowed_fields(vec!["mark", "kind", "file"]);
    let mut parts = Multipart::with_constraints(request.into_body().into_data_stream(), boundary, allowed);
    let mut marked = false;
    let mut kind = Kind::Sensors;
    let mut file = None;
    while let Some(part) = parts.next_field().await.map_err(|e| read_fault(&e))? {
        let name = part.name().unwrap_or_default().to_owned();
        let file_name = part.file_name().unwrap_or_default().to_owned();
        if name != "mark" && !marked {
            return Err(Stop::BadForm);
        }
        match name.as_str() {
            "mark" => marked = visit.desk.marked(&part.text().await.map_err(|e| read_fault(&e))?),
            "kind" => {
                let chosen = part.text().await.map_err(|e| read_fault(&e))?;
                kind = Kind::of(&chosen).ok_or(Stop::BadForm)?;
            }
            _ => file = Some((file_name, part.bytes().await.map_err(|e| read_fault(&e))?)),
        }
    }
    let (name, bytes) = file.filter(|(_, bytes)| !bytes.is_empty()).ok_or(Stop::BadForm)?;
    let id = random_id().map_err(Stop::Failed)?;
    let format = format_of(&name);
    let name = name.chars().filter(|c| !c.is_control()).take(80).collect();
    visit.desk.uploads.put(Upload { id: id.clone(), name, kind, format, bytes, at: Instant::now() });
    Ok(see(&format!("/shelf/import/{id}")))
}

fn read_fault(error: &multer::Error) -> Stop {
    match error {
        multer::Error::FieldSizeExceeded { .. } | multer::Error::StreamSizeExceeded { .. } => Stop::TooLarge,
        _ => Stop::BadForm,
    }
}

/// The form that the ending of a file's name tells of; a table where it tells of none.
fn format_of(name: &str) -> v1::RecordFormat {
    match name.rsplit('.').next().unwrap_or_default().to_lowercase().as_str() {
        "json" | "jsonl" | "ndjson" => v1::RecordFormat::JsonLines,
        "gpx" => v1::RecordFormat::Gpx,
        "xlsx" => v1::RecordFormat::Xlsx,
        _ => v1::RecordFormat::Csv,
    }
}

/// How a file is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sending {
    /// Everything is checked and nothing stored.
    Look,
    /// Good rows are stored, bad ones are not.
    Store,
}

async fn send(visit: &Visit, upload: &Upload, sending: Sending) -> Result<v1::ImportRecordsResponse, Stop> {
    use v1::import_records_request::Part;
    let header = v1::ImportHeader {
        kind: upload.kind.record_kind().into(),
        format: upload.format.into(),
        skip_bad_rows: true,
        replace_existing: true,
        validate_only: sending == Sending::Look,
        ..Default::default()
    };
    let chunks = upload.bytes.chunks(CHUNK).map(|chunk| Part::Chunk(upload.bytes.slice_ref(chunk)));
    let parts: Vec<_> = std::iter::once(Part::Header(header)).chain(chunks).collect();
    let messages = parts.into_iter().map(|part| v1::ImportRecordsRequest { part: Some(part) });
    Ok(visit.client.catalog().import_records(futures::stream::iter(messages)).await?.into_inner())
}

/// What a file holds.
pub(super) async fn preview(visit: &Visit, id: &str) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let upload = visit.desk.uploads.get(id).ok_or(Stop::NotThere)?;
    let found = send(visit, &upload, Sending::Look).await;
    let found = match found {
        Ok(found) => found,
        Err(Stop::Refused(faults)) => return Ok(refused(visit, say, &upload, &faults)),
        Err(stop) => return Err(stop),
    };
    let count = |n: i32| usize::try_from(n).unwrap_or(0);
    let ready = count(found.created) + count(found.replaced);
    let read = count(found.rows_read);
    let to_repair = rows_at_fault(&found);
    let what = say.t(upload.kind.title_key());
    let title = say.f(
        "import-title",
        &[("read", &say.whole(read)), ("ready", &say.whole(ready)), ("repair", &say.whole(to_repair))],
    );
    let body = html! {
        p.small { a href="/shelf/import" { (say.t("import")) } " › " (upload.name) " · " (what) }
        h1 { (title) }
        p { (say.t("nothing-stored-yet")) }
        @if found.replaced > 0 { p { (say.f("import-exists", &[("count", &say.whole(count(found.replaced))), ("new", &say.whole(count(found.created)))])) } }
        @if !found.unused_columns.is_empty() { p { (say.f("import-unused", &[("columns", &found.unused_columns.join(", "))])) } }
        @if found.fault_count > 0 { (repairs(say, &found)) }
        form.buttons method="post" action=(format!("/shelf/import/{id}")) {
            (mark(visit))
            @if ready > 0 {
                button.first type="submit" name="then" value="store" {
                    @if to_repair > 0 { (say.f("store-some", &[("ready", &say.whole(ready)), ("repair", &say.whole(to_repair))])) }
                    @else { (say.f("store-all", &[("ready", &say.whole(ready))])) }
                }
            }
            button type="submit" name="then" value="nothing" { (say.t("store-nothing")) }
        }
    };
    Ok(page::whole(visit, Tab::Shelf, &title, StatusCode::OK, &body))
}

/// Rows with a fault: one row may have several.
fn rows_at_fault(found: &v1::ImportRecordsResponse) -> usize {
    let mut lines: Vec<i32> = found.faults.iter().map(|fault| fault.line).collect();
    lines.sort_unstable();
    lines.dedup();
    // Where more faults were counted than are listed, each counts for a row.
    let unlisted = usize::try_from(found.fault_count).unwrap_or(0).saturating_sub(found.faults.len());
    lines.len() + unlisted
}

/// A file that could not be read as a whole.
fn refused(visit: &Visit, say: Say<'_>, upload: &Upload, faults: &[Fault]) -> Response {
    let title = say.f("import-unread", &[("name", &upload.name)]);
    let body = html! {
        h1 { (title) }
        p { (say.t("nothing-stored-yet")) }
        ul { @for fault in faults.iter().take(GROUPS) { li { (fault.text) } } }
        p { a href="/shelf/import" { (say.t("go-back")) } }
    };
    page::whole(visit, Tab::Shelf, &title, StatusCode::UNPROCESSABLE_ENTITY, &body)
}

/// Faults of one column that say the same stand together.
fn repairs(say: Say<'_>, found: &v1::ImportRecordsResponse) -> Markup {
    let mut groups: Vec<(&str, &str, Vec<i32>)> = Vec::new();
    for fault in &found.faults {
        match groups.iter_mut().find(|(column, text, _)| *column == fault.column && *text == fault.message) {
            Some((_, _, lines)) => lines.push(fault.line),
            None => groups.push((&fault.column, &fault.message, vec![fault.line])),
        }
    }
    let others = groups.len().saturating_sub(GROUPS);
    html! {
        h2 { (say.t("import-repair")) }
        table.cards {
            thead { tr { th scope="col" { (say.t("row")) } th scope="col" { (say.t("column")) } th scope="col" { (say.t("fault")) } } }
            tbody {
                @for (column, text, lines) in groups.iter().take(GROUPS) {
                    tr {
                        th scope="row" { (rows(say, lines)) }
                        td data-label=(say.t("column")) { (column) }
                        td data-label=(say.t("fault")) { (text) }
                    }
                }
            }
        }
        @if others > 0 { p { (say.f("and-more", &[("count", &say.whole(others))])) } }
        p.small { (say.t("import-repair-help")) }
    }
}

/// `12, 14 and 30 more`.
fn rows(say: Say<'_>, lines: &[i32]) -> String {
    let first: Vec<String> = lines.iter().take(3).map(ToString::to_string).collect();
    let others = lines.len().saturating_sub(3);
    if others == 0 {
        first.join(", ")
    } else {
        format!("{} {}", first.join(", "), say.f("and-more", &[("count", &say.whole(others))]))
    }
}

/// Stores the good rows, or nothing.
pub(super) async fn store(visit: &Visit, id: &str, fields: &Fields) -> Result<Response, Stop> {
    let upload = visit.desk.uploads.get(id).ok_or(Stop::NotThere)?;
    if fields.get("then") != "store" {
        visit.desk.uploads.forget(id);
        return Ok(see(&format!("/shelf/{}", upload.kind.address())));
    }
    let stored = send(visit, &upload, Sending::Store).await?;
    visit.desk.uploads.forget(id);
    visit.desk.work.forget_answers();
    Ok(see(&format!("/shelf/{}?stored={}", upload.kind.address(), stored.created + stored.replaced)))
}
