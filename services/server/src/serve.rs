//! The service: store, engine and handlers wired into one tonic server that starts fast and stops in an orderly way.

use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use catalog::{OpenOptions, Store};
use planning::selection::{Prepared, Scratch};
use runs::{Evaluator, Kernel, RunEngine, SystemClock};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::codec::CompressionEncoding;
use tonic::transport::Server;
use tonic_health::ServingStatus;
use tracing_subscriber::EnvFilter;

use crate::cli::{self, Global, LogFormat};
use crate::exit::{Outcome, Stop};
use crate::renderer::PdfRenderer;

/// How long streams and calls may take to end once the server is told to stop.
const DRAIN: Duration = Duration::from_secs(2);
/// How long the chunk in hand may take after that.
const CHUNK_GRACE: Duration = Duration::from_secs(2);
/// Requests at once of a service that a verb starts for itself.
const PRIVATE_REQUESTS: usize = 64;

/// How to start the service.
pub(crate) struct Settings {
    listen: SocketAddr,
    database: PathBuf,
    templates: Option<PathBuf>,
    max_requests: usize,
}

impl Settings {
    /// A service of a verb's own: any free port on loopback.
    pub(crate) fn private(database: &Path, templates: Option<&Path>) -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            database: database.to_path_buf(),
            templates: templates.map(Path::to_path_buf),
            max_requests: PRIVATE_REQUESTS,
        }
    }
}

/// A service that runs.
pub(crate) struct Running {
    address: SocketAddr,
    stop: watch::Sender<bool>,
    server: JoinHandle<Result<(), tonic::transport::Error>>,
    engine: RunEngine,
    store: Store,
}

impl Running {
    /// Where it listens.
    pub(crate) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Ends streams, finishes the chunk in hand, closes the database; within five seconds.
    pub(crate) async fn stop(self) {
        let _ = self.stop.send(true);
        // The engine first: it ends the watch streams, for which the server would otherwise wait.
        let engine = self.engine.shutdown(CHUNK_GRACE);
        let server = async {
            let mut server = self.server;
            if tokio::time::timeout(DRAIN, &mut server).await.is_err() {
                server.abort();
            }
        };
        let (finished, ()) = tokio::join!(engine, server);
        if !finished {
            tracing::warn!("a chunk was still in hand and is left to be resumed at the next start");
        }
        self.store.close().await;
    }
}

/// The verb: serves until it is told to stop.
pub(crate) async fn serve(global: &Global, args: &cli::Serve) -> Outcome {
    start_logging(args)?;
    let settings = Settings {
        listen: args.listen,
        database: global.database.clone(),
        templates: global.templates.clone(),
        max_requests: args.max_requests,
    };
    let running = start(&settings).await?;
    println!("lakebeam listens on {}", running.address());
    tracing::info!(address = %running.address(), database = %settings.database.display(), "listening");
    stop_signal().await;
    tracing::info!("stopping");
    running.stop().await;
    Ok(())
}

/// Starts the service; it takes calls when this returns.
pub(crate) async fn start(settings: &Settings) -> Result<Running, Stop> {
    if !settings.listen.ip().is_loopback() {
        return Err(Stop::Usage(format!(
            "{} can be reached from other machines, and this version has neither transport security nor tokens: listen on a \
             loopback address such as 127.0.0.1:50071, and let a proxy that has both stand before it",
            settings.listen
        )));
    }
    let unreachable = |e: &dyn std::fmt::Display| Stop::Unreachable(e.to_string());
    let source = settings.templates.clone().map_or(reports::TemplateSource::BuiltIn, reports::TemplateSource::Folder);
    let renderer = reports::Renderer::new(&source).map_err(|e| Stop::Usage(e.to_string()))?;
    let store = Store::open(&settings.database, OpenOptions::default()).await.map_err(|e| unreachable(&e))?;
    let clock = Arc::new(SystemClock);
    let engine =
        RunEngine::new(store.clone(), kernel(), runs::Limits::default(), clock.clone()).map_err(|e| unreachable(&e))?;
    engine.resume_all().await.map_err(|e| unreachable(&e))?;
    let listener = TcpListener::bind(settings.listen)
        .await
        .map_err(|e| Stop::Unreachable(format!("cannot listen on {}: {e}", settings.listen)))?;
    let address = listener.local_addr().map_err(|e| unreachable(&e))?;
    let ids = Arc::new(api::RandomIds);
    let services = api::Services::new(api::Context {
        store: store.clone(),
        engine: engine.clone(),
        renderer: Arc::new(PdfRenderer(renderer)),
        limits: api::Limits::default(),
        clock,
        ids: ids.clone(),
    });
    let (stop, stopped) = watch::channel(false);
    let server = tokio::spawn(run_server(services, ids, listener, stopped, settings.max_requests));
    Ok(Running { address, stop, server, engine, store })
}

