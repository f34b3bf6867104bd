//! What is there before the load begins: the demo's catalog, and one of everything that is derived.

use std::path::Path;

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::import_records_request::Part;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::transport::Channel;

/// Names to ask for, and records to make others like.
pub(crate) struct Known {
    pub(super) spots: Vec<String>,
    pub(super) findings: Vec<String>,
    pub(super) run: String,
    pub(super) rules: String,
    pub(super) plan: String,
    pub(super) assessment: String,
    pub(super) draft: String,
    pub(super) fit: String,
    pub(super) report: String,
    pub(super) spot: v1::Spot,
    pub(super) sensor: v1::Sensor,
    pub(super) shelter: v1::Shelter,
    pub(super) target: v1::Target,
    pub(super) goal: v1::CustomGoal,
    pub(super) unit: v1::Unit,
    pub(super) booking: v1::Booking,
    pub(super) check: v1::UnitCheck,
    pub(super) survey: v1::BeamSurvey,
}

/// A record as a new one of its kind is given.
macro_rules! fresh {
    ($client:ident.$get:ident($Get:ident), $name:literal) => {{
        let mut record = $client.$get(v1::$Get { name: $name.to_owned() }).await.unwrap().into_inner();
        record.name.clear();
        record.etag.clear();
        record.create_time = None;
        record.update_time = None;
        record
    }};
}

impl Known {
    /// Imports the demo and derives one of everything.
    pub(crate) async fn prepare(channel: Channel, demo: &Path) -> Self {
        import_demo(&channel, demo).await;
        let mut catalog = CatalogServiceClient::new(channel.clone());
        let mut selection = SelectionServiceClient::new(channel.clone());
        let mut fleet = FleetServiceClient::new(channel.clone());
        let listed = catalog.list_spots(v1::ListSpotsRequest { page_size: 1_000, ..Default::default() }).await.unwrap();
        let spots: Vec<String> = listed.into_inner().spots.into_iter().map(|spot| spot.name).collect();
        let spec = v1::RunSpec { shelter: "shelters/rental-hut-five".to_owned(), draws: 16, ..spec(spots.clone()) };
        let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
        let run = selection.start_run(request).await.unwrap().into_inner().name;
        let mut watched = selection.watch_run(v1::WatchRunRequest { name: run.clone() }).await.unwrap().into_inner();
        let mut last = None;
        while let Some(state) = watched.message().await.unwrap() {
            last = state.run;
        }
        assert_eq!(last.unwrap().state(), v1::RunState::Succeeded);
        let request = v1::ListFindingsRequest { parent: run.clone(), page_size: 200, ..Default::default() };
        let findings = selection.list_findings(request).await.unwrap().into_inner().findings;
        let request = v1::DeriveShelterRulesRequest { spec: Some(rules_spec()) };
        let rules = RulesServiceClient::new(channel.clone()).derive_shelter_rules(request).await.unwrap().into_inner();
        let plan = fleet
            .plan_fleet(v1::PlanFleetRequest { spec: Some(fleet_spec()), ..v1::PlanFleetRequest::default() })
            .await
            .unwrap()
            .into_inner();
        let assessment = fleet.assess_units(v1::AssessUnitsRequest::default()).await.unwrap().into_inner();
        let draft = fleet.draft_beam_survey(draft_request()).await.unwrap().into_inner();
        let fit = fleet.fit_beam_survey(fit_request()).await.unwrap().into_inner();
        let report = render_request(&run, "First".to_owned());
        let report = ReportServiceClient::new(channel).render_report(report).await.unwrap().into_inner();
        Self {
            findings: findings.into_iter().map(|finding| finding.name).collect(),
            rules: rules.name,
            plan: plan.name,
            assessment: assessment.name,
            draft: draft.name,
            fit: fit.name,
            report: report.name,
            spot: fresh!(catalog.get_spot(GetSpotRequest), "spots/vesper-landing"),
            sensor: fresh!(catalog.get_sensor(GetSensorRequest), "sensors/plain-narrow"),
            shelter: fresh!(catalog.get_shelter(GetShelterRequest), "shelters/pop-up-two"),
            target: fresh!(catalog.get_target(GetTargetRequest), "targets/tungsten-jig-5"),
            goal: fresh!(catalog.get_custom_goal(GetCustomGoalRequest), "goals/perch-school"),
            unit: fresh!(fleet.get_unit(GetUnitRequest), "units/narrow-1"),
            booking: fresh!(fleet.get_booking(GetBookingRequest), "bookings/family-saturday"),
            check: fresh!(fleet.get_unit_check(GetUnitCheckRequest), "unitChecks/middle-1-2026-02-08"),
            survey: fresh!(fleet.get_beam_survey(GetBeamSurveyRequest), "beamSurveys/two-face-wide-jan"),
            spots,
            run,
        }
    }
}

