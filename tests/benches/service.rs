//! Speed of the service: a stored run, a unary call against a bare echo, a start on an empty database.
//!
//! `cargo bench -p tests`. Figures are read by people; nothing asserts a time.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    dead_code,
    reason = "a benchmark"
)]

use std::sync::Arc;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use proto::v1;
use tests::kit::service::{Service, sensor, spec, spot};
use tokio::runtime::Runtime;
use tonic::transport::server::TcpIncoming;

const SPOTS: usize = 2_000;
const OPTIONS: usize = 24;

async fn big() -> Service {
    let beams: Vec<f64> = (0..OPTIONS).map(|i| 6.0 + 2.0 * i as f64).collect();
    let service = Service::with_gear(&beams).await;
    let bottoms = [v1::BottomClass::Silt, v1::BottomClass::FineSand, v1::BottomClass::Gravel, v1::BottomClass::SoftMud];
    let rows: Vec<String> = (0..SPOTS)
        .map(|i| {
            let bottom = bottoms[i % bottoms.len()].as_str_name().trim_start_matches("BOTTOM_CLASS_").to_lowercase();
            format!("s{i},Spot {i},{:.3},{bottom}", 2.0 + 28.0 * i as f64 / SPOTS as f64)
        })
        .collect();
    let text = format!("id,display_name,depth_m,bottom_class\n{}\n", rows.join("\n"));
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    let parts = [
        v1::import_records_request::Part::Header(header),
        v1::import_records_request::Part::Chunk(text.into_bytes().into()),
    ];
    let parts = parts.map(|part| v1::ImportRecordsRequest { part: Some(part) });
    let answer = service.catalog().import_records(tokio_stream::iter(parts)).await.unwrap().into_inner();
    assert_eq!(answer.created, i32::try_from(SPOTS).unwrap());
    let shelter = v1::Shelter {
        display_name: "LaidOutShelter".to_owned(),
        floor_length_m: 4.2,
        floor_width_m: 2.4,
        party_size: 5,
        ..v1::Shelter::default()
    };
    let request = v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(shelter) };
    service.catalog().create_shelter(request).await.unwrap();
    service
}

/// Starts a run and waits for its end.
async fn run(service: &Service) {
    let spec = v1::RunSpec { shelter: "shelters/hut".to_owned(), ..spec() };
    let request = v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
    let run = service.selection().start_run(request).await.unwrap().into_inner();
    let mut stream = service.selection().watch_run(v1::WatchRunRequest { name: run.name }).await.unwrap().into_inner();
    let mut last = None;
    while let Some(message) = stream.message().await.unwrap() {
        last = message.run;
    }
    assert_eq!(last.unwrap().state(), v1::RunState::Succeeded);
}

fn stored_run(c: &mut Criterion) {
    let runtime = Runtime::new().unwrap();
    let service = runtime.block_on(big());
    let mut group = c.benchmark_group("a run of 2,000 spots and 24 options, shelter of five, stored");
    group.sample_size(10).measurement_time(Duration::from_secs(30));
    group.throughput(Throughput::Elements((SPOTS * OPTIONS) as u64));
    group.bench_function("StartRun to the end", |b| b.iter(|| runtime.block_on(run(&service))));
    group.finish();
    runtime.block_on(async { drop(service) });
}

/// A bare tonic service: the health check's message there and back.
struct Echo;

#[tonic::async_trait]
impl tonic_health::pb::health_server::Health for Echo {
    type WatchStream = tonic::codegen::BoxStream<tonic_health::pb::HealthCheckResponse>;
    async fn check(
        &self,
        _: tonic::Request<tonic_health::pb::HealthCheckRequest>,
    ) -> Result<tonic::Response<tonic_health::pb::HealthCheckResponse>, tonic::Status> {
        Ok(tonic::Response::new(tonic_health::pb::HealthCheckResponse { status: 1 }))
    }
    async fn watch(
        &self,
        _: tonic::Request<tonic_health::pb::HealthCheckRequest>,
    ) -> Result<tonic::Response<Self::WatchStream>, tonic::Status> {
        Err(tonic::Status::unimplemented("a bench"))
    }
}

fn unary(c: &mut Criterion) {
    const CALLERS: usize = 64;
    const CALLS: usize = 20;
    let runtime = Runtime::new().unwrap();
    let service = runtime.block_on(async {
        let service = Service::with_gear(&[12.0]).await;
        service.add_spot("one", spot(6.0, v1::BottomClass::Silt)).await;
        let _ = sensor(12.0);
        service
    });
    let echo = runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("http://{}", listener.local_addr().unwrap());
        let server = tonic::transport::Server::builder()
            .add_service(tonic_health::pb::health_server::HealthServer::new(Echo))
            .serve_with_incoming(TcpIncoming::from(listener).with_nodelay(Some(true)));
        tokio::spawn(server);
        tonic::transport::Channel::from_shared(url).unwrap().connect().await.unwrap()
    });
    let mut group = c.benchmark_group("unary calls, 64 callers on one connection");
    group.throughput(Throughput::Elements((CALLERS * CALLS) as u64)).sample_size(20);
    let service = Arc::new(service);
    group.bench_function("bare echo", |b| {
        b.iter(|| {
            runtime.block_on(async {
                let callers = (0..CALLERS).map(|_| {
                    let mut client = tonic_health::pb::health_client::HealthClient::new(echo.clone());
                    tokio::spawn(async move {
                        for _ in 0..CALLS {
                            let request = tonic_health::pb::HealthCheckRequest { service: String::new() };
                            client.check(request).await.unwrap();
                        }
                    })
                });
                for caller in callers.collect::<Vec<_>>() {
                    caller.await.unwrap();
                }
            });
        });
    });
    group.bench_function("GetSpot", |b| {
        b.iter(|| {
            runtime.block_on(async {
                let callers = (0..CALLERS).map(|_| {
                    let mut client = service.catalog();
                    tokio::spawn(async move {
                        for _ in 0..CALLS {
                            client.get_spot(v1::GetSpotRequest { name: "spots/one".to_owned() }).await.unwrap();
                        }
                    })
                });
                for caller in callers.collect::<Vec<_>>() {
                    caller.await.unwrap();
                }
            });
        });
    });
    group.finish();
    runtime.block_on(async { drop(service) });
}

fn start(c: &mut Criterion) {
    let runtime = Runtime::new().unwrap();
    c.bench_function("start to serving on an empty database", |b| {
        b.iter(|| {
            runtime.block_on(async {
                drop(Service::start().await);
            });
        });
    });
}

criterion_group!(benches, stored_run, unary, start);
criterion_main!(benches);