async fn run_server(
    services: api::Services,
    ids: Arc<api::RandomIds>,
    listener: TcpListener,
    mut stopped: watch::Receiver<bool>,
    max_requests: usize,
) -> Result<(), tonic::transport::Error> {
    let (health, health_service) = tonic_health::server::health_reporter();
    for service in ["CatalogService", "SelectionService", "RulesService", "FleetService", "ReportService"] {
        health.set_service_status(format!("lakebeam.v1.{service}"), ServingStatus::Serving).await;
    }
    let described = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(proto::FILE_DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
            // Details of refusals, so that a caller who knows nothing but reflection can read them.
            .register_encoded_file_descriptor_set(tonic_types::pb::FILE_DESCRIPTOR_SET)
    };
    let gzip = CompressionEncoding::Gzip;
    let mut router = Server::builder()
        .accept_http1(true)
        .http2_keepalive_interval(Some(Duration::from_secs(30)))
        .layer(tonic_web::GrpcWebLayer::new())
        .layer(api::CallLayer::new(ids))
        .layer(crate::overload::OverloadLayer::new(max_requests))
        .add_service(health_service)
        .add_service(services.catalog.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.selection.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.rules.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.fleet.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.report.accept_compressed(gzip));
    // Both versions of the protocol: clients of several languages still ask by the older one alone.
    match (described().build_v1(), described().build_v1alpha()) {
        (Ok(v1), Ok(v1alpha)) => router = router.add_service(v1).add_service(v1alpha),
        (Err(e), _) | (_, Err(e)) => tracing::error!(error = %e, "reflection is off"),
    }
    let stop = async move {
        let _ = stopped.wait_for(|stop| *stop).await;
    };
    router.serve_with_incoming_shutdown(TcpListenerStream::new(listener), stop).await
}

/// What the engine computes with: tables once a run, then spot after spot.
fn kernel() -> Kernel {
    Arc::new(|input| {
        let prepared = Prepared::new(input).map_err(|e| e.to_string())?;
        let evaluator: Evaluator = Box::new(move |spot| {
            let mut findings = Vec::with_capacity(prepared.option_count());
            prepared.evaluate_spot(spot, &mut Scratch::new(), &mut findings).map_err(|e| e.to_string())?;
            Ok(findings)
        });
        Ok(evaluator)
    })
}

/// Waits for SIGINT or SIGTERM.
async fn stop_signal() {
    use tokio::signal::unix::{SignalKind, signal};
    match signal(SignalKind::terminate()) {
        Ok(mut terminate) => {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = tokio::signal::ctrl_c() => {}
            }
        }
        Err(_) => {
            let _ = tokio::signal::ctrl_c().await;
        }
    }
}

fn start_logging(args: &cli::Serve) -> Result<(), Stop> {
    let filter = EnvFilter::try_new(&args.log).map_err(|e| Stop::Usage(format!("--log {}: {e}", args.log)))?;
    let colours = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    let builder = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(colours);
    let set = match args.log_format {
        LogFormat::Human => builder.try_init(),
        LogFormat::Json => builder.json().try_init(),
    };
    set.map_err(|e| Stop::Usage(e.to_string()))
}
