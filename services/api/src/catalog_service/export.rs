//! ExportRecords: the formats of import, GeoJSON and spreadsheets, in chunks of a file.

use std::collections::HashMap;
use std::sync::Arc;

use catalog::exchange::{csv, geojson, gpx, xlsx};
use catalog::filter::Filter;
use catalog::{FindingsQuery, ListQuery, Page, Stored, StoredRun};
use domain::selection::RunInput;
use domain::{Cancel, FaultReason, Id, SpotRecord};
use futures::{StreamExt as _, TryStreamExt as _, stream};
use proto::v1;
use tonic::Status;
use tonic::codegen::BoxStream;

use super::import::SPOTS_ONLY;
use crate::ahead::ahead;
use crate::context::{Caller, Shared};
use crate::convert::Reading;
use crate::error::Error;
use crate::json;
use crate::parts::parts;
use crate::resource::{ForKind, Record, for_kind, kind, stored};
use crate::selection_service::stored::stored_run;

/// Bytes of one chunk, as far as records can be cut there.
const CHUNK_BYTES: usize = 64 * 1024;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Csv,
    JsonLines,
    Xlsx,
    /// Of spots only.
    Gpx,
    /// Of spots only.
    GeoJson,
}

/// Records that are read at once: some 64 KiB of most files, as a reader that stands still keeps them.
const PAGE: u32 = 250;

/// A file on its way.
type Pieces = stream::BoxStream<'static, Result<Vec<u8>, Error>>;

/// What the answer is made of.
type Chunks = BoxStream<v1::ExportRecordsResponse>;

/// Streams the file.
pub(super) async fn export(
    shared: &Arc<Shared>,
    request: &v1::ExportRecordsRequest,
    caller: Option<Caller>,
) -> Result<Chunks, Error> {
    let mut reading = Reading::default();
    let kind = kind(&mut reading, "kind", request.kind);
    let format = format(&mut reading, request.format);
    let of_spots = matches!(format, Some(Format::Gpx | Format::GeoJson));
    if of_spots && kind.is_some_and(|kind| kind != v1::RecordKind::Spots) {
        reading.refuse("format", FaultReason::Contradiction, SPOTS_ONLY);
    }
    if !request.run.is_empty() && format != Some(Format::GeoJson) {
        let text =
            "run is given, which only RECORD_FORMAT_GEO_JSON has a place for; leave it out, or choose that format";
        reading.refuse("run", FaultReason::Contradiction, text);
    }
    let read = reading.finish(kind.zip(format), |_| Vec::new()).map_err(Error::BadFields)?;
    let Some((kind, format)) = read else { return Err(Error::internal("a request without faults has no kind")) };
    match format {
        Format::Gpx => waypoints(shared, &request.filter, caller),
        Format::GeoJson => features(shared, (&request.filter, &request.run), caller).await,
        Format::Csv | Format::JsonLines | Format::Xlsx => {
            let file = for_kind(kind, File { shared, format, filter: &request.filter, caller });
            file.ok_or_else(|| Error::internal("a request without faults has no kind"))?
        }
    }
}

/// A file of the records of a kind.
struct File<'a> {
    shared: &'a Arc<Shared>,
    format: Format,
    filter: &'a str,
    caller: Option<Caller>,
}

impl ForKind for File<'_> {
    type Done = Result<Chunks, Error>;

    fn of<R: Record>(self) -> Self::Done {
        file::<R>(self.shared, self.format, self.filter, self.caller)
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
        v1::RecordFormat::Xlsx => Some(Format::Xlsx),
        v1::RecordFormat::Gpx => Some(Format::Gpx),
        v1::RecordFormat::GeoJson => Some(Format::GeoJson),
        // Refused as absent already.
        v1::RecordFormat::Unspecified => None,
    }
}

fn file<R: Record>(
    shared: &Arc<Shared>,
    format: Format,
    filter: &str,
    caller: Option<Caller>,
) -> Result<Chunks, Error> {
    let filter = Filter::parse(filter, &R::filters())?;
    let pages = pages::<R>(Arc::clone(shared), filter, caller.clone());
    Ok(match format {
        Format::Csv => {
            chunks(csv::header::<R>(), pages.and_then(|page| async move { Ok(csv::rows(&records(page))) }), Vec::new())
        }
        Format::JsonLines => chunks(Vec::new(), pages.and_then(|page| async move { lines(page) }), Vec::new()),
        Format::Xlsx => {
            let shared = Arc::clone(shared);
            let book = async move { workbook(&shared, pages, caller.as_ref()).await };
            chunks(Vec::new(), stream::once(book).try_flatten(), Vec::new())
        }
        Format::Gpx | Format::GeoJson => return Err(Error::internal("a format of spots is wanted for another kind")),
    })
}

/// A spreadsheet, made one at a time in a file on the disk.
async fn workbook<R: Record>(
    shared: &Shared,
    pages: impl stream::Stream<Item = Result<Vec<Stored<R>>, Error>>,
    caller: Option<&Caller>,
) -> Result<Pieces, Error> {
    let _turn = shared.books.take(Caller::name(caller)).await?;
    let refused = |error: xlsx::XlsxError| too_many_rows("filter", &error);
    let mut book = xlsx::RecordsBook::<R>::new(R::COLLECTION, shared.context.clock.now()).map_err(refused)?;
    let mut pages = std::pin::pin!(pages);
    while let Some(page) = pages.next().await {
        let page = records(page?);
        book = shared.compute(caller, move |_: &Cancel| book.add(&page).map(|()| book)).await?.map_err(refused)?;
    }
    let file = shared.compute(caller, move |_: &Cancel| book.finish()).await?.map_err(refused)?;
    made(shared, file, caller)
}

