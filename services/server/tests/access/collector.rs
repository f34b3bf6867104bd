//! Spans and metrics as a collector receives them (OTLP 1, over gRPC).

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex};

use opentelemetry_proto::tonic::collector::metrics::v1::metrics_service_server::{
    MetricsService, MetricsServiceServer,
};
use opentelemetry_proto::tonic::collector::metrics::v1::{ExportMetricsServiceRequest, ExportMetricsServiceResponse};
use opentelemetry_proto::tonic::collector::trace::v1::trace_service_server::{TraceService, TraceServiceServer};
use opentelemetry_proto::tonic::collector::trace::v1::{ExportTraceServiceRequest, ExportTraceServiceResponse};
use opentelemetry_proto::tonic::common::v1::{KeyValue, any_value::Value};
use opentelemetry_proto::tonic::metrics::v1::{Metric, metric::Data, number_data_point};
use opentelemetry_proto::tonic::trace::v1::Span;
use prost::bytes::Bytes;
use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tests::kit::raw;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::transport::Channel;
use tonic::{Code, Request, Response, Status};

use crate::support::Server;
use crate::{complained, said};

#[derive(Clone, Default)]
struct Collector {
    spans: Arc<Mutex<Vec<Span>>>,
    /// As sent last: figures are sums since the start of the service.
    metrics: Arc<Mutex<Vec<Metric>>>,
}

impl Collector {
    /// Listens, and gives where.
    async fn start() -> (Self, String) {
        let collector = Self::default();
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("http://{}", listener.local_addr().unwrap());
        tokio::spawn(
            tonic::transport::Server::builder()
                .add_service(TraceServiceServer::new(collector.clone()))
                .add_service(MetricsServiceServer::new(collector.clone()))
                .serve_with_incoming(TcpListenerStream::new(listener)),
        );
        (collector, url)
    }
}

