//! What callers do: every method of every service, in a mix of its own for each of them, some of them badly behaved.

mod catalog;
mod fleet;
mod known;
mod records;
mod reports;
mod selection;

use std::future::Future;
use std::sync::Arc;
use std::time::{Duration, Instant};

use tonic::transport::Channel;
use tonic::{Response, Status, Streaming};

use crate::service::{Service, narrow};
use crate::tally::{End, Takes, Tally};

pub(crate) use known::Known;

/// Every method that the mix calls.
pub(crate) const METHODS: [&str; 91] = [
    "CatalogService/GetSensor",
    "CatalogService/ListSensors",
    "CatalogService/CreateSensor",
    "CatalogService/UpdateSensor",
    "CatalogService/DeleteSensor",
    "CatalogService/GetSpot",
    "CatalogService/ListSpots",
    "CatalogService/CreateSpot",
    "CatalogService/UpdateSpot",
    "CatalogService/DeleteSpot",
    "CatalogService/GetShelter",
    "CatalogService/ListShelters",
    "CatalogService/CreateShelter",
    "CatalogService/UpdateShelter",
    "CatalogService/DeleteShelter",
    "CatalogService/GetTarget",
    "CatalogService/ListTargets",
    "CatalogService/CreateTarget",
    "CatalogService/UpdateTarget",
    "CatalogService/DeleteTarget",
    "CatalogService/GetCustomGoal",
    "CatalogService/ListCustomGoals",
    "CatalogService/CreateCustomGoal",
    "CatalogService/UpdateCustomGoal",
    "CatalogService/DeleteCustomGoal",
    "CatalogService/ImportRecords",
    "CatalogService/ExportRecords",
    "SelectionService/StartRun",
    "SelectionService/GetRun",
    "SelectionService/ListRuns",
    "SelectionService/CancelRun",
    "SelectionService/DeleteRun",
    "SelectionService/WatchRun",
    "SelectionService/ListFindings",
    "SelectionService/StreamFindings",
    "SelectionService/ExportFindings",
    "SelectionService/SummarizeRun",
    "SelectionService/ExplainFinding",
    "SelectionService/Evaluate",
    "SelectionService/Recommend",
    "RulesService/DeriveShelterRules",
    "RulesService/GetShelterRules",
    "RulesService/ListShelterRules",
    "RulesService/LayOutShelter",
    "RulesService/DeleteShelterRules",
    "FleetService/GetUnit",
    "FleetService/ListUnits",
    "FleetService/CreateUnit",
    "FleetService/UpdateUnit",
    "FleetService/DeleteUnit",
    "FleetService/GetBooking",
    "FleetService/ListBookings",
    "FleetService/CreateBooking",
    "FleetService/UpdateBooking",
    "FleetService/DeleteBooking",
    "FleetService/GetUnitCheck",
    "FleetService/ListUnitChecks",
    "FleetService/RecordUnitCheck",
    "FleetService/UpdateUnitCheck",
    "FleetService/DeleteUnitCheck",
    "FleetService/GetBeamSurvey",
    "FleetService/ListBeamSurveys",
    "FleetService/RecordBeamSurvey",
    "FleetService/UpdateBeamSurvey",
    "FleetService/DeleteBeamSurvey",
    "FleetService/PlanFleet",
    "FleetService/GetFleetPlan",
    "FleetService/ListFleetPlans",
    "FleetService/AssessUnits",
    "FleetService/GetUnitAssessment",
    "FleetService/ListUnitAssessments",
    "FleetService/DraftBeamSurvey",
    "FleetService/GetBeamSurveyDraft",
    "FleetService/FitBeamSurvey",
    "FleetService/GetBeamFit",
    "FleetService/ListBeamFits",
    "FleetService/AdoptPattern",
    "FleetService/DeleteFleetPlan",
    "FleetService/DeleteUnitAssessment",
    "FleetService/DeleteBeamSurveyDraft",
    "FleetService/DeleteBeamFit",
    "ReportService/RenderReport",
    "ReportService/DownloadReport",
    "ReportService/GetReport",
    "ReportService/ListReports",
    "ReportService/DeleteReport",
    "ReportService/ListTemplates",
    "ReportService/CheckTemplate",
    "ReportService/PreviewTemplate",
    "AdminService/ListAuditEntries",
    "AdminService/PurgeResults",
];

/// How a caller takes a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Manner {
    /// To the end, as fast as it comes.
    Whole,
    /// To the end, with a pause before each of the first parts, over a connection that takes little in advance.
    Slow,
    /// The first part; then it is gone.
    Vanishing,
}

/// Pauses of a slow reader, and how long each is.
const PAUSES: u32 = 20;
const PAUSE: Duration = Duration::from_millis(100);

/// One of many.
pub(crate) struct Caller {
    number: usize,
    url: String,
    channel: Channel,
    known: Arc<Known>,
    tally: Arc<Tally>,
    random: u64,
    /// What it has made so far, for ids that nobody else gives.
    made: u64,
}

impl Caller {
    pub(crate) async fn new(service: &Service, number: usize, known: Arc<Known>, tally: Arc<Tally>) -> Self {
        // Far apart: the same numbers one step later would be the same caller one step later.
        let random = mixed(number as u64);
        let (url, channel) = (service.url.clone(), service.connect().await);
        Self { number, url, channel, known, tally, random, made: 0 }
    }

