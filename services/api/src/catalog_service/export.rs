//! ExportRecords: the same formats as import, in chunks of a file.

use std::sync::Arc;

use catalog::exchange::csv;
use catalog::filter::Filter;
use catalog::{ListQuery, Page, Stored};
use futures::{StreamExt as _, TryStreamExt as _, stream};
use planning::domain::{BeamSurvey, Booking, FaultReason, Id, Sensor, Shelter, Spot, Target, Unit, UnitCheck};
use proto::v1;
use tonic::Status;
use tonic::codegen::BoxStream;

use super::import::{Kind, kind};
use crate::context::Shared;
use crate::convert::Reading;
use crate::error::Error;
use crate::json;
use crate::paging::MAX_PAGE;
use crate::resource::{Record, stored};

/// Bytes of one chunk, as far as records can be cut there.
const CHUNK_BYTES: usize = 64 * 1024;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Csv,
    JsonLines,
}

/// Streams the file.
pub(super) fn export(
    shared: &Arc<Shared>,
    request: &v1::ExportRecordsRequest,
) -> Result<BoxStream<v1::ExportRecordsResponse>, Error> {
    let mut reading = Reading::default();
    let kind = kind(&mut reading, "kind", request.kind);
    let format = format(&mut reading, request.format);
    let read = reading.finish(kind.zip(format), |_| Vec::new()).map_err(Error::BadFields)?;
    let Some((kind, format)) = read else { return Err(Error::internal("a request without faults has no kind")) };
    match kind {
        Kind::Sensors => file::<Sensor>(shared, format, &request.filter),
        Kind::Spots => file::<Spot>(shared, format, &request.filter),
        Kind::Shelters => file::<Shelter>(shared, format, &request.filter),
        Kind::Targets => file::<Target>(shared, format, &request.filter),
        Kind::Units => file::<Unit>(shared, format, &request.filter),
        Kind::Bookings => file::<Booking>(shared, format, &request.filter),
        Kind::UnitChecks => file::<UnitCheck>(shared, format, &request.filter),
        Kind::BeamSurveys => file::<BeamSurvey>(shared, format, &request.filter),
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
        v1::RecordFormat::Gpx | v1::RecordFormat::GeoJson | v1::RecordFormat::Unspecified => {
            let text =
                format!("format {} cannot be exported; accepted: CSV, JSON_LINES; choose one", known.as_str_name());
            reading.refuse("format", FaultReason::BadForm, text);
            None
        }
    }
}

fn file<R: Record>(
    shared: &Arc<Shared>,
    format: Format,
    filter: &str,
) -> Result<BoxStream<v1::ExportRecordsResponse>, Error> {
    let filter = Filter::parse(filter, R::FIELDS)?;
    let head = match format {
        Format::Csv => csv::header::<R>(),
        Format::JsonLines => Vec::new(),
    };
    let body = pages::<R>(Arc::clone(shared), filter).and_then(move |page| async move { lines(format, page) });
    let chunks = stream::iter([Ok(head)])
        .chain(body)
        .map_err(Status::from)
        .map_ok(|bytes| stream::iter(cut(&bytes)).map(Ok))
        .try_flatten();
    Ok(Box::pin(chunks))
}

/// The records, page by page; each page is read when the one before has gone out.
fn pages<R: Record>(
    shared: Arc<Shared>,
    filter: Option<Filter>,
) -> impl stream::Stream<Item = Result<Vec<Stored<R>>, Error>> + Send {
    let begin = Some(None::<Id>);
    stream::try_unfold((shared, filter, begin), |(shared, filter, next)| async move {
        let Some(after) = next else { return Ok(None) };
        let query = ListQuery { filter: filter.clone(), limit: MAX_PAGE, after };
        let Page { items, more, .. } = shared.store().list::<R>(&query).await?;
        let next = items.last().filter(|_| more).map(|last| Some(last.record.id().clone()));
        Ok(Some((items, (shared, filter, next))))
    })
}

fn lines<R: Record>(format: Format, page: Vec<Stored<R>>) -> Result<Vec<u8>, Error> {
    match format {
        Format::Csv => {
            let records: Vec<R> = page.into_iter().map(|stored| stored.record).collect();
            Ok(csv::rows(&records))
        }
        Format::JsonLines => {
            let mut bytes = Vec::new();
            for record in page {
                json::write(&stored(record), &mut bytes)?;
            }
            Ok(bytes)
        }
    }
}

fn cut(bytes: &[u8]) -> Vec<v1::ExportRecordsResponse> {
    bytes.chunks(CHUNK_BYTES).map(|part| v1::ExportRecordsResponse { chunk: part.to_vec().into() }).collect()
}
