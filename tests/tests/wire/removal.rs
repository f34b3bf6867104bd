//! Deleting over the wire: what others refer to, what is computed, and old results by their age; and clocks that are set wrong.

use std::sync::Arc;

use jiff::Timestamp;
use proto::v1;
use proto::v1::admin_service_client::AdminServiceClient;
use tonic::Code;
use tonic_types::StatusExt as _;

use tests::kit::service::{Service, Setup, reason, refused_fields, spec, spot};

fn at(seconds: i64) -> Option<prost_types::Timestamp> {
    Some(prost_types::Timestamp { seconds, nanos: 0 })
}

fn later() -> Option<prost_types::Timestamp> {
    at(Timestamp::now().as_second() + 86_400)
}

async fn report(service: &Service, source: &str) -> v1::Report {
    let request = v1::RenderReportRequest {
        source: source.to_owned(),
        template: "templates/blank".to_owned(),
        ..v1::RenderReportRequest::default()
    };
    service.reports().render_report(request).await.unwrap().into_inner()
}

#[tokio::test]
async fn what_others_refer_to_goes_only_by_force_and_they_are_named() {
    let service = Service::with_gear(&[12.0]).await;
    let unit =
        v1::Unit { display_name: "Unit".to_owned(), sensor: "sensors/plain-12".to_owned(), ..v1::Unit::default() };
    for number in 0..30 {
        let unit = v1::Unit { serial: format!("s{number}"), ..unit.clone() };
        let request = v1::CreateUnitRequest { unit_id: format!("u{number:02}"), unit: Some(unit) };
        service.fleet().create_unit(request).await.unwrap();
    }
    let delete = |force| v1::DeleteSensorRequest { name: "sensors/plain-12".to_owned(), etag: String::new(), force };
    let refused = service.catalog().delete_sensor(delete(false)).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::FailedPrecondition, "REFERENCED"));
    let named = refused.get_details_precondition_failure().unwrap().violations;
    assert_eq!((named.len(), named[0].subject.as_str()), (20, "units/u00"));
    assert!(refused.message().contains("30 other"), "{}", refused.message());
    assert_eq!(refused.get_details_error_info().unwrap().metadata["count"], "30");
    service.catalog().delete_sensor(delete(true)).await.unwrap();
    let gone = service.catalog().delete_sensor(delete(true)).await.unwrap_err();
    assert_eq!(gone.code(), Code::NotFound);
}

#[tokio::test]
async fn runs_and_reports_are_deleted_and_a_run_with_reports_only_by_force() {
    let service = Service::with_gear(&[12.0]).await;
    service.add_spot("bar", spot(6.0, v1::BottomClass::Silt)).await;
    let (run, _) = service.run(spec()).await;
    let made = report(&service, &run.name).await;
    let delete = |force| v1::DeleteRunRequest { name: run.name.clone(), force };
    let refused = service.selection().delete_run(delete(false)).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::FailedPrecondition, "REFERENCED"));
    assert_eq!(refused.get_details_precondition_failure().unwrap().violations[0].subject, made.name);
    service.selection().delete_run(delete(true)).await.unwrap();
    assert_eq!(service.selection().delete_run(delete(true)).await.unwrap_err().code(), Code::NotFound);
    // The report has its own pages.
    let kept = service.reports().get_report(v1::GetReportRequest { name: made.name.clone() }).await.unwrap();
    assert_eq!(kept.into_inner().name, made.name);
    let request = v1::DeleteReportRequest { name: made.name };
    service.reports().delete_report(request.clone()).await.unwrap();
    assert_eq!(service.reports().delete_report(request).await.unwrap_err().code(), Code::NotFound);
    let request = v1::StartRunRequest { spec: Some(v1::RunSpec { draws: 5_000, ..spec() }), ..Default::default() };
    let going = service.selection().start_run(request).await.unwrap().into_inner();
    let request = v1::DeleteRunRequest { name: going.name, force: true };
    // One that goes on is cancelled first; one that has just ended is gone.
    if let Err(refused) = service.selection().delete_run(request).await {
        assert_eq!((refused.code(), reason(&refused).as_str()), (Code::FailedPrecondition, "RUN_NOT_ENDED"));
    }
}