    /// Does one thing, with its consequences.
    pub(crate) async fn next(&mut self) {
        match self.pick(100) {
            0..14 => self.look_up().await,
            14..26 => self.keep_records_of_the_catalogue().await,
            26..31 => self.import().await,
            31..39 => self.export().await,
            39..46 => self.start_and_watch().await,
            46..64 => self.read_findings().await,
            64..70 => self.evaluate().await,
            70..72 => self.recommend().await,
            72..76 => self.derive_rules().await,
            76..84 => self.keep_records_of_the_fleet().await,
            84..91 => self.derive_for_the_fleet().await,
            91..95 => self.report().await,
            95..97 => self.come_again().await,
            _ => self.audit().await,
        }
    }

    /// A number under `below`, from a stream of its own (SplitMix64).
    fn pick(&mut self, below: u64) -> u64 {
        self.random = self.random.wrapping_add(0x9e37_79b9_7f4a_7c15);
        mixed(self.random) % below
    }

    fn one_of<'a>(&mut self, all: &'a [String]) -> &'a str {
        let index = usize::try_from(self.pick(all.len() as u64)).unwrap();
        &all[index]
    }

    /// An id that nobody else gives.
    fn new_id(&mut self) -> String {
        self.made += 1;
        format!("load-{}-{}", self.number, self.made)
    }

    fn manner(&mut self) -> Manner {
        match self.pick(6) {
            0 => Manner::Slow,
            1 | 2 => Manner::Vanishing,
            _ => Manner::Whole,
        }
    }

    /// A connection for a stream that is taken in that manner.
    async fn channel_for(&self, manner: Manner) -> Channel {
        if manner == Manner::Slow { narrow(&self.url).await } else { self.channel.clone() }
    }

    /// Makes a call; none where it was refused. After an overload it waits as long as it was told.
    async fn call<T>(
        &self,
        method: &'static str,
        call: impl Future<Output = Result<Response<T>, Status>>,
    ) -> Option<T> {
        self.call_within(method, Takes::Answers, call).await
    }

    async fn call_within<T>(
        &self,
        method: &'static str,
        takes: Takes,
        call: impl Future<Output = Result<Response<T>, Status>>,
    ) -> Option<T> {
        let began = Instant::now();
        let answer = call.await;
        self.note(method, began, takes, answer.as_ref().err()).await;
        answer.ok().map(Response::into_inner)
    }

    async fn note(&self, method: &'static str, began: Instant, takes: Takes, status: Option<&Status>) {
        if let End::Overloaded(again) = self.tally.ended(method, began.elapsed(), takes, status) {
            tokio::time::sleep(again).await;
        }
    }

    /// Takes a stream in some manner, and gives what came of it last and how much came.
    async fn stream<T>(
        &self,
        method: &'static str,
        manner: Manner,
        opening: impl Future<Output = Result<Response<Streaming<T>>, Status>>,
    ) -> (Option<T>, usize) {
        let began = Instant::now();
        let (mut last, mut count) = (None, 0);
        let mut stream = match opening.await {
            Ok(opened) => opened.into_inner(),
            Err(status) => {
                self.note(method, began, Takes::Answers, Some(&status)).await;
                return (last, count);
            }
        };
        let mut pauses = PAUSES;
        let ended = loop {
            match stream.message().await {
                Ok(Some(part)) => (last, count) = (Some(part), count + 1),
                Ok(None) => break None,
                Err(status) => break Some(status),
            }
            if manner == Manner::Vanishing {
                self.tally.left(method);
                return (last, count);
            }
            if manner == Manner::Slow && pauses > 0 {
                pauses -= 1;
                tokio::time::sleep(PAUSE).await;
            }
        };
        match (&ended, manner) {
            // How long it took tells of the reader.
            (None, Manner::Slow) => self.tally.left(method),
            _ => self.note(method, began, Takes::Answers, ended.as_ref()).await,
        }
        (last, count)
    }

    /// Drops its connection, whatever is on it, and comes again.
    async fn come_again(&mut self) {
        let endpoint = tonic::transport::Endpoint::from_shared(self.url.clone()).unwrap();
        match endpoint.connect().await {
            Ok(channel) => self.channel = channel,
            Err(error) => self.tally.fault(format!("cannot connect: {error}")),
        }
    }

    async fn audit(&self) {
        let mut admin = proto::v1::admin_service_client::AdminServiceClient::new(self.channel.clone());
        let request = proto::v1::ListAuditEntriesRequest { page_size: 50, ..Default::default() };
        self.call("AdminService/ListAuditEntries", admin.list_audit_entries(request)).await;
        // Nothing is as old as that.
        let before = Some(prost_types::Timestamp::default());
        let request = proto::v1::PurgeResultsRequest { before, force: true, ..Default::default() };
        self.call("AdminService/PurgeResults", admin.purge_results(request)).await;
    }
}

/// A number in which every bit depends on every bit of the other.
const fn mixed(number: u64) -> u64 {
    let mixed = (number ^ (number >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    mixed ^ (mixed >> 31)
}