#[tonic::async_trait]
impl MetricsService for Collector {
    async fn export(
        &self,
        request: Request<ExportMetricsServiceRequest>,
    ) -> Result<Response<ExportMetricsServiceResponse>, Status> {
        let scopes = request.into_inner().resource_metrics.into_iter().flat_map(|r| r.scope_metrics);
        *self.metrics.lock().unwrap() = scopes.flat_map(|scope| scope.metrics).collect();
        Ok(Response::new(ExportMetricsServiceResponse::default()))
    }
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
    let (collector, url) = Collector::start().await;
    let dir = tempfile::tempdir().unwrap();
    import_demo(dir.path());
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

fn import_demo(dir: &Path) {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let [sensors, spots, targets] =
        ["sensors.csv", "spots.csv", "targets.csv"].map(|f| demo.join(f).display().to_string());
    said(dir, &["import", &sensors, &spots, &targets]);
}

fn spec(spots: &[&str]) -> v1::RunSpec {
    v1::RunSpec {
        spots: spots.iter().map(|spot| format!("spots/{spot}")).collect(),
        lure: "targets/tungsten-jig-5".to_owned(),
        fish: "targets/perch-25".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        ..v1::RunSpec::default()
    }
}

/// One series of a metric: its attributes, how many times something was noted, and the sum or the value.
type Series = (BTreeMap<String, String>, u64, f64);

fn series(metric: &Metric) -> Vec<Series> {
    let attributes = |all: &[KeyValue]| {
        all.iter()
            .map(|one| match one.value.as_ref().unwrap().value.as_ref().unwrap() {
                Value::StringValue(text) => (one.key.clone(), text.clone()),
                other => panic!("{}: {other:?}", one.key),
            })
            .collect()
    };
    let number = |value: &Option<number_data_point::Value>| match value.unwrap() {
        number_data_point::Value::AsInt(int) => int as f64,
        number_data_point::Value::AsDouble(double) => double,
    };
    match metric.data.as_ref().unwrap() {
        Data::Histogram(h) => {
            h.data_points.iter().map(|p| (attributes(&p.attributes), p.count, p.sum.unwrap())).collect()
        }
        Data::Sum(s) => s.data_points.iter().map(|p| (attributes(&p.attributes), 1, number(&p.value))).collect(),
        Data::Gauge(g) => g.data_points.iter().map(|p| (attributes(&p.attributes), 1, number(&p.value))).collect(),
        other => panic!("{}: {other:?}", metric.name),
    }
}

/// Makes a known number of calls of each outcome, a run and a report, and gives how many findings the run has.
async fn make_known_calls(url: String) -> f64 {
    let channel = Channel::from_shared(url).unwrap().connect().await.unwrap();
    let mut catalog = CatalogServiceClient::new(channel.clone());
    for _ in 0..7 {
        catalog.list_spots(v1::ListSpotsRequest::default()).await.unwrap();
    }
    for _ in 0..3 {
        let missing = v1::GetSpotRequest { name: "spots/nowhere".to_owned() };
        assert_eq!(catalog.get_spot(missing).await.unwrap_err().code(), Code::NotFound);
    }
    for path in ["/lakebeam.v1.CatalogService/Nothing", "/made.up/Name"] {
        let unknown = raw::call(&channel, path, None, Bytes::new()).await.unwrap_err();
        assert_eq!(unknown.code(), Code::Unimplemented);
    }
    let mut selection = SelectionServiceClient::new(channel.clone());
    let start = |spec| v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
    let refused = selection.start_run(start(spec(&[]))).await.unwrap_err();
    assert_eq!(refused.code(), Code::InvalidArgument, "more findings than --max-findings-per-run");
    let run = selection.start_run(start(spec(&["vesper-landing"]))).await.unwrap().into_inner();
    let watch = v1::WatchRunRequest { name: run.name.clone() };
    let mut watched = selection.watch_run(watch).await.unwrap().into_inner();
    while watched.message().await.unwrap().is_some() {}
    let request = v1::RenderReportRequest {
        source: run.name,
        template: "templates/customer-sheet".to_owned(),
        ..v1::RenderReportRequest::default()
    };
    let mut reports = ReportServiceClient::new(channel);
    // The second is what was rendered before.
    for _ in 0..2 {
        reports.render_report(request.clone()).await.unwrap();
    }
    run.findings_total as f64
}

#[tokio::test(flavor = "multi_thread")]
async fn a_collector_gets_what_was_counted_and_no_more() {
    let (collector, url) = Collector::start().await;
    let dir = tempfile::tempdir().unwrap();
    import_demo(dir.path());
    let mut server = Server::start(dir.path(), &["--otlp", &url, "--max-findings-per-run", "100"]);
    let findings = make_known_calls(server.url()).await;
    // What has not been sent yet is sent before it ends.
    server.terminate();
    let metrics = collector.metrics.lock().unwrap();
    let of = |name: &str, unit: &str| {
        let metric = metrics.iter().find(|metric| metric.name == name).unwrap_or_else(|| panic!("no {name}"));
        assert_eq!(metric.unit, unit, "{name}");
        assert!(!metric.description.is_empty(), "{name}");
        series(metric)
    };
    let mut calls = BTreeMap::new();
    for (attributes, count, seconds) in of("rpc.server.call.duration", "s") {
        assert_eq!(attributes["rpc.system.name"], "grpc");
        assert!(seconds > 0.0, "{attributes:?}");
        let (method, status) = (&attributes["rpc.method"], &attributes["rpc.response.status_code"]);
        let fault = matches!(status.as_str(), "UNIMPLEMENTED" | "INTERNAL" | "UNKNOWN").then_some(status);
        assert_eq!(attributes.get("error.type"), fault, "{attributes:?}");
        calls.insert(format!("{} {status}", method.trim_start_matches("lakebeam.v1.")), count);
    }
    let expected = [
        ("CatalogService/GetSpot NOT_FOUND", 3),
        ("CatalogService/ListSpots OK", 7),
        ("ReportService/RenderReport OK", 2),
        ("SelectionService/StartRun INVALID_ARGUMENT", 1),
        ("SelectionService/StartRun OK", 1),
        ("SelectionService/WatchRun OK", 1),
        ("_OTHER UNIMPLEMENTED", 2),
    ];
    assert_eq!(calls, expected.map(|(call, count)| (call.to_owned(), count)).into());
    let refused = &of("lakebeam.calls.refused", "{call}")[..];
    assert_eq!(refused.len(), 1, "{refused:?}");
    assert_eq!((refused[0].0["reason"].as_str(), refused[0].2), ("RUN_TOO_LARGE", 1.0));
    // Everything has ended, and nothing was lost on the way.
    for (name, unit, value) in [
        ("lakebeam.calls.active", "{call}", 0.0),
        ("lakebeam.runs.active", "{run}", 0.0),
        ("lakebeam.runs.waiting", "{run}", 0.0),
        ("lakebeam.computations.active", "{computation}", 0.0),
        ("lakebeam.run.findings", "{finding}", findings),
        ("lakebeam.runs.ended", "{run}", 1.0),
    ] {
        let series = of(name, unit);
        assert_eq!(series.iter().map(|s| s.2).collect::<Vec<_>>(), [value], "{name}: {series:?}");
    }
    assert_eq!(of("lakebeam.runs.ended", "{run}")[0].0["state"], "SUCCEEDED");
    for (name, count) in [
        ("lakebeam.chunk.compute.duration", 1),
        ("lakebeam.chunk.store.duration", 1),
        ("lakebeam.run.wait.duration", 1),
        // Begin, chunk, end and start of the run; the report.
        ("lakebeam.store.writer.wait.duration", 5),
    ] {
        let series = of(name, "s");
        assert_eq!(series.iter().map(|s| s.1).collect::<Vec<_>>(), [count], "{name}: {series:?}");
    }
    let renders = of("lakebeam.report.render.duration", "s");
    assert_eq!(renders.len(), 1, "{renders:?}");
    assert_eq!((renders[0].0["template"].as_str(), renders[0].1), ("customer-sheet", 1));
    let memory = of("process.memory.usage", "By")[0].2;
    assert!((8e6..4e9).contains(&memory), "{memory} bytes");
}
