//! Logs to standard error, and spans to a collector if one is named.

use std::io::IsTerminal as _;

use opentelemetry::trace::TracerProvider as _;
use opentelemetry_otlp::WithExportConfig as _;
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::trace::SdkTracerProvider;
use tracing_subscriber::filter::{EnvFilter, LevelFilter, Targets};
use tracing_subscriber::layer::SubscriberExt as _;
use tracing_subscriber::util::SubscriberInitExt as _;
use tracing_subscriber::{Layer, fmt};

use crate::cli::{LogFormat, Serve};
use crate::exit::Stop;
use crate::tls::root_cause;

/// Whose spans go to the collector. Those of the libraries would tell of the export itself, and so never end.
const OURS: [&str; 4] = ["lakebeam", "api", "runs", "reports"];

/// What tells of the service while it runs.
pub(crate) struct Telemetry {
    collector: Option<SdkTracerProvider>,
}

impl Telemetry {
    /// Begins, for the whole process.
    pub(crate) fn start(args: &Serve) -> Result<Self, Stop> {
        let filter = EnvFilter::try_new(&args.log).map_err(|e| Stop::Usage(format!("--log {}: {e}", args.log)))?;
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
            tracing_opentelemetry::layer().with_tracer(collector.tracer("lakebeam")).with_filter(ours)
        });
        tracing_subscriber::registry()
            .with(lines.with_filter(filter))
            .with(spans)
            .try_init()
            .map_err(|e| Stop::Usage(e.to_string()))?;
        Ok(Self { collector })
    }

    /// Sends what the collector has not got yet.
    pub(crate) async fn stop(self) {
        let Some(collector) = self.collector else { return };
        // It waits for an answer of the collector, which the runtime must stay free to receive.
        let sent = tokio::task::spawn_blocking(move || collector.shutdown()).await;
        if let Ok(Err(fault)) = sent {
            tracing::warn!(%fault, "the last spans did not reach the collector");
        }
    }
}

fn collector(url: &str) -> Result<SdkTracerProvider, Stop> {
    let exporter = opentelemetry_otlp::SpanExporter::builder().with_tonic().with_endpoint(url).build();
    let exporter = exporter
        .map_err(|e| Stop::Usage(format!("--otlp {url}: {}; it reads like http://127.0.0.1:4317", root_cause(&e))))?;
    Ok(SdkTracerProvider::builder()
        .with_batch_exporter(exporter)
        .with_resource(Resource::builder().with_service_name("lakebeam").build())
        .build())
}
