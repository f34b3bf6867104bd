//! Many callers who mean well beside one who does everything else at once. `LAKEBEAM_ATTACK_SECONDS` makes it last. How long the calls took is
//! printed and read by people: it says as much of the machine as of the service.

use std::net::TcpStream;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use prost::bytes::Bytes;
use prost_reflect::DescriptorPool;
use proto::v1;
use proto::v1::import_records_request::Part;
use tokio_stream::StreamExt as _;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};
use tonic_types::StatusExt as _;

use crate::support::{Server, said};
use crate::{greedy, memory, token};
use tests::kit::raw::{call, connect, half, narrow};

const SPOTS: usize = 20_000;
const CALLERS: usize = 64;
const TOKENS: usize = 8;
const MOST_MIB: u64 = 600;

fn seconds() -> u64 {
    std::env::var("LAKEBEAM_ATTACK_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(6)
}

fn bytes<M: prost::Message>(message: &M) -> Bytes {
    message.encode_to_vec().into()
}

fn import(rows: Vec<u8>) -> Vec<v1::ImportRecordsRequest> {
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    let parts = rows.chunks(512 * 1024).map(|part| Part::Chunk(part.to_vec().into()));
    let parts = std::iter::once(Part::Header(header)).chain(parts);
    parts.map(|part| v1::ImportRecordsRequest { part: Some(part) }).collect()
}

type Shows = InterceptedService<Channel, Box<dyn FnMut(Request<()>) -> Result<Request<()>, Status> + Send>>;

fn catalog(channel: Channel, token: &str) -> v1::catalog_service_client::CatalogServiceClient<Shows> {
    let value: tonic::metadata::AsciiMetadataValue = token.parse().unwrap();
    let show = move |mut request: Request<()>| {
        request.metadata_mut().insert("authorization", value.clone());
        Ok(request)
    };
    v1::catalog_service_client::CatalogServiceClient::with_interceptor(channel, Box::new(show) as _)
}

async fn fill(server: &Server, writer: &str) {
    let rows: String =
        (0..SPOTS).map(|row| format!("s{row},A spot with a long name {row},6,gravel,{}\n", "a".repeat(400))).collect();
    let file = format!("id,display_name,depth_m,bottom_class,notes\n{rows}").into_bytes();
    let mut client = catalog(connect(&server.url()).await, writer);
    let stored = client.import_records(tokio_stream::iter(import(file))).await.unwrap().into_inner();
    assert_eq!(stored.created, i32::try_from(SPOTS).unwrap());
}

fn shelter(party_size: u32, holes: usize) -> v1::LayOutShelterRequest {
    let shelter = v1::Shelter {
        display_name: "Hut".to_owned(),
        floor_length_m: 30.0,
        floor_width_m: 20.0,
        holes: vec![v1::Hole { x_m: 1.0, y_m: 1.0 }; holes],
        party_size,
        ..v1::Shelter::default()
    };
    v1::LayOutShelterRequest { shelter: Some(shelter) }
}

/// Calls that are made over and over by the one who means harm: how many at once, where, and with what.
fn attacks(run: &str) -> Vec<(usize, &'static str, Bytes)> {
    let sheet = v1::RenderReportRequest {
        source: run.to_owned(),
        template: "templates/customer-sheet".to_owned(),
        logo: greedy::picture(),
        ..v1::RenderReportRequest::default()
    };
    let findings = v1::ExportFindingsRequest {
        parent: run.to_owned(),
        format: v1::FindingFormat::Xlsx.into(),
        ..v1::ExportFindingsRequest::default()
    };
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let recommend = pool.get_message_by_name("lakebeam.v1.RecommendRequest").unwrap();
    let nothings = memory::nothings(&recommend, 4_000_000, 3).unwrap();
    let export = |format: v1::RecordFormat| v1::ExportRecordsRequest {
        kind: v1::RecordKind::Spots.into(),
        format: format.into(),
        ..v1::ExportRecordsRequest::default()
    };
    let filter = vec!["notes:\"aab\""; 20].join(" OR ");
    vec![
        (4, "/lakebeam.v1.RulesService/LayOutShelter", bytes(&shelter(0, 7_000))),
        (8, "/lakebeam.v1.RulesService/LayOutShelter", bytes(&shelter(60, 0))),
        (8, "/lakebeam.v1.CatalogService/ListSpots", bytes(&v1::ListSpotsRequest { filter, ..Default::default() })),
        (4, "/lakebeam.v1.CatalogService/ExportRecords", bytes(&export(v1::RecordFormat::Xlsx))),
        (4, "/lakebeam.v1.CatalogService/ListSpots", Bytes::from_static(&[0x0f, 0xff])),
        (4, "/lakebeam.v1.CatalogService/Nothing", Bytes::new()),
        (2, "/lakebeam.v1.RulesService/DeriveShelterRules", bytes(&memory::rules())),
        (2, "/lakebeam.v1.SelectionService/Recommend", nothings.into()),
        (2, "/lakebeam.v1.SelectionService/ExportFindings", bytes(&findings)),
        (2, "/lakebeam.v1.ReportService/RenderReport", bytes(&sheet)),
    ]
}

/// What is kept as long as the attack lasts.
struct Kept {
    tasks: Vec<tokio::task::JoinHandle<()>>,
    _sockets: Vec<TcpStream>,
}

async fn attack(
    address: String,
    (greedy, run): (String, String),
    (over, made): (Arc<AtomicBool>, Arc<greedy::Made>),
) -> Kept {
    let (url, greedy, over) = (format!("http://{address}"), greedy.as_str(), &over);
    let mut tasks = Vec::new();
    for (at_once, path, message) in attacks(&run) {
        for _ in 0..at_once {
            let (channel, greedy, message, over, made) =
                (connect(&url).await, greedy.to_owned(), message.clone(), Arc::clone(over), Arc::clone(&made));
            tasks.push(tokio::spawn(async move {
                while !over.load(Ordering::Relaxed) {
                    // Every other call is left after a while.
                    let ended = call(&channel, path, Some(&greedy), message.clone());
                    let _ = tokio::time::timeout(Duration::from_secs(3), ended).await;
                    made.calls.fetch_add(1, Ordering::Relaxed);
                }
            }));
        }
    }
    for _ in 0..4 {
        let (channel, over) = (connect(&url).await, Arc::clone(over));
        tasks.push(tokio::spawn(async move {
            while !over.load(Ordering::Relaxed) {
                let halves = (0..50).map(|_| half(&channel, "/grpc.health.v1.Health/Check", None));
                let _ = tokio::time::timeout(Duration::from_secs(3), futures::future::join_all(halves)).await;
            }
        }));
    }
    for _ in 0..8 {
        let (mut client, over) = (catalog(narrow(&url).await, greedy), Arc::clone(over));
        tasks.push(tokio::spawn(async move {
            let request = v1::ExportRecordsRequest {
                kind: v1::RecordKind::Spots.into(),
                format: v1::RecordFormat::JsonLines.into(),
                ..v1::ExportRecordsRequest::default()
            };
            let stalled = client.export_records(request).await;
            while !over.load(Ordering::Relaxed) {
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
            drop(stalled);
        }));
    }
    for _ in 0..24 {
        let (mut client, over) = (catalog(connect(&url).await, greedy), Arc::clone(over));
        tasks.push(tokio::spawn(async move {
            while !over.load(Ordering::Relaxed) {
                // A file that grows to 16 MiB and then stands still.
                let parts = tokio_stream::iter(import(vec![b'x'; 16 * 1024 * 1024])).chain(tokio_stream::pending());
                let upload = client.import_records(parts);
                let _ = tokio::time::timeout(Duration::from_secs(3), upload).await;
            }
        }));
    }
    let sockets = (0..200).filter_map(|_| TcpStream::connect(&address).ok()).collect();
    Kept { tasks, _sockets: sockets }
}

#[derive(Default)]
struct Seen {
    times: Mutex<Vec<(&'static str, Duration)>>,
    overloaded: AtomicUsize,
    others: Mutex<Vec<String>>,
}

impl Seen {
    fn ended(&self, path: &'static str, took: Duration, outcome: Result<(), Status>) {
        let Err(status) = outcome else {
            self.times.lock().unwrap().push((path, took));
            return;
        };
        let details = status.get_error_details();
        if details.error_info().is_some_and(|info| info.reason == "OVERLOADED") {
            self.overloaded.fetch_add(1, Ordering::Relaxed);
        } else {
            self.others.lock().unwrap().push(format!("{path}: {status:?}"));
        }
    }
}

fn short_calls() -> Vec<(&'static str, Bytes)> {
    let get = v1::GetSpotRequest { name: "spots/s7".to_owned() };
    let list = v1::ListSpotsRequest { page_size: 10, ..v1::ListSpotsRequest::default() };
    vec![
        ("/lakebeam.v1.CatalogService/GetSpot", bytes(&get)),
        ("/lakebeam.v1.CatalogService/ListSpots", bytes(&list)),
        ("/lakebeam.v1.RulesService/LayOutShelter", bytes(&shelter(3, 0))),
        ("/lakebeam.v1.FleetService/ListUnits", Bytes::new()),
    ]
}

fn resident_mib(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    line.trim().trim_end_matches("kB").trim().parse::<u64>().unwrap() / 1024
}

#[tokio::test(flavor = "multi_thread")]
async fn callers_who_mean_well_are_answered_beside_one_who_does_not() {
    let (small, dir) = (greedy::SmallDisk::mount(160), tempfile::tempdir().unwrap());
    let dir = small.as_ref().map_or(dir.path(), greedy::SmallDisk::path);
    memory::import_sensors(dir, 48);
    std::fs::write(dir.join("spots.csv"), "id,display_name,depth_m,bottom_class\nfirst,First,6,silt\n").unwrap();
    said(dir, &["import", "spots.csv"]);
    let run = said(dir, &["run", "--lure", "tungsten-jig-5", "--fish", "perch-25"]);
    let run = run.split_whitespace().find(|word| word.starts_with("runs/")).unwrap().to_owned();
    said(dir, &["backup", "--out", "copy.db"]);
    let greedy = token(dir, "greedy", "write");
    let tokens: Vec<_> = (0..TOKENS).map(|n| token(dir, &format!("till-{n}"), "write")).collect();
    let server = Server::start(dir, &[]);
    fill(&server, &tokens[0]).await;
    let (over, seen) = (Arc::new(AtomicBool::new(false)), Arc::new(Seen::default()));
    let others = greedy::threads();
    let made = Arc::new(greedy::Made::default());
    let kept = attack(server.address.clone(), (greedy, run), (Arc::clone(&over), Arc::clone(&made)));
    let kept = others.spawn(kept).await.unwrap();
    let watches = greedy::watch(&server.url(), &over, &made).await;
    let mut threads = vec![greedy::ask_from_pages(&server, &over, &made), greedy::kill_restores(dir, &over, &made)];
    if small.is_some() {
        threads.push(greedy::fill_the_disk(dir, &over, &made));
    }
    let mut callers = Vec::new();
    for number in 0..CALLERS {
        let (channel, token) = (connect(&server.url()).await, tokens[number % TOKENS].clone());
        let (over, seen) = (Arc::clone(&over), Arc::clone(&seen));
        callers.push(tokio::spawn(async move {
            for (path, message) in short_calls().into_iter().cycle().skip(number) {
                if over.load(Ordering::Relaxed) {
                    return;
                }
                let began = Instant::now();
                let outcome = call(&channel, path, Some(&token), message).await;
                seen.ended(path, began.elapsed(), outcome);
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }));
    }
    let (began, mut most) = (Instant::now(), 0);
    while began.elapsed() < Duration::from_secs(seconds()) {
        most = most.max(resident_mib(server.process()));
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    over.store(true, Ordering::Relaxed);
    for caller in callers {
        caller.await.unwrap();
    }
    kept.tasks.iter().chain(&watches).for_each(tokio::task::JoinHandle::abort);
    threads.into_iter().for_each(|thread| thread.join().unwrap());
    println!("{made:?}");
    let count = |made: &AtomicUsize| made.load(Ordering::Relaxed);
    let all = [&made.calls, &made.watches, &made.foreign_pages, &made.killed_restores];
    assert!(
        all.into_iter().all(|made| count(made) > 0) && (small.is_none() || count(&made.full_disks) > 0),
        "{made:?}"
    );
    for number in 0..4 {
        said(dir, &["--database", &format!("other-{number}.db"), "list", "spots"]);
    }
    let all = seen.times.lock().unwrap().clone();
    others.shutdown_background();
    let overloaded = seen.overloaded.load(Ordering::Relaxed);
    println!("{} answered, {overloaded} overloaded; memory at most {most} MiB", all.len());
    for (path, _) in std::iter::once(("", Bytes::new())).chain(short_calls()) {
        let mut times: Vec<_> = all.iter().filter(|(of, _)| of.contains(path)).map(|(_, took)| *took).collect();
        times.sort_unstable();
        let at = |percent: usize| times[(times.len() * percent / 100).min(times.len() - 1)];
        println!("{path}: {} times, p50 {:?}, p99 {:?}, most {:?}", times.len(), at(50), at(99), at(100));
    }
    let others = seen.others.lock().unwrap();
    assert!(others.is_empty(), "{} other errors: {}", others.len(), others[0]);
    assert!(overloaded * 20 < all.len() + overloaded, "{overloaded} of {} refused", all.len() + overloaded);
    assert!(most < MOST_MIB, "{most} MiB");
}
