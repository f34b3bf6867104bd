//! Readers that stop reading, and readers that are gone: neither costs the service memory, and others are answered all the same.

use std::time::{Duration, Instant};

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;
use tonic::transport::Channel;
use tonic::{Code, Streaming};

use crate::service::{Service, resident_kib};
use crate::{ALONE, start};

const READERS: usize = 48;
const SPOTS: usize = 24_000;
/// What all readers that stand still may take together: what HTTP/2 keeps for a stream before it holds up the service (400 KiB, the
/// library's default), and two parts of a file in between. What they have not read is over ten times as much.
const ALLOWED_KIB: u64 = READERS as u64 * (400 + 2 * 64);

/// How long the place of a reader that is gone may be taken; machines that do other things as well are late now and then.
const FREE: Duration = Duration::from_millis(100);
const TRIES: usize = 5;

type Client = CatalogServiceClient<Channel>;

fn export() -> v1::ExportRecordsRequest {
    v1::ExportRecordsRequest {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::JsonLines.into(),
        ..v1::ExportRecordsRequest::default()
    }
}

async fn import_spots(catalog: &mut Client) {
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    let rows: Vec<String> = (0..SPOTS).map(|row| format!("s{row},A spot with a long name {row},6,gravel\n")).collect();
    let head = "id,display_name,depth_m,bottom_class\n".to_owned();
    let chunks = std::iter::once(head).chain(rows.chunks(10_000).map(<[String]>::concat));
    let chunks = chunks.map(|chunk| Part::Chunk(chunk.into_bytes().into()));
    let parts: Vec<_> = std::iter::once(Part::Header(header)).chain(chunks).collect();
    let parts = parts.into_iter().map(|part| v1::ImportRecordsRequest { part: Some(part) });
    let stored = catalog.import_records(tokio_stream::iter(parts)).await.unwrap().into_inner();
    assert_eq!(stored.created, i32::try_from(SPOTS).unwrap());
}

/// Opens a stream over a connection of its own that takes little in advance, takes the first part, and stops.
async fn stalled(service: &Service) -> Streaming<v1::ExportRecordsResponse> {
    let mut stream = Client::new(service.connect_narrow().await).export_records(export()).await.unwrap().into_inner();
    assert!(stream.message().await.unwrap().is_some());
    stream
}

/// Takes a whole file and gives its bytes.
async fn whole(client: &mut Client) -> usize {
    let mut stream = client.export_records(export()).await.unwrap().into_inner();
    let mut bytes = 0;
    while let Some(part) = stream.message().await.unwrap() {
        bytes += part.chunk.len();
    }
    bytes
}

#[tokio::test(flavor = "multi_thread")]
async fn readers_that_stand_still_or_vanish_cost_nothing() {
    let _alone = ALONE.lock().await;
    // One place more than there are readers, for the caller beside them.
    let service = start(&["--max-requests-per-caller", &(READERS + 1).to_string()]);
    let mut other = Client::new(service.connect().await);
    import_spots(&mut other).await;
    let bytes = whole(&mut other).await;
    // What a service keeps of the connections themselves is there before memory is looked at.
    let mut idle = Vec::new();
    for _ in 0..READERS {
        let mut connected = Client::new(service.connect_narrow().await);
        connected.list_spots(v1::ListSpotsRequest { page_size: 1, ..Default::default() }).await.unwrap();
        idle.push(connected);
    }
    let before = resident_kib(service.process()).unwrap();
    let mut readers = Vec::new();
    for _ in 0..READERS {
        readers.push(stalled(&service).await);
    }
    // Others are answered, and whole files as well, many times over what the readers leave lying.
    for _ in 0..5 {
        assert_eq!(whole(&mut other).await, bytes);
        let spot = v1::GetSpotRequest { name: "spots/s7".to_owned() };
        other.get_spot(spot).await.unwrap();
    }
    let after = resident_kib(service.process()).unwrap();
    println!("{READERS} readers of {} KiB each: {before} KiB before, {after} KiB with all of them", bytes / 1024);
    let whole_kib = u64::try_from(READERS * bytes / 1024).unwrap();
    assert!(whole_kib > 10 * ALLOWED_KIB, "the file is too small to tell: {whole_kib} KiB in all");
    assert!(after.saturating_sub(before) <= ALLOWED_KIB, "{before} KiB before, {after} KiB with {READERS} readers");

    // Every place is taken; once a reader is gone, its place is free.
    readers.push(stalled(&service).await);
    let mut times = Vec::new();
    for _ in 0..TRIES {
        let spot = || v1::GetSpotRequest { name: "spots/s7".to_owned() };
        assert_eq!(other.get_spot(spot()).await.unwrap_err().code(), Code::ResourceExhausted);
        drop(readers.pop());
        let gone = Instant::now();
        while other.get_spot(spot()).await.is_err() {
            assert!(gone.elapsed() < Duration::from_secs(20), "its place is still taken");
        }
        times.push(gone.elapsed());
        readers.push(stalled(&service).await);
    }
    println!("a place was free so long after its reader was gone: {times:?}");
    times.sort_unstable();
    assert!(times[TRIES / 2] <= FREE, "{times:?}");
}