/// The pieces of a spreadsheet, within the bytes that its caller may have on the disk.
pub(crate) fn made(shared: &Shared, file: std::fs::File, caller: Option<&Caller>) -> Result<Pieces, Error> {
    let mut held = shared.book_bytes.begin(Caller::name(caller));
    held.more(usize::try_from(file.metadata().map_err(Error::internal)?.len()).unwrap_or(usize::MAX))?;
    Ok(parts(file, held).boxed())
}

/// What a spreadsheet cannot hold, as a refused field.
pub(crate) fn too_many_rows(field: &str, error: &xlsx::XlsxError) -> Error {
    match error {
        xlsx::XlsxError::TooManyRows => Error::field(field, FaultReason::OutOfRange, error.to_string()),
        xlsx::XlsxError::Writer(_) | xlsx::XlsxError::File(_) => Error::internal(error),
    }
}

/// Spots as waypoints.
fn waypoints(shared: &Arc<Shared>, filter: &str, caller: Option<Caller>) -> Result<Chunks, Error> {
    let filter = Filter::parse(filter, &<SpotRecord as catalog::Resource>::filters())?;
    let body = pages::<SpotRecord>(Arc::clone(shared), filter, caller).and_then(|page| async move {
        let unplaced = |error: gpx::NoPosition| Error::field("filter", FaultReason::Contradiction, error.to_string());
        gpx::rows(&records(page)).map_err(unplaced)
    });
    Ok(chunks(gpx::head(), body, gpx::tail()))
}

/// A run with what it was computed from.
struct OfRun {
    run: StoredRun,
    input: Arc<RunInput>,
    /// Where each spot stands in the input.
    places: HashMap<Id, usize>,
}

/// Spots as features of a map, each with the best option of a run if one is named.
async fn features(shared: &Arc<Shared>, (filter, run): (&str, &str), caller: Option<Caller>) -> Result<Chunks, Error> {
    let filter = Filter::parse(filter, &<SpotRecord as catalog::Resource>::filters())?;
    let of_run = if run.is_empty() {
        None
    } else {
        let run = stored_run(shared, "run", run).await?;
        let input = shared.input(&run).await?;
        let places = input.spots.iter().enumerate().map(|(at, spot)| (spot.id.clone(), at)).collect();
        Some(OfRun { run, input, places })
    };
    let of_run = Arc::new(of_run);
    let own = Arc::clone(shared);
    let pages = stream::StreamExt::enumerate(pages::<SpotRecord>(Arc::clone(shared), filter, caller));
    let body = pages.map(|(number, page)| page.map(|page| (number, page))).and_then(move |(number, page)| {
        let (shared, of_run) = (Arc::clone(&own), Arc::clone(&of_run));
        async move {
            let mut bytes = Vec::new();
            for (at, spot) in records(page).iter().enumerate() {
                if number > 0 || at > 0 {
                    bytes.extend_from_slice(geojson::BETWEEN);
                }
                bytes.extend(feature(&shared, spot, of_run.as_ref().as_ref()).await?);
            }
            Ok(bytes)
        }
    });
    Ok(chunks(geojson::head(), body, geojson::tail()))
}

async fn feature(shared: &Shared, spot: &SpotRecord, of_run: Option<&OfRun>) -> Result<Vec<u8>, Error> {
    let Some(OfRun { run, input, places }) = of_run else { return Ok(geojson::feature(spot, None)) };
    let Some(at) = places.get(&spot.id) else { return Ok(geojson::feature(spot, None)) };
    let query = FindingsQuery { spot: Some(*at), max_rank: Some(1), limit: 1, ..FindingsQuery::default() };
    let found = shared.store().findings(run, &query).await?;
    let best = found.first().map(|finding| geojson::Best { run: &run.id, input, finding });
    Ok(geojson::feature(spot, best.as_ref()))
}

/// A file in pieces that messages can carry.
fn chunks(
    head: Vec<u8>,
    body: impl stream::Stream<Item = Result<Vec<u8>, Error>> + Send + 'static,
    tail: Vec<u8>,
) -> Chunks {
    let chunks = stream::iter([Ok(head)])
        .chain(body)
        .chain(stream::iter([Ok(tail)]))
        .map_err(Status::from)
        .map_ok(|bytes| stream::iter(cut(&bytes)).map(Ok))
        .try_flatten();
    ahead(chunks)
}

fn records<R>(page: Vec<Stored<R>>) -> Vec<R> {
    page.into_iter().map(|stored| stored.record).collect()
}

/// The records, page by page; each page is read when the one before has gone out.
fn pages<R: Record>(
    shared: Arc<Shared>,
    filter: Option<Filter>,
    caller: Option<Caller>,
) -> impl stream::Stream<Item = Result<Vec<Stored<R>>, Error>> + Send {
    let begin = Some(None::<Id>);
    stream::try_unfold((shared, filter, caller, begin), |(shared, filter, caller, next)| async move {
        let Some(after) = next else { return Ok(None) };
        let query = ListQuery { filter: filter.clone(), limit: PAGE, after };
        let Page { items, more, .. } = shared.list::<R>(caller.as_ref(), &query).await?;
        let next = items.last().filter(|_| more).map(|last| Some(last.record.id().clone()));
        Ok(Some((items, (shared, filter, caller, next))))
    })
}

fn lines<R: Record>(page: Vec<Stored<R>>) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    for record in page {
        json::write(&stored(record), &mut bytes)?;
    }
    Ok(bytes)
}

fn cut(bytes: &[u8]) -> Vec<v1::ExportRecordsResponse> {
    bytes.chunks(CHUNK_BYTES).map(|part| v1::ExportRecordsResponse { chunk: part.to_vec().into() }).collect()
}
