//! A service of its own for each test: temporary file, free port, and a renderer that typesets nothing.

use std::sync::Arc;

use api::{
    Access, AccessLayer, CallerLimits, Entry, Paper, RenderError, RenderJob, RenderSource, Rendered, Renderer,
    TemplateCheck, TemplateInfo,
};
use catalog::{OpenOptions, Store};
use planning::selection::{Prepared, Scratch};
use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use runs::{Clock, Evaluator, Kernel, RunEngine, SystemClock};
use tonic::transport::server::TcpIncoming;
use tonic::transport::{Channel, Server};
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

pub struct Service {
    pub channel: Channel,
    pub url: String,
    pub store: Store,
    engine: RunEngine,
    _dir: tempfile::TempDir,
}

/// What a test may want otherwise.
pub struct Setup {
    pub entry: Entry,
    pub limits: CallerLimits,
    pub clock: Arc<dyn Clock>,
    pub renderer: Arc<dyn Renderer>,
}

impl Default for Setup {
    fn default() -> Self {
        Self {
            entry: Entry::OpenUntilTokens,
            limits: CallerLimits::default(),
            clock: Arc::new(SystemClock),
            renderer: Arc::new(Blank),
        }
    }
}

impl Service {
    pub async fn start() -> Self {
        Self::start_with(Setup::default()).await
    }

    pub async fn start_with(setup: Setup) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let store = Store::open(dir.path().join("wire.db"), OpenOptions::default()).await.unwrap();
        let clock = setup.clock;
        let engine = RunEngine::new(store.clone(), kernel(), runs::Limits::default(), clock.clone()).unwrap();
        let ids = Arc::new(api::RandomIds);
        let services = api::Services::new(api::Context {
            store: store.clone(),
            engine: engine.clone(),
            renderer: setup.renderer,
            limits: api::Limits::default(),
            clock: clock.clone(),
            ids: ids.clone(),
        });
        let access = Access::new(store.clone(), clock, setup.entry, setup.limits);
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        tokio::spawn(
            Server::builder()
                .layer(api::CallLayer::new(ids))
                .layer(AccessLayer::new(access))
                .add_service(services.catalog)
                .add_service(services.selection)
                .add_service(services.rules)
                .add_service(services.fleet)
                .add_service(services.report)
                .add_service(services.admin)
                .serve_with_incoming(TcpIncoming::from(listener).with_nodelay(Some(true))),
        );
        let url = format!("http://{address}");
        let channel = Channel::from_shared(url.clone()).unwrap().connect().await.unwrap();
        Self { channel, url, store, engine, _dir: dir }
    }

    pub fn catalog(&self) -> CatalogServiceClient<Channel> {
        CatalogServiceClient::new(self.channel.clone())
    }

    pub fn rules(&self) -> RulesServiceClient<Channel> {
        RulesServiceClient::new(self.channel.clone())
    }

    pub fn fleet(&self) -> FleetServiceClient<Channel> {
        FleetServiceClient::new(self.channel.clone())
    }

    pub fn selection(&self) -> SelectionServiceClient<Channel> {
        SelectionServiceClient::new(self.channel.clone())
    }

    pub fn reports(&self) -> ReportServiceClient<Channel> {
        ReportServiceClient::new(self.channel.clone())
    }

    /// Stores an invented sensor of that beamwidth, a lure of −50 dB and a fish of −36 dB.
    pub async fn with_gear(beams: &[f64]) -> Self {
        let service = Self::start().await;
        service.add_gear(beams).await;
        service
    }

    pub async fn add_gear(&self, beams: &[f64]) {
        let mut catalog = self.catalog();
        for degrees in beams {
            let request =
                v1::CreateSensorRequest { sensor_id: format!("plain-{degrees}"), sensor: Some(sensor(*degrees)) };
            catalog.create_sensor(request).await.unwrap();
        }
        for (id, kind, db) in [("lure", v1::TargetKind::Lure, -50.0), ("fish", v1::TargetKind::Fish, -36.0)] {
            let target = v1::Target {
                display_name: id.to_owned(),
                kind: kind.into(),
                shape: Some(v1::target::Shape::TargetStrengthDb(stated(db))),
                ..v1::Target::default()
            };
            let request = v1::CreateTargetRequest { target_id: id.to_owned(), target: Some(target) };
            catalog.create_target(request).await.unwrap();
        }
    }

    pub async fn add_spot(&self, id: &str, spot: v1::Spot) {
        let request = v1::CreateSpotRequest { spot_id: id.to_owned(), spot: Some(spot) };
        self.catalog().create_spot(request).await.unwrap();
    }

    /// Runs to the end and gives all findings in order.
    pub async fn run(&self, spec: v1::RunSpec) -> (v1::Run, Vec<v1::Finding>) {
        let request = v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
        let started = self.selection().start_run(request).await.unwrap().into_inner();
        let mut stream =
            self.selection().watch_run(v1::WatchRunRequest { name: started.name.clone() }).await.unwrap().into_inner();
        let mut run = started;
        while let Some(message) = stream.message().await.unwrap() {
            run = message.run.unwrap();
        }
        assert_eq!(run.state(), v1::RunState::Succeeded, "{}", run.error);
        let request = v1::StreamFindingsRequest { parent: run.name.clone(), ..v1::StreamFindingsRequest::default() };
        let mut stream = self.selection().stream_findings(request).await.unwrap().into_inner();
        let mut findings = Vec::new();
        while let Some(finding) = stream.message().await.unwrap() {
            findings.push(finding);
        }
        (run, findings)
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // Lets the chunk in hand go, so that the temporary folder can be removed.
        let engine = self.engine.clone();
        tokio::spawn(async move { engine.shutdown(std::time::Duration::from_secs(1)).await });
    }
}

