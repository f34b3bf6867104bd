//! Every kind of write bears the name of its caller's token.

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;

use crate::{add_token, show};
use tests::kit::service::{Service, spec, spot};

#[tokio::test]
async fn every_write_bears_the_name_of_its_token() {
    let service = Service::with_gear(&[12.0, 20.0]).await;
    let token = add_token(&service, "till", 1, None).await;
    let link = || show(&service.channel, &token);
    let (mut catalog, mut selection) = (CatalogServiceClient::new(link()), SelectionServiceClient::new(link()));
    let bar = spot(6.0, v1::BottomClass::Gravel);
    for id in ["bar", "bay"] {
        let request = v1::CreateSpotRequest { spot_id: id.to_owned(), spot: Some(bar.clone()) };
        catalog.create_spot(request).await.unwrap();
    }
    let changed = v1::Spot { name: "spots/bar".to_owned(), ..spot(7.0, v1::BottomClass::Gravel) };
    catalog.update_spot(v1::UpdateSpotRequest { spot: Some(changed), update_mask: None }).await.unwrap();
    catalog
        .delete_spot(v1::DeleteSpotRequest { name: "spots/bay".to_owned(), etag: String::new(), force: false })
        .await
        .unwrap();
    let header = v1::ImportHeader {
        kind: v1::RecordKind::Spots.into(),
        format: v1::RecordFormat::Csv.into(),
        ..v1::ImportHeader::default()
    };
    let rows = "id,display_name,depth_m,bottom_class\npier,Pier,4,silt\n";
    let parts =
        [Part::Header(header), Part::Chunk(rows.into())].map(|part| v1::ImportRecordsRequest { part: Some(part) });
    catalog.import_records(tokio_stream::iter(parts)).await.unwrap();
    let start = v1::StartRunRequest { spec: Some(spec()), ..v1::StartRunRequest::default() };
    let run = selection.start_run(start.clone()).await.unwrap().into_inner().name;
    let mut watch = selection.watch_run(v1::WatchRunRequest { name: run.clone() }).await.unwrap().into_inner();
    while watch.message().await.unwrap().is_some() {}
    let report = v1::RenderReportRequest {
        source: run.clone(),
        template: "templates/blank".to_owned(),
        ..v1::RenderReportRequest::default()
    };
    let report = ReportServiceClient::new(link()).render_report(report).await.unwrap().into_inner().name;
    let shelter = v1::Shelter {
        display_name: "LaidOutShelter".to_owned(),
        floor_length_m: 4.2,
        floor_width_m: 2.4,
        party_size: 3,
        ..v1::Shelter::default()
    };
    let request = v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(shelter) };
    catalog.create_shelter(request).await.unwrap();
    let rules = v1::RulesSpec {
        shelters: vec!["shelters/hut".to_owned()],
        lure: "targets/lure".to_owned(),
        bands: vec![v1::DepthBand { shallow_m: 3.0, deep_m: 6.0 }],
        bottom_classes: vec![v1::BottomClass::Silt.into()],
        ..v1::RulesSpec::default()
    };
    let request = v1::DeriveShelterRulesRequest { spec: Some(rules) };
    let rules = RulesServiceClient::new(link()).derive_shelter_rules(request).await.unwrap().into_inner().name;
    let trail = service.store.audit_trail(None, 1_000).await.unwrap();
    let written = |action: &str, resource: &str| {
        let entry = trail.iter().find(|entry| entry.action == action && entry.resource == resource);
        entry.unwrap_or_else(|| panic!("no {action} of {resource} in {trail:?}")).actor.clone()
    };
    for (action, resource) in [
        ("create", "spots/bar"),
        ("update", "spots/bar"),
        ("delete", "spots/bay"),
        ("import", "spots (1 records)"),
        ("start", &run),
        ("render", &report),
        ("create", "shelters/hut"),
        ("derive", &rules),
    ] {
        assert_eq!(written(action, resource), "till", "{action} {resource}");
    }
    assert_eq!(written("create", "targets/lure"), "local", "before there were tokens");
    assert_eq!(trail.iter().filter(|entry| entry.actor == "till").count(), 9, "{trail:?}");
}
