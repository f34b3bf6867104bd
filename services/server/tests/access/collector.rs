//! Spans as a collector receives them (OTLP 1, over gRPC).

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex};

use opentelemetry_proto::tonic::collector::trace::v1::trace_service_server::{TraceService, TraceServiceServer};
use opentelemetry_proto::tonic::collector::trace::v1::{ExportTraceServiceRequest, ExportTraceServiceResponse};
use opentelemetry_proto::tonic::trace::v1::Span;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::{Request, Response, Status};

use crate::support::Server;
use crate::{complained, said};

#[derive(Clone, Default)]
struct Collector {
    spans: Arc<Mutex<Vec<Span>>>,
}

#[tonic::async_trait]
impl TraceService for Collector {
    async fn export(
        &self,
        request: Request<ExportTraceServiceRequest>,
    ) -> Result<Response<ExportTraceServiceResponse>, Status> {
        let spans = request.into_inner().resource_spans.into_iter().flat_map(|r| r.scope_spans).flat_map(|s| s.spans);
        self.spans.lock().unwrap().extend(spans);
        Ok(Response::new(ExportTraceServiceResponse::default()))
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_collector_gets_each_call_and_each_chunk_of_a_run() {
    let collector = Collector::default();
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(
        tonic::transport::Server::builder()
            .add_service(TraceServiceServer::new(collector.clone()))
            .serve_with_incoming(TcpListenerStream::new(listener)),
    );
    let dir = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let [sensors, spots, targets] =
        ["sensors.csv", "spots.csv", "targets.csv"].map(|f| demo.join(f).display().to_string());
    said(dir.path(), &["import", &sensors, &spots, &targets]);
    let mut server = Server::start(dir.path(), &["--otlp", &url]);
    let to = ["--server", &format!("http://{}", server.address)];
    said(dir.path(), &[&to[..], &["run", "--lure", "tungsten-jig-5", "--fish", "perch-25"]].concat());
    complained(dir.path(), &[&to[..], &["show", "spots/nowhere"]].concat(), 1);
    // What has not been sent yet is sent before it ends.
    server.terminate();
    let spans = collector.spans.lock().unwrap();
    let mut by_name: BTreeMap<&str, Vec<&Span>> = BTreeMap::new();
    for span in spans.iter() {
        by_name.entry(&span.name).or_default().push(span);
    }
    let names: Vec<_> = by_name.keys().collect();
    let attribute = |span: &Span, key: &str| {
        span.attributes.iter().find(|a| a.key == key).map(|a| format!("{:?}", a.value)).unwrap_or_default()
    };
    let run = by_name["run"][0];
    for (name, parent) in
        [("prepare", run), ("chunk", run), ("compute", by_name["chunk"][0]), ("store", by_name["chunk"][0])]
    {
        let span = by_name.get(name).unwrap_or_else(|| panic!("no {name} in {names:?}"))[0];
        assert_eq!(span.parent_span_id, parent.span_id, "{name}");
        assert!(span.end_time_unix_nano >= span.start_time_unix_nano, "{name}");
    }
    let calls = &by_name["call"];
    assert!(calls.iter().any(|call| attribute(call, "method").contains("StartRun")), "{calls:?}");
    let failed = calls.iter().find(|call| attribute(call, "code").contains("NotFound")).unwrap();
    assert!(
        attribute(failed, "method").contains("GetSpot") && !attribute(failed, "request_id").is_empty(),
        "{failed:?}"
    );
    assert!(attribute(failed, "caller").contains("local"), "{failed:?}");
}