fn kernel() -> Kernel {
    Arc::new(|input, cancel| {
        let prepared = Prepared::new(input, cancel).map_err(|e| e.to_string())?;
        let evaluator: Evaluator = Box::new(move |spot, cancel| {
            let mut found = Vec::new();
            prepared.evaluate_spot(spot, &mut Scratch::new(), &mut found, cancel).map_err(|e| e.to_string())?;
            Ok(found)
        });
        Ok(evaluator)
    })
}

/// Hands back a page that says nothing: what is tested here is the service around it.
pub struct Blank;

impl Renderer for Blank {
    fn templates(&self) -> Result<Vec<TemplateInfo>, RenderError> {
        let info = |(id, source): (&str, &str)| TemplateInfo {
            id: id.to_owned(),
            title: "Blank".to_owned(),
            source_collection: source.to_owned(),
            own: false,
            usual: true,
        };
        Ok([("blank", "runs"), ("blank-rules", "shelterRules")].map(info).to_vec())
    }
    fn languages(&self) -> Vec<String> {
        vec!["en".to_owned()]
    }
    fn fingerprint(&self, template: &str) -> Result<String, RenderError> {
        if self.templates()?.iter().any(|known| known.id == template) {
            Ok("1".into())
        } else {
            Err(RenderError::UnknownTemplate { template: template.to_owned() })
        }
    }
    fn render(&self, job: &RenderJob) -> Result<Rendered, RenderError> {
        let pdf = match &job.source {
            RenderSource::Run(run) => {
                format!("%PDF {} spots, {} findings", run.spots.len(), run.findings.len()).repeat(9000)
            }
            RenderSource::Document(document) => format!("%PDF {:?}", document.document),
        };
        Ok(Rendered { pdf: pdf.into_bytes(), pages: 1, title: job.settings.title.clone() })
    }
    fn check(&self, template: &str, language: &str, _: Option<Paper>) -> Result<TemplateCheck, RenderError> {
        self.fingerprint(template)?;
        if language != "en" {
            return Err(RenderError::UnknownLanguage { given: language.to_owned(), known: "en".to_owned() });
        }
        Ok(TemplateCheck { faults: Vec::new(), pages: 1, pdf: b"%PDF".to_vec() })
    }
}

pub const fn stated(value: f64) -> v1::Fact {
    v1::Fact { value, provenance: v1::Provenance::Stated as i32, spread: None }
}

/// The generic piston of the common-practice checks: 200 kHz, 100 µs, 20 W acoustic, threshold 150 dB, gain to 70 dB.
pub fn sensor(degrees: f64) -> v1::Sensor {
    let point = |position: &str, gain_db: f64| v1::DialPoint { position: position.to_owned(), gain_db };
    v1::Sensor {
        display_name: format!("Generic {degrees}"),
        notes: "Invented for tests.".to_owned(),
        options: vec![v1::BeamOption {
            option_id: "main".to_owned(),
            frequency_khz: Some(stated(200.0)),
            shape: v1::BeamShape::CircularPiston.into(),
            beamwidth_deg: Some(stated(degrees)),
            beamwidth_level: v1::BeamwidthLevel::Minus3Db.into(),
            electrical_power_w: Some(stated(40.0)),
            power_kind: v1::PowerKind::Rms.into(),
            efficiency_percent: Some(stated(50.0)),
            pulse_length_us: Some(stated(100.0)),
            ..v1::BeamOption::default()
        }],
        threshold_db: Some(stated(150.0)),
        max_gain_db: Some(stated(70.0)),
        dial: Some(v1::GainDial {
            scale: v1::DialScale::ClockHour.into(),
            points: vec![point("7:00", 0.0), point("12:00", 35.0), point("5:00", 70.0)],
        }),
        ..v1::Sensor::default()
    }
}

pub fn spot(depth_m: f64, bottom: v1::BottomClass) -> v1::Spot {
    v1::Spot { display_name: "A spot".to_owned(), depth_m, bottom_class: bottom.into(), ..v1::Spot::default() }
}

/// Watching the lure, over everything stored.
pub fn spec() -> v1::RunSpec {
    v1::RunSpec {
        lure: "targets/lure".to_owned(),
        fish: "targets/fish".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        ..v1::RunSpec::default()
    }
}

/// The fields that a refusal names; it must be INVALID_ARGUMENT with a reason.
pub fn refused_fields(status: &Status) -> Vec<String> {
    assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
    let details = status.get_error_details();
    assert!(details.error_info().is_some_and(|i| i.domain == "lakebeam" && !i.reason.is_empty()), "{status:?}");
    details.bad_request().map(|b| b.field_violations.iter().map(|v| v.field.clone()).collect()).unwrap_or_default()
}

/// The stable reason of a refusal.
pub fn reason(status: &Status) -> String {
    status.get_error_details().error_info().map(|i| i.reason.clone()).unwrap_or_default()
}