/// Every file of the demo's catalog.
async fn import_demo(channel: &Channel, demo: &Path) {
    use v1::RecordKind::{BeamSurveys, Bookings, Goals, Sensors, Shelters, Spots, Targets, UnitChecks, Units};
    let mut catalog = CatalogServiceClient::new(channel.clone());
    for (file, kind) in [
        ("sensors", Sensors),
        ("targets", Targets),
        ("spots", Spots),
        ("shelters", Shelters),
        ("goals", Goals),
        ("units", Units),
        ("bookings", Bookings),
        ("unit-checks", UnitChecks),
        ("beam-surveys", BeamSurveys),
    ] {
        let bytes = std::fs::read(demo.join(format!("{file}.csv"))).unwrap();
        let header = v1::ImportHeader { kind: kind.into(), format: v1::RecordFormat::Csv.into(), ..Default::default() };
        let parts = [Part::Header(header), Part::Chunk(bytes.into())];
        let parts = parts.map(|part| v1::ImportRecordsRequest { part: Some(part) });
        let stored = catalog.import_records(tokio_stream::iter(parts)).await.unwrap().into_inner();
        assert!(stored.created > 0 && stored.fault_count == 0, "{file}: {stored:?}");
    }
}

/// A run over some spots, alone and without draws.
pub(super) fn spec(spots: Vec<String>) -> v1::RunSpec {
    v1::RunSpec {
        spots,
        lure: "targets/tungsten-jig-5".to_owned(),
        fish: "targets/perch-25".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        ..Default::default()
    }
}

pub(super) fn rules_spec() -> v1::RulesSpec {
    v1::RulesSpec {
        shelters: vec!["shelters/pop-up-two".to_owned()],
        options: vec!["sensors/plain-narrow".to_owned(), "sensors/plain-middle".to_owned()],
        lure: "targets/tungsten-jig-5".to_owned(),
        bands: vec![v1::DepthBand { shallow_m: 3.0, deep_m: 6.0 }],
        bottom_classes: vec![v1::BottomClass::Silt.into()],
        ..Default::default()
    }
}

pub(super) fn fleet_spec() -> v1::FleetSpec {
    v1::FleetSpec { bookings: vec!["bookings/family-saturday".to_owned()], ..Default::default() }
}

pub(super) fn draft_request() -> v1::DraftBeamSurveyRequest {
    v1::DraftBeamSurveyRequest {
        option: "sensors/two-face/options/wide".to_owned(),
        target: "targets/check-ball-38".to_owned(),
        depth_m: 9.0,
        holes: 0,
    }
}

pub(super) fn fit_request() -> v1::FitBeamSurveyRequest {
    v1::FitBeamSurveyRequest { survey: "beamSurveys/two-face-wide-jan".to_owned() }
}

/// A sheet of one spot: the smallest report there is on a run.
pub(super) fn render_request(run: &str, title: String) -> v1::RenderReportRequest {
    v1::RenderReportRequest {
        source: run.to_owned(),
        template: "templates/customer-sheet".to_owned(),
        spots: vec!["spots/vesper-landing".to_owned()],
        title,
        ..Default::default()
    }
}
