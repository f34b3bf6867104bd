//! The service: store, engine and handlers wired into one tonic server that starts fast and stops in an orderly way.

use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use api::{Access, AccessLayer, CallerLimits, Entry, Secret};
use catalog::{Condition, OpenOptions, Store};
use counter::{Api, Counter, Transport};
use futures::Stream;
use planning::selection::{Prepared, Scratch};
use runs::{Clock as _, Evaluator, Kernel, RunEngine, SystemClock};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tonic::codec::CompressionEncoding;
use tonic::service::Routes;
use tonic::transport::{Server, ServerTlsConfig};
use tonic_health::ServingStatus;
use tonic_health::pb::health_server::{Health, HealthServer};
use tonic_health::server::HealthReporter;
use tower::Layer as _;

use crate::cli::{self, Global, OwnTemplates};
use crate::connections::{self, Connection, ConnectionLimits};
use crate::doors::{DoorsLayer, Hosts, Scope};
use crate::exit::{CliError, Outcome, root_cause};
use crate::metrics::Metrics;
use crate::overload::OverloadLayer;
use crate::pages::PagesLayer;
use crate::renderer::PdfRenderer;
use crate::sandbox;
use crate::tables::TableKeeper;
use crate::telemetry::Telemetry;
use crate::tls;

/// How long streams and calls may take to end once the server is told to stop.
const DRAIN: Duration = Duration::from_secs(2);
/// How long the chunk in hand may take after that.
const CHUNK_GRACE: Duration = Duration::from_secs(2);
/// Pause between two looks at the database file; a write looks for itself.
const FILE_LOOK: Duration = Duration::from_millis(500);
/// The services whose health is reported.
const SERVICES: [&str; 6] =
    ["CatalogService", "SelectionService", "RulesService", "FleetService", "ReportService", "AdminService"];
/// Requests at once of a service that a verb starts for itself.
const PRIVATE_REQUESTS: usize = 64;
/// How often a write is tried while the database fails.
const PROBE: Duration = Duration::from_secs(2);
const MIB: usize = 1024 * 1024;
/// Of what callers send: a file comes in fewer pieces than with the usual 16 KiB.
const FRAME_BYTES: u32 = 256 * 1024;

/// How to start the service.
pub(crate) struct Settings {
    listen: SocketAddr,
    database: PathBuf,
    templates: OwnTemplates,
    tls: Option<ServerTlsConfig>,
    entry: Entry,
    public_hosts: Vec<String>,
    connections: ConnectionLimits,
    max_requests: usize,
    of_caller: CallerLimits,
    of_call: api::Limits,
    of_run: runs::Limits,
}

impl Settings {
    /// A service of a verb's own: any free port on loopback, and nobody but the verb, whatever the tokens in the database say:
    /// whoever started it may read the file anyway.
    pub(crate) fn private(database: &Path, templates: &OwnTemplates, secret: Secret) -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            database: database.to_path_buf(),
            templates: templates.clone(),
            tls: None,
            entry: Entry::Only(secret),
            public_hosts: Vec::new(),
            connections: ConnectionLimits::default(),
            max_requests: PRIVATE_REQUESTS,
            of_caller: CallerLimits::default(),
            of_call: api::Limits::default(),
            of_run: runs::Limits::default(),
        }
    }

    fn public(global: &Global, args: &cli::Serve) -> Result<Self, CliError> {
        let open = args.listen.ip().is_loopback();
        Ok(Self {
            listen: args.listen,
            database: global.database.clone(),
            templates: global.own.clone(),
            tls: tls::of_service(&args.tls)?,
            entry: if open { Entry::OpenUntilTokens } else { Entry::Tokens },
            public_hosts: args.public_host.clone(),
            connections: ConnectionLimits {
                all: args.limits.max_connections,
                of_an_address: args.limits.max_connections_per_address,
                ..ConnectionLimits::default()
            },
            max_requests: args.limits.max_requests,
            of_caller: CallerLimits {
                calls: args.limits.max_requests_per_caller,
                stream_idle: Duration::from_secs(args.limits.max_stream_idle_seconds),
            },
            of_call: api::Limits {
                message_bytes: args.limits.max_message_mib.saturating_mul(MIB),
                upload_bytes: args.limits.max_upload_mib.saturating_mul(MIB),
                ..api::Limits::default()
            },
            of_run: runs::Limits {
                findings: args.limits.max_findings_per_run,
                waiting_runs_per_caller: args.limits.max_waiting_runs_per_caller,
                ..runs::Limits::default()
            },
        })
    }
}

