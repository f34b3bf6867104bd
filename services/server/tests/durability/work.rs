//! What callers do while the service is killed under them, and what they were told of it.

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::Status;
use tonic::transport::Channel;

use crate::ledger::Ledger;

/// Spots that every run is on.
pub(crate) const BASE_SPOTS: usize = 9;
/// Spots of one import.
pub(crate) const BATCH: usize = 20;
/// Options of every run.
pub(crate) const OPTIONS: [&str; 2] = ["plain-narrow", "plain-middle"];
/// So many that a chunk holds four spots: a run has three chunks.
const DRAWS: u32 = 4_000;

/// A file of spots whose names begin alike.
pub(crate) fn spots(prefix: &str, count: usize) -> String {
    let row = |number| format!("{prefix}-{number},Spot {number},{}.5,silt\n", 4 + number);
    std::iter::once("id,display_name,depth_m,bottom_class\n".to_owned()).chain((0..count).map(row)).collect()
}

pub(crate) async fn connect(url: &str) -> Option<Channel> {
    Channel::from_shared(url.to_owned()).unwrap().connect().await.ok()
}

/// Imports a batch; the ledger knows of the attempt before it is sent, and of the success only after the answer.
pub(crate) async fn import(channel: &Channel, ledger: &Ledger, batch: &str) -> Result<(), Status> {
    ledger.tried_batch(batch);
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    let parts = [Part::Header(header), Part::Chunk(spots(batch, BATCH).into())];
    let parts = parts.map(|part| v1::ImportRecordsRequest { part: Some(part) });
    let answer =
        CatalogServiceClient::new(channel.clone()).import_records(tokio_stream::iter(parts)).await?.into_inner();
    match usize::try_from(answer.created) {
        Ok(BATCH) => ledger.has_batch(batch),
        // Stored by an attempt whose answer was lost.
        _ => assert_eq!(answer.fault_count, i32::try_from(BATCH).unwrap(), "{batch}: {answer:?}"),
    }
    Ok(())
}

/// Starts the run of a request, or finds the one that an earlier attempt started.
pub(crate) async fn start(channel: &Channel, ledger: &Ledger, request: &str) -> Result<String, Status> {
    ledger.tried_run(request);
    let spec = v1::RunSpec {
        spots: (0..BASE_SPOTS).map(|number| format!("spots/base-{number}")).collect(),
        options: OPTIONS.map(|sensor| format!("sensors/{sensor}")).into(),
        lure: "targets/tungsten-jig-5".to_owned(),
        fish: "targets/perch-25".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        draws: DRAWS,
        ..v1::RunSpec::default()
    };
    let asked = v1::StartRunRequest { spec: Some(spec), request_id: request.to_owned(), validate_only: false };
    let run = SelectionServiceClient::new(channel.clone()).start_run(asked).await?.into_inner();
    ledger.has_run(request, &run.name);
    Ok(run.name)
}

/// Follows a run to its end and gives its hash.
pub(crate) async fn end_of(channel: &Channel, run: &str) -> Result<String, Status> {
    let mut client = SelectionServiceClient::new(channel.clone());
    let mut progress = client.watch_run(v1::WatchRunRequest { name: run.to_owned() }).await?.into_inner();
    while progress.message().await?.is_some() {}
    let run = client.get_run(v1::GetRunRequest { name: run.to_owned() }).await?.into_inner();
    assert!(run.error.is_empty(), "{run:?}");
    Ok(run.result_hash)
}

/// Renders a customer sheet on one spot; the heading makes it a report of its own.
pub(crate) async fn report(channel: &Channel, ledger: &Ledger, run: &str, title: &str) -> Result<(), Status> {
    let asked = v1::RenderReportRequest {
        source: run.to_owned(),
        template: "templates/customer-sheet".to_owned(),
        spots: vec!["spots/base-0".to_owned()],
        title: title.to_owned(),
        ..v1::RenderReportRequest::default()
    };
    ledger.tried_report(title);
    let report = ReportServiceClient::new(channel.clone()).render_report(asked).await?.into_inner();
    ledger.has_report(title, &report.name, &report.content_hash);
    Ok(())
}