#[tokio::test]
async fn a_purge_takes_results_alone_and_tells_before_it_does() {
    let service = Service::with_gear(&[12.0]).await;
    service.add_spot("bar", spot(6.0, v1::BottomClass::Silt)).await;
    let (run, _) = service.run(spec()).await;
    let made = report(&service, &run.name).await;
    let mut admin = AdminServiceClient::new(service.channel.clone());
    let request = v1::PurgeResultsRequest { before: later(), ..Default::default() };
    let told = admin.purge_results(request.clone()).await.unwrap().into_inner();
    assert_eq!((told.purge_count, told.kept_count), (2, 0));
    assert_eq!(told.purge_sample, [made.name.clone(), run.name.clone()]);
    service.selection().get_run(v1::GetRunRequest { name: run.name.clone() }).await.unwrap();
    let only = v1::PurgeResultsRequest { collections: vec!["runs".to_owned()], force: true, ..request.clone() };
    let kept = admin.purge_results(only).await.unwrap().into_inner();
    assert_eq!((kept.purge_count, kept.kept_count), (0, 1), "its report stays, so it stays");
    let old = v1::PurgeResultsRequest { before: at(1_000), force: true, ..Default::default() };
    assert_eq!(admin.purge_results(old).await.unwrap().into_inner().purge_count, 0);
    let all = v1::PurgeResultsRequest { force: true, ..request };
    assert_eq!(admin.purge_results(all).await.unwrap().into_inner().purge_count, 2);
    let gone = service.selection().get_run(v1::GetRunRequest { name: run.name }).await.unwrap_err();
    assert_eq!(gone.code(), Code::NotFound);
    service.catalog().get_spot(v1::GetSpotRequest { name: "spots/bar".to_owned() }).await.unwrap();
    let bad = v1::PurgeResultsRequest { before: at(i64::MAX), collections: vec!["spots".to_owned()], force: true };
    let refused = admin.purge_results(bad).await.unwrap_err();
    assert_eq!(refused_fields(&refused), ["before", "collections[0]"]);
}

struct Stopped(Timestamp);

impl runs::Clock for Stopped {
    fn now(&self) -> Timestamp {
        self.0
    }
}

/// A machine whose battery is empty wakes up in 1970 or long before; one that was set by hand may be in any year.
#[tokio::test]
async fn clocks_that_are_set_wrong_stop_nothing() {
    // The ends of what the protocol can name, at which the machine's clock is held.
    for second in [-62_135_596_800, -86_400, 0, 253_402_207_199] {
        let now = Timestamp::from_second(second).unwrap();
        let service = Service::start_with(Setup { clock: Arc::new(Stopped(now)), ..Setup::default() }).await;
        service.add_gear(&[12.0]).await;
        service.add_spot("bar", spot(6.0, v1::BottomClass::Silt)).await;
        let (run, _) = service.run(spec()).await;
        assert_eq!(run.state(), v1::RunState::Succeeded, "{now}");
        report(&service, &run.name).await;
        let mut admin = AdminServiceClient::new(service.channel.clone());
        let trail = admin.list_audit_entries(v1::ListAuditEntriesRequest::default()).await.unwrap().into_inner();
        assert!(trail.audit_entries.len() > 4, "{now}");
        for kind in [v1::RecordFormat::Csv, v1::RecordFormat::Xlsx, v1::RecordFormat::JsonLines] {
            let request = v1::ExportRecordsRequest {
                kind: v1::RecordKind::Spots.into(),
                format: kind.into(),
                ..Default::default()
            };
            let mut stream = service.catalog().export_records(request).await.unwrap().into_inner();
            while stream.message().await.unwrap().is_some() {}
        }
        let request = v1::PurgeResultsRequest { before: later(), force: true, ..Default::default() };
        admin.purge_results(request).await.unwrap();
    }
}