/// A service that runs.
pub(crate) struct Running {
    address: SocketAddr,
    stop: watch::Sender<bool>,
    server: JoinHandle<Result<(), tonic::transport::Error>>,
    engine: RunEngine,
    store: Store,
    tables: TableKeeper,
    health: HealthReporter,
}

impl Running {
    /// Where it listens.
    pub(crate) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Waits until the database file is no longer the one that was opened, or is damaged; health says so from then on.
    async fn lost(&self) -> String {
        loop {
            tokio::time::sleep(FILE_LOOK).await;
            if let Err(error) = self.store.check_file() {
                tell_health(&self.health, ServingStatus::NotServing).await;
                return error.to_string();
            }
        }
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
        self.tables.stop().await;
        self.store.close().await;
    }
}

/// The verb: serves until it is told to stop.
pub(crate) async fn serve(global: &Global, args: &cli::Serve) -> Outcome {
    let telemetry = Telemetry::start(args)?;
    let settings = Settings::public(global, args)?;
    let secure = settings.tls.is_some();
    let running = start(settings, telemetry.metrics()).await?;
    let (scheme, address) = (if secure { "https" } else { "http" }, running.address());
    println!("pages for the browser: {scheme}://{address}/ ; lakebeam listens on {address}");
    tracing::info!(address = %running.address(), database = %global.database.display(), secure, "listening");
    let lost = tokio::select! {
        () = stop_signal() => None,
        error = running.lost() => Some(error),
    };
    if let Some(error) = &lost {
        tracing::error!(%error, "the database is lost");
    }
    tracing::info!("stopping");
    running.stop().await;
    telemetry.stop().await;
    lost.map_or(Ok(()), |error| Err(CliError::Unreachable(error)))
}

