//! ExportFindings: a spreadsheet in chunks.

use catalog::exchange::xlsx::FindingsBook;
use catalog::{FindingKey, FindingsQuery};
use domain::Cancel;
use domain::selection::Finding;
use proto::v1;
use tonic::codegen::BoxStream;

use super::findings::{Selection, select};
use crate::catalog_service::export::too_many_rows;
use crate::context::Shared;
use crate::convert::Reading;
use crate::error::Error;
use crate::paging::MAX_PAGE;

/// Bytes of one chunk.
const CHUNK_BYTES: usize = 64 * 1024;

/// Streams the file. It is compressed as a whole, so that it is made before the first chunk goes out.
pub(super) async fn export(
    shared: &Shared,
    request: &v1::ExportFindingsRequest,
) -> Result<BoxStream<v1::ExportFindingsResponse>, Error> {
    let mut reading = Reading::default();
    let format = reading.choice(
        "format",
        request.format,
        |format| (format != v1::FindingFormat::Unspecified).then_some(format),
        v1::FindingFormat::as_str_name,
    );
    reading.finish(format, |_| Vec::new()).map_err(Error::BadFields)?;
    let selection = select(shared, &request.parent, &request.spot, request.max_rank).await?;
    let findings = all(shared, &selection).await?;
    let Selection { run, input, .. } = selection;
    let work = move |_: &Cancel| {
        let mut book = FindingsBook::new(&run, &input)?;
        book.add(&findings)?;
        book.finish()
    };
    let bytes = shared.context.engine.compute(work).await?.map_err(|error| too_many_rows("parent", &error))?;
    let chunk = |part: &[u8]| Ok(v1::ExportFindingsResponse { chunk: part.to_vec() });
    let chunks: Vec<_> = bytes.chunks(CHUNK_BYTES).map(chunk).collect();
    Ok(Box::pin(futures::stream::iter(chunks)))
}

/// The findings that a request selects, up to one more than a sheet can hold.
async fn all(shared: &Shared, selection: &Selection) -> Result<Vec<Finding>, Error> {
    let most = usize::try_from(catalog::exchange::xlsx::MOST_ROWS).unwrap_or(usize::MAX);
    let mut all: Vec<Finding> = Vec::new();
    while all.len() <= most {
        let query = FindingsQuery {
            spot: selection.spot,
            max_rank: selection.max_rank,
            after: all.last().map(FindingKey::of),
            limit: MAX_PAGE,
        };
        let page = shared.store().findings(&selection.run, &query).await?;
        let full = page.len() >= query.limit as usize;
        all.extend(page);
        if !full {
            break;
        }
    }
    Ok(all)
}
