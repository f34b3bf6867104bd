//! Logs to standard error, and spans and metrics to a collector if one is named.

use std::io::IsTerminal as _;
use std::sync::Arc;

use opentelemetry::metrics::MeterProvider as _;
use opentelemetry::trace::TracerProvider as _;
use opentelemetry_otlp::WithExportConfig as _;
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::error::OTelSdkResult;
use opentelemetry_sdk::metrics::SdkMeterProvider;
use opentelemetry_sdk::trace::SdkTracerProvider;
use tracing_subscriber::filter::{EnvFilter, LevelFilter, Targets};
use tracing_subscriber::layer::SubscriberExt as _;
use tracing_subscriber::util::SubscriberInitExt as _;
use tracing_subscriber::{Layer, fmt};

use crate::cli::{LogFormat, Serve};
use crate::exit::{CliError, root_cause};
use crate::metrics::Metrics;

/// Whose spans go to the collector. Those of the libraries would tell of the export itself, and so never end.
const OURS: [&str; 4] = ["lakebeam", "api", "runs", "reports"];

/// What tells of the service while it runs.
pub(crate) struct Telemetry {
    collector: Option<Collector>,
    metrics: Option<Arc<Metrics>>,
}

/// What sends to a collector.
struct Collector {
    spans: SdkTracerProvider,
    figures: SdkMeterProvider,
}

impl Telemetry {
    /// Begins, for the whole process.
    pub(crate) fn start(args: &Serve) -> Result<Self, CliError> {
        let filter = EnvFilter::try_new(&args.log).map_err(|e| CliError::Usage(format!("--log {}: {e}", args.log)))?;
        let colours =
            std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
        let lines = fmt::layer().with_writer(std::io::stderr).with_ansi(colours);
        let lines = match args.log_format {
            LogFormat::Human => lines.boxed(),
            LogFormat::Json => lines.json().boxed(),
        };
        let collector = args.otlp.as_deref().map(collector).transpose()?;
        let spans = collector.as_ref().map(|collector| {
            let ours = Targets::new().with_targets(OURS.map(|target| (target, LevelFilter::INFO)));
            tracing_opentelemetry::layer().with_tracer(collector.spans.tracer("lakebeam")).with_filter(ours)
        });
        tracing_subscriber::registry()
            .with(lines.with_filter(filter))
            .with(spans)
            .try_init()
            .map_err(|e| CliError::Usage(e.to_string()))?;
        let metrics = collector.as_ref().map(|collector| Arc::new(Metrics::new(collector.figures.meter("lakebeam"))));
        Ok(Self { collector, metrics })
    }

    /// What counts, if a collector wants it.
    pub(crate) fn metrics(&self) -> Option<Arc<Metrics>> {
        self.metrics.clone()
    }

    /// Sends what the collector has not got yet.
    pub(crate) async fn stop(self) {
        let Some(Collector { spans, figures }) = self.collector else { return };
        // Each waits for an answer of the collector, which the runtime must stay free to receive.
        let spans = tokio::task::spawn_blocking(move || spans.shutdown());
        let figures = tokio::task::spawn_blocking(move || figures.shutdown());
        let (spans, figures) = tokio::join!(spans, figures);
        let told = |what: &str, sent: Result<OTelSdkResult, tokio::task::JoinError>| {
            if let Ok(Err(fault)) = sent {
                tracing::warn!(%fault, "the last {what} did not reach the collector");
            }
        };
        told("spans", spans);
        told("metrics", figures);
    }
}

fn collector(url: &str) -> Result<Collector, CliError> {
    let refuse = |e: &dyn std::error::Error| {
        CliError::Usage(format!("--otlp {url}: {}; it reads like http://127.0.0.1:4317", root_cause(e)))
    };
    let spans = opentelemetry_otlp::SpanExporter::builder().with_tonic().with_endpoint(url).build();
    let spans = spans.map_err(|e| refuse(&e))?;
    let figures = opentelemetry_otlp::MetricExporter::builder().with_tonic().with_endpoint(url).build();
    let figures = figures.map_err(|e| refuse(&e))?;
    let resource = Resource::builder().with_service_name("lakebeam").build();
    Ok(Collector {
        spans: SdkTracerProvider::builder().with_batch_exporter(spans).with_resource(resource.clone()).build(),
        // Once a minute, or as often as OTEL_METRIC_EXPORT_INTERVAL says, in milliseconds.
        figures: SdkMeterProvider::builder().with_periodic_exporter(figures).with_resource(resource).build(),
    })
}