/// Starts the service; it takes calls when this returns. Whoever counts is told from the first call and the first run on.
pub(crate) async fn start(settings: Settings, metrics: Option<Arc<Metrics>>) -> Result<Running, CliError> {
    let unreachable = |e: &dyn std::fmt::Display| CliError::Unreachable(e.to_string());
    let server = server(&settings)?;
    let renderer = renderer(&settings.templates)?;
    let store = Store::open(&settings.database, OpenOptions::default()).await.map_err(|e| unreachable(&e))?;
    let clock = Arc::new(SystemClock);
    if let Some(refused) = unsafe_beyond_loopback(&settings, &store, clock.now()).await? {
        store.close().await;
        return Err(refused);
    }
    let tables = TableKeeper::start(&settings.database);
    let engine =
        RunEngine::new(store.clone(), kernel(), settings.of_run, clock.clone()).map_err(|e| unreachable(&e))?;
    let mut call = api::CallLayer::new(Arc::new(api::RandomIds));
    if let Some(metrics) = &metrics {
        let writers = Arc::clone(metrics);
        store.tell_writer_waits(Box::new(move |time| writers.writer_waited(time)));
        engine.tell(metrics.clone());
        metrics.ask(&engine);
        call = call.observed_by(metrics.clone());
    }
    engine.resume_all().await.map_err(|e| unreachable(&e))?;
    let listener = TcpListener::bind(settings.listen)
        .await
        .map_err(|e| CliError::Unreachable(format!("cannot listen on {}: {e}", settings.listen)))?;
    let address = listener.local_addr().map_err(|e| unreachable(&e))?;
    let services = api::Services::new(api::Context {
        store: store.clone(),
        engine: engine.clone(),
        renderer: Arc::new(PdfRenderer { renderer, metrics }),
        limits: settings.of_call,
        clock: clock.clone(),
        ids: Arc::new(api::RandomIds),
    });
    let (stop, stopped) = watch::channel(false);
    let (health, health_service) = tonic_health::server::health_reporter();
    tell_health(&health, ServingStatus::Serving).await;
    let routes = routes(services, health_service);
    let scope = if settings.listen.ip().is_loopback() { Scope::Loopback } else { Scope::Anywhere };
    let hosts = Arc::new(Hosts::new(&settings.public_hosts, scope));
    // A verb's own service has no pages: nobody else could sign in.
    let has_pages = !matches!(settings.entry, Entry::Only(_));
    let overload = OverloadLayer::new(settings.max_requests);
    let access = AccessLayer::new(Access::new(store.clone(), clock, settings.entry, settings.of_caller));
    let pages = if has_pages {
        // Pages ask as any caller does: with an id, within the limits, and through the gate.
        let asked = call.layer(overload.layer(access.layer(routes.clone())));
        let transport = if settings.tls.is_some() { Transport::Encrypted } else { Transport::Plain };
        Some(counter::router(Counter::new(Api::new(asked), transport).map_err(|e| unreachable(&e))?))
    } else {
        None
    };
    let layers = Layers {
        pages: PagesLayer::new(pages, Arc::clone(&hosts)),
        call,
        doors: DoorsLayer::new(hosts),
        overload,
        access,
    };
    let incoming = connections::incoming(listener, settings.connections);
    let watched = Watched(tokio::spawn(watch_store(health.clone(), store.clone())));
    let server = tokio::spawn(run_server(server, layers, routes, incoming, (watched, stopped)));
    Ok(Running { address, stop, server, engine, store, tables, health })
}

fn renderer(own: &OwnTemplates) -> Result<reports::Renderer, CliError> {
    let source = own.templates.clone().map_or(reports::TemplateSource::BuiltIn, reports::TemplateSource::Folder);
    let limits = sandbox::Limits { memory_mib: own.template_memory_mib, seconds: own.template_seconds };
    reports::Renderer::new(&source, Arc::new(move |job| sandbox::run(job, limits)))
        .map_err(|e| CliError::Usage(e.to_string()))
}

/// What other machines can reach must be encrypted and answer holders of tokens alone.
async fn unsafe_beyond_loopback(
    settings: &Settings,
    store: &Store,
    now: jiff::Timestamp,
) -> Result<Option<CliError>, CliError> {
    if settings.listen.ip().is_loopback() {
        return Ok(None);
    }
    let tokens = store.tokens().await.map_err(|e| CliError::Unreachable(e.to_string()))?;
    let mut missing = Vec::new();
    if settings.tls.is_none() {
        missing.push("a certificate (--tls-certificate FILE --tls-key FILE)".to_owned());
    }
    if !tokens.iter().any(|token| token.is_good(now)) {
        let database = settings.database.display();
        missing.push(format!("a token (lakebeam --database {database} token add NAME --role admin)"));
    }
    if missing.is_empty() {
        return Ok(None);
    }
    Ok(Some(CliError::Usage(format!(
        "{} can be reached from other machines, and for that the service needs {}; give it, or listen on a loopback address such as \
         127.0.0.1:50071",
        settings.listen,
        missing.join(" and ")
    ))))
}

fn server(settings: &Settings) -> Result<Server, CliError> {
    let server = Server::builder()
        .accept_http1(true)
        .http2_keepalive_interval(Some(Duration::from_secs(30)))
        .max_frame_size(Some(FRAME_BYTES));
    match &settings.tls {
        None => Ok(server),
        Some(tls) => server.tls_config(tls.clone()).map_err(|e| {
            let cause = root_cause(&e);
            CliError::Usage(format!(
                "the certificate and the key cannot be used: {cause}; name a pair that belongs together"
            ))
        }),
    }
}

