//! ExportFindings: a spreadsheet in chunks.

use std::fs::File;

use catalog::exchange::xlsx::{FindingsBook, XlsxError};
use catalog::{FindingKey, FindingsQuery};
use domain::Cancel;
use futures::TryStreamExt as _;
use proto::v1;
use tonic::Status;
use tonic::codegen::BoxStream;

use super::findings::{Selection, select};
use crate::ahead::ahead;
use crate::catalog_service::export::{made, too_many_rows};
use crate::context::{Caller, Shared};
use crate::convert::Reading;
use crate::error::Error;
use crate::paging::MAX_PAGE;

/// Streams the file. It is compressed as a whole, so that it is made before the first chunk goes out, one at a time and on the disk.
pub(super) async fn export(
    shared: &Shared,
    request: &v1::ExportFindingsRequest,
    caller: Option<&Caller>,
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
    let _turn = shared.books.take(Caller::name(caller)).await?;
    let file = book(shared, selection, caller).await?;
    let pieces = made(shared, file, caller)?;
    Ok(ahead(pieces.map_ok(|chunk| v1::ExportFindingsResponse { chunk }).map_err(Status::from)))
}

/// The findings that a request selects, as a file.
async fn book(shared: &Shared, selection: Selection, caller: Option<&Caller>) -> Result<File, Error> {
    let refused = |error: XlsxError| too_many_rows("parent", &error);
    let Selection { run, input, spot, max_rank, .. } = selection;
    let mut book = FindingsBook::new(run.clone(), input).map_err(refused)?;
    let mut after = None;
    loop {
        let query = FindingsQuery { spot, max_rank, after, limit: MAX_PAGE };
        let page = shared.store().findings(&run, &query).await?;
        let full = page.len() >= query.limit as usize;
        after = page.last().map(FindingKey::of);
        book = shared.compute(caller, move |_: &Cancel| book.add(&page).map(|()| book)).await?.map_err(refused)?;
        if !full {
            break;
        }
    }
    shared.compute(caller, move |_: &Cancel| book.finish()).await?.map_err(refused)
}
