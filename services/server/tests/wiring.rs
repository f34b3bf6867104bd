//! What stands around the services: health, reflection, gRPC-Web, and what a caller is told when there is too much at once.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::io::{Read as _, Write as _};
use std::time::{Duration, Instant};

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;
use support::Server;
use tonic::Code;
use tonic::transport::Channel;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;
use tonic_reflection::pb::v1::{ListServiceResponse, ServerReflectionRequest};
use tonic_types::StatusExt as _;

const SERVICES: [&str; 6] =
    ["CatalogService", "SelectionService", "RulesService", "FleetService", "ReportService", "AdminService"];

async fn channel(server: &Server) -> Channel {
    Channel::from_shared(format!("http://{}", server.address)).unwrap().connect().await.unwrap()
}

#[tokio::test]
async fn every_service_is_healthy_and_described() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let channel = channel(&server).await;
    let mut health = HealthClient::new(channel.clone());
    for name in SERVICES {
        let request = HealthCheckRequest { service: format!("lakebeam.v1.{name}") };
        let answer = health.check(request).await.unwrap().into_inner();
        assert_eq!(answer.status(), ServingStatus::Serving, "{name}");
    }
    let unknown = HealthCheckRequest { service: "lakebeam.v1.Nothing".to_owned() };
    assert_eq!(health.check(unknown).await.unwrap_err().code(), Code::NotFound);
    let ask = ServerReflectionRequest {
        host: String::new(),
        message_request: Some(MessageRequest::ListServices(String::new())),
    };
    let mut answers = ServerReflectionClient::new(channel)
        .server_reflection_info(tokio_stream::iter([ask]))
        .await
        .unwrap()
        .into_inner();
    let answer = answers.message().await.unwrap().unwrap().message_response;
    let Some(MessageResponse::ListServicesResponse(ListServiceResponse { service })) = answer else {
        panic!("{answer:?}");
    };
    for name in SERVICES {
        assert!(service.iter().any(|known| known.name == format!("lakebeam.v1.{name}")), "{name} in {service:?}");
    }
}

/// The older version of the protocol is the only one that several languages' clients speak; and a caller that knows nothing else needs
/// the messages in which refusals carry their details (google.rpc, AIP-193).
#[tokio::test]
async fn the_older_reflection_describes_services_and_the_details_of_refusals() {
    use tonic_reflection::pb::v1alpha::server_reflection_client::ServerReflectionClient;
    use tonic_reflection::pb::v1alpha::server_reflection_request::MessageRequest;
    use tonic_reflection::pb::v1alpha::server_reflection_response::MessageResponse;
    use tonic_reflection::pb::v1alpha::{FileDescriptorResponse, ServerReflectionRequest};
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let mut client = ServerReflectionClient::new(channel(&server).await);
    let services = SERVICES.map(|name| format!("lakebeam.v1.{name}"));
    let details = ["Status", "BadRequest", "ErrorInfo", "ResourceInfo"].map(|name| format!("google.rpc.{name}"));
    for symbol in services.into_iter().chain(details) {
        let request = Some(MessageRequest::FileContainingSymbol(symbol.clone()));
        let ask = ServerReflectionRequest { host: String::new(), message_request: request };
        let mut answers = client.server_reflection_info(tokio_stream::iter([ask])).await.unwrap().into_inner();
        let answer = answers.message().await.unwrap().unwrap().message_response;
        let Some(MessageResponse::FileDescriptorResponse(FileDescriptorResponse { file_descriptor_proto })) = answer
        else {
            panic!("{symbol}: {answer:?}");
        };
        assert!(!file_descriptor_proto.is_empty(), "{symbol}");
    }
}

#[test]
fn a_browser_reaches_the_service_without_http_2() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let mut socket = std::net::TcpStream::connect(&server.address).unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    // An empty message in gRPC-Web's frame: no flags, length 0.
    let head = "POST /lakebeam.v1.CatalogService/ListSensors HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/grpc-web+proto\r\n\
                x-grpc-web: 1\r\ncontent-length: 5\r\nconnection: close\r\n\r\n";
    socket.write_all(head.as_bytes()).unwrap();
    socket.write_all(&[0; 5]).unwrap();
    let mut answer = Vec::new();
    socket.read_to_end(&mut answer).unwrap();
    let text = String::from_utf8_lossy(&answer).to_lowercase();
    assert!(text.starts_with("http/1.1 200"), "{text}");
    assert!(text.contains("application/grpc-web+proto") && text.contains("grpc-status:0"), "{text}");
}

type Parts = tokio::sync::mpsc::Sender<v1::ImportRecordsRequest>;
type Import = tokio::task::JoinHandle<Result<tonic::Response<v1::ImportRecordsResponse>, tonic::Status>>;

/// An import whose file does not end before its sender is dropped: it holds a place as long.
fn hold(channel: &Channel) -> (Parts, Import) {
    let (parts, stream) = tokio::sync::mpsc::channel(1);
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    parts.try_send(v1::ImportRecordsRequest { part: Some(Part::Header(header)) }).unwrap();
    let mut importer = CatalogServiceClient::new(channel.clone());
    let import =
        tokio::spawn(async move { importer.import_records(tokio_stream::wrappers::ReceiverStream::new(stream)).await });
    (parts, import)
}

#[tokio::test]
async fn one_call_too_many_is_told_when_to_try_again() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &["--max-requests", "1"]);
    let channel = channel(&server).await;
    let (mut parts, mut import) = hold(&channel);
    let mut client = CatalogServiceClient::new(channel.clone());
    let start = Instant::now();
    // Until the import has arrived the call gets through, and may even be the one that keeps the import out.
    let refused = loop {
        match client.list_sensors(v1::ListSensorsRequest::default()).await {
            Err(status) => break status,
            Ok(_) if import.is_finished() => (parts, import) = hold(&channel),
            Ok(_) => assert!(start.elapsed() < Duration::from_secs(20), "nothing was refused"),
        }
    };
    assert_eq!(refused.code(), Code::ResourceExhausted);
    let details = refused.get_error_details();
    assert_eq!(details.error_info().unwrap().reason, "OVERLOADED");
    assert!(details.retry_info().unwrap().retry_delay.unwrap() > Duration::ZERO);
    // Once the import ends, there is room again.
    drop(parts);
    assert_eq!(import.await.unwrap().unwrap().into_inner().fault_count, 1, "the file was empty");
    client.list_sensors(v1::ListSensorsRequest::default()).await.unwrap();
}