/// The layers around the services, the outermost first.
struct Layers {
    pages: PagesLayer,
    call: api::CallLayer,
    doors: DoorsLayer,
    overload: OverloadLayer,
    access: AccessLayer,
}

async fn run_server(
    server: Server,
    layers: Layers,
    routes: Routes,
    incoming: impl Stream<Item = io::Result<Connection>>,
    (watched, mut stopped): (Watched, watch::Receiver<bool>),
) -> Result<(), tonic::transport::Error> {
    let mut server = server
        .layer(layers.pages)
        .layer(tonic_web::GrpcWebLayer::new())
        .layer(layers.call)
        .layer(layers.doors)
        .layer(layers.overload)
        .layer(layers.access);
    let stop = async move {
        let _ = stopped.wait_for(|stop| *stop).await;
    };
    let ended = server.add_routes(routes).serve_with_incoming_shutdown(incoming, stop).await;
    drop(watched);
    ended
}

/// Every service that can be called.
fn routes(services: api::Services, health_service: HealthServer<impl Health>) -> Routes {
    let described = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(proto::FILE_DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
            // Details of refusals, so that a caller who knows nothing but reflection can read them.
            .register_encoded_file_descriptor_set(tonic_types::pb::FILE_DESCRIPTOR_SET)
    };
    let gzip = CompressionEncoding::Gzip;
    let routes = Routes::new(health_service)
        .add_service(services.catalog.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.selection.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.rules.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.fleet.accept_compressed(gzip).send_compressed(gzip))
        .add_service(services.report.accept_compressed(gzip))
        .add_service(services.admin.accept_compressed(gzip).send_compressed(gzip));
    // Both versions of the protocol: clients of several languages still ask by the older one alone.
    match (described().build_v1(), described().build_v1alpha()) {
        (Ok(v1), Ok(v1alpha)) => routes.add_service(v1).add_service(v1alpha),
        (Err(e), _) | (_, Err(e)) => {
            tracing::error!(error = %e, "reflection is off");
            routes
        }
    }
}

/// Says of every service, and of the whole under the empty name, how it is.
async fn tell_health(health: &HealthReporter, status: ServingStatus) {
    for service in SERVICES {
        health.set_service_status(format!("lakebeam.v1.{service}"), status).await;
    }
    health.set_service_status("", status).await;
}

/// A task that ends with what it watches for.
struct Watched(JoinHandle<()>);

impl Drop for Watched {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// Keeps the health of the services to that of the database. While it fails, a write is tried now and then, as callers that go by the
/// health would bring none.
async fn watch_store(health: HealthReporter, store: Store) {
    let mut condition = store.condition();
    let mut known = Condition::Sound;
    loop {
        let now = condition.borrow_and_update().clone();
        if now != known {
            match &now {
                Condition::Sound => tracing::info!("the database can be written again; the service is healthy"),
                Condition::Failing(error) => {
                    tracing::error!(%error, "the database fails; the service is not healthy until a write succeeds again");
                }
            }
            let status = if now == Condition::Sound { ServingStatus::Serving } else { ServingStatus::NotServing };
            tell_health(&health, status).await;
            known = now;
        }
        if known == Condition::Sound {
            if condition.changed().await.is_err() {
                return;
            }
        } else {
            let _ = tokio::time::timeout(PROBE, condition.changed()).await;
            // Its outcome is the condition.
            let _ = store.probe().await;
        }
    }
}

/// What the engine computes with: tables once a run, then spot after spot.
fn kernel() -> Kernel {
    Arc::new(|input, cancel| {
        let prepared = Prepared::new(input, cancel).map_err(|e| e.to_string())?;
        let evaluator: Evaluator = Box::new(move |spot, cancel| {
            let mut findings = Vec::with_capacity(prepared.option_count());
            prepared.evaluate_spot(spot, &mut Scratch::new(), &mut findings, cancel).map_err(|e| e.to_string())?;
            Ok(findings)
        });
        Ok(evaluator)
    })
}

/// Waits for SIGINT or SIGTERM.
pub(crate) async fn stop_signal() {
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
