//! What one caller may have at once, and how long it may leave a stream waiting.

use std::time::{Duration, Instant};

use api::CallerLimits;
use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::transport::Channel;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

use crate::{Link, add_token, show};
use tests::kit::service::{Service, Setup, reason};

type Client = CatalogServiceClient<Link>;

async fn service(calls: usize, stream_idle: Duration) -> Service {
    Service::start_with(Setup { limits: CallerLimits { calls, stream_idle }, ..Setup::default() }).await
}

async fn client(service: &Service, name: &str, byte: u8) -> Client {
    CatalogServiceClient::new(show(&service.channel, &add_token(service, name, byte, None).await))
}

fn header() -> v1::ImportRecordsRequest {
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    v1::ImportRecordsRequest { part: Some(Part::Header(header)) }
}

async fn list(client: &mut Client) -> Result<(), Status> {
    client.list_spots(v1::ListSpotsRequest::default()).await.map(|_| ())
}

/// Calls until it is as wanted, with a bound.
async fn until(client: &mut Client, wanted: impl Fn(&Result<(), Status>) -> bool) -> Result<(), Status> {
    let start = Instant::now();
    loop {
        let outcome = list(client).await;
        if wanted(&outcome) {
            return outcome;
        }
        assert!(start.elapsed() < Duration::from_secs(20), "still {outcome:?}");
    }
}

type Parts = mpsc::Sender<v1::ImportRecordsRequest>;
type Import = tokio::task::JoinHandle<Result<tonic::Response<v1::ImportRecordsResponse>, Status>>;

/// An import whose file does not end before its sender is dropped: it holds a place as long.
fn hold(service: &Service, token: &str) -> (Parts, Import) {
    let (parts, stream) = mpsc::channel(1);
    parts.try_send(header()).unwrap();
    let mut client = CatalogServiceClient::new(show(&service.channel, token));
    (parts, tokio::spawn(async move { client.import_records(ReceiverStream::new(stream)).await }))
}

#[tokio::test]
async fn one_caller_cannot_take_the_places_of_others() {
    let service = service(1, Duration::from_secs(60)).await;
    let (mut greedy, mut modest) = (client(&service, "greedy", 1).await, client(&service, "modest", 2).await);
    let (mut parts, mut import) = hold(&service, &token(1));
    let start = Instant::now();
    // Until the import has arrived the call gets through, and may even be the one that keeps the import out.
    let refused = loop {
        match list(&mut greedy).await {
            Err(status) => break status,
            Ok(()) if import.is_finished() => (parts, import) = hold(&service, &token(1)),
            Ok(()) => assert!(start.elapsed() < Duration::from_secs(20), "nothing was refused"),
        }
    };
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::ResourceExhausted, "OVERLOADED"));
    let details = refused.get_error_details();
    assert!(details.retry_info().unwrap().retry_delay.unwrap() > Duration::ZERO);
    assert!(
        refused.message().contains("'greedy' has as many calls in hand as one caller may (1)"),
        "{}",
        refused.message()
    );
    list(&mut modest).await.unwrap();
    drop(parts);
    import.await.unwrap().unwrap();
    until(&mut greedy, Result::is_ok).await.unwrap();
}

#[tokio::test]
async fn an_upload_that_pauses_is_ended_with_nothing_stored() {
    let service = service(64, Duration::from_millis(200)).await;
    let mut client = client(&service, "slow", 1).await;
    let (parts, stream) = mpsc::channel(2);
    parts.try_send(header()).unwrap();
    let row = "id,display_name,depth_m,bottom_class\nbar,Bar,6,gravel\n";
    parts.try_send(v1::ImportRecordsRequest { part: Some(Part::Chunk(row.into())) }).unwrap();
    let status = client.import_records(ReceiverStream::new(stream)).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::DeadlineExceeded, "STREAM_IDLE"));
    assert!(status.message().contains("200ms"), "{}", status.message());
    let spots = client.list_spots(v1::ListSpotsRequest::default()).await.unwrap().into_inner();
    assert_eq!(spots.total_size, 0);
}

#[tokio::test]
async fn a_download_that_nobody_takes_gives_its_place_back() {
    let service = service(1, Duration::from_millis(500)).await;
    let mut reader = client(&service, "reader", 1).await;
    let rows: String =
        (0..4_000).map(|i| format!("s{i},{},6,gravel\n", "A spot with a long name ".repeat(4).trim())).collect();
    let file = format!("id,display_name,depth_m,bottom_class\n{rows}");
    let chunk = v1::ImportRecordsRequest { part: Some(Part::Chunk(file.into_bytes().into())) };
    let stored = reader.import_records(tokio_stream::iter([header(), chunk])).await.unwrap().into_inner();
    assert_eq!(stored.created, 4_000);
    // A connection that takes no more than 64 KiB before its reader asks for it.
    let narrow = Channel::builder(service.url.parse().unwrap())
        .initial_stream_window_size(65_535)
        .initial_connection_window_size(65_535)
        .connect()
        .await
        .unwrap();
    let mut idler = CatalogServiceClient::new(show(&narrow, &token(1)));
    let request = v1::ExportRecordsRequest {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        filter: String::new(),
        ..v1::ExportRecordsRequest::default()
    };
    let mut export = idler.export_records(request).await.unwrap().into_inner();
    assert_eq!(list(&mut reader).await.unwrap_err().code(), Code::ResourceExhausted, "the only place is taken");
    until(&mut reader, Result::is_ok).await.unwrap();
    let mut bytes = 0;
    let status = loop {
        match export.message().await {
            Ok(Some(part)) => bytes += part.chunk.len(),
            Ok(None) => panic!("the export went to its end, {bytes} bytes"),
            Err(status) => break status,
        }
    };
    assert_eq!((status.code(), reason(&status).as_str()), (Code::DeadlineExceeded, "STREAM_IDLE"), "{status:?}");
    // An error at the end of a stream bears the id of its request too.
    assert!(!status.get_error_details().request_info().unwrap().request_id.is_empty());
}

fn token(byte: u8) -> String {
    api::Secret::new([byte; api::Secret::RANDOM_BYTES]).reveal()
}
