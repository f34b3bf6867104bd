//! Files of every format through the service: waypoints in and out, maps, spreadsheets.

use proto::v1;
use proto::v1::import_records_request::Part;

use tests::kit::service::{Service, reason, refused_fields, spec, spot};

async fn import(
    service: &Service,
    (kind, format): (v1::RecordKind, v1::RecordFormat),
    bytes: Vec<u8>,
    defaults: &[(&str, &str)],
) -> Result<v1::ImportRecordsResponse, tonic::Status> {
    let header = v1::ImportHeader {
        kind: kind.into(),
        format: format.into(),
        defaults: defaults.iter().map(|(column, cell)| ((*column).to_owned(), (*cell).to_owned())).collect(),
        ..v1::ImportHeader::default()
    };
    let parts = vec![
        v1::ImportRecordsRequest { part: Some(Part::Header(header)) },
        v1::ImportRecordsRequest { part: Some(Part::Chunk(bytes.into())) },
    ];
    Ok(service.catalog().import_records(tokio_stream::iter(parts)).await?.into_inner())
}

async fn export(service: &Service, request: v1::ExportRecordsRequest) -> Result<Vec<u8>, tonic::Status> {
    let mut stream = service.catalog().export_records(request).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = stream.message().await? {
        bytes.extend_from_slice(&part.chunk);
    }
    Ok(bytes)
}

fn of(format: v1::RecordFormat) -> v1::ExportRecordsRequest {
    v1::ExportRecordsRequest {
        kind: v1::RecordKind::Spots.into(),
        format: format.into(),
        ..v1::ExportRecordsRequest::default()
    }
}

fn placed(latitude_deg: f64, depth_m: f64) -> v1::Spot {
    v1::Spot {
        latitude_deg: Some(latitude_deg),
        longitude_deg: Some(-30.5),
        ..spot(depth_m, v1::BottomClass::FineSand)
    }
}

const WAYPOINTS: &str = "<gpx version=\"1.1\" creator=\"a receiver\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n\
    <wpt lat=\"-20.5\" lon=\"-30.5\"><name>North bar</name></wpt>\n\
    <wpt lat=\"-20.6\" lon=\"-30.5\"><name>South bar</name></wpt>\n</gpx>\n";

#[tokio::test]
async fn waypoints_come_in_with_defaults_and_are_refused_without() {
    let service = Service::start().await;
    let spots = (v1::RecordKind::Spots, v1::RecordFormat::Gpx);
    let answer = import(&service, spots, WAYPOINTS.into(), &[]).await.unwrap();
    let found: Vec<_> = answer.faults.iter().map(|f| (f.line, f.column.as_str())).collect();
    assert_eq!(found, [(2, "depth_m"), (3, "depth_m")]);
    assert!(answer.faults[0].message.contains("--default depth_m="), "{:?}", answer.faults[0]);
    assert_eq!((answer.rows_read, answer.created), (2, 0));
    let defaults = [("depth_ft", "24"), ("bottom_class", "silt")];
    let answer = import(&service, spots, WAYPOINTS.into(), &defaults).await.unwrap();
    assert_eq!((answer.created, answer.fault_count), (2, 0), "{:?}", answer.faults);
    let name = "spots/north-bar".to_owned();
    let stored = service.catalog().get_spot(v1::GetSpotRequest { name }).await.unwrap().into_inner();
    assert_eq!((stored.display_name.as_str(), stored.depth_m), ("North bar", 24.0 * 0.3048));
    let status =
        import(&service, (v1::RecordKind::Sensors, v1::RecordFormat::Gpx), WAYPOINTS.into(), &[]).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["header.format"]);
}

#[tokio::test]
async fn waypoints_that_went_out_come_back_the_same() {
    let service = Service::start().await;
    for n in 0..3_u32 {
        service.add_spot(&format!("s{n}"), placed(-20.0 - f64::from(n) / 7.0, 5.0 + f64::from(n) / 3.0)).await;
    }
    let bytes = export(&service, of(v1::RecordFormat::Gpx)).await.unwrap();
    let other = Service::start().await;
    let answer = import(&other, (v1::RecordKind::Spots, v1::RecordFormat::Gpx), bytes.clone(), &[]).await.unwrap();
    assert_eq!((answer.created, answer.fault_count), (3, 0), "{:?}", answer.faults);
    let lines = |format| of(format);
    let (here, there) = (
        export(&service, lines(v1::RecordFormat::Csv)).await.unwrap(),
        export(&other, lines(v1::RecordFormat::Csv)).await.unwrap(),
    );
    assert_eq!(here, there);
    // A spot without a position cannot be a waypoint, and the filter that the refusal names leaves it out.
    service.add_spot("lost", spot(5.0, v1::BottomClass::Silt)).await;
    let status = export(&service, of(v1::RecordFormat::Gpx)).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["filter"]);
    let filtered = v1::ExportRecordsRequest { filter: "latitude_deg >= -90".to_owned(), ..of(v1::RecordFormat::Gpx) };
    assert_eq!(export(&service, filtered).await.unwrap(), bytes);
}

#[tokio::test]
async fn a_map_shows_the_best_option_of_a_run() {
    let service = Service::with_gear(&[8.0, 22.0]).await;
    service.add_spot("a", placed(-20.0, 5.0)).await;
    service.add_spot("b", spot(9.0, v1::BottomClass::Silt)).await;
    let (run, findings) = service.run(spec()).await;
    service.add_spot("c", placed(-21.0, 5.0)).await;
    let request = v1::ExportRecordsRequest { run: run.name.clone(), ..of(v1::RecordFormat::GeoJson) };
    let map: serde_json::Value = serde_json::from_slice(&export(&service, request).await.unwrap()).unwrap();
    assert_eq!(map["type"], "FeatureCollection");
    let features = map["features"].as_array().unwrap();
    assert_eq!(features.len(), 3);
    assert_eq!(features[0]["geometry"]["coordinates"], serde_json::json!([-30.5, -20.0]));
    assert!(features[1]["geometry"].is_null());
    for (feature, best) in features.iter().zip(findings.iter().filter(|finding| finding.rank == 1)) {
        assert_eq!(feature["properties"]["best_option"], best.option.as_str());
        assert_eq!(feature["properties"]["best_score"].as_f64(), Some(best.score));
        assert_eq!(feature["properties"]["changed_since_run"], false);
    }
    assert!(features[2]["properties"].get("best_option").is_none(), "the run knows nothing of it");
    let unknown = v1::ExportRecordsRequest { run: "runs/none".to_owned(), ..of(v1::RecordFormat::GeoJson) };
    assert_eq!(reason(&export(&service, unknown).await.unwrap_err()), "NOT_FOUND");
    let misplaced = v1::ExportRecordsRequest { run: run.name, ..of(v1::RecordFormat::Csv) };
    assert_eq!(refused_fields(&export(&service, misplaced).await.unwrap_err()), ["run"]);
    let targets = v1::ExportRecordsRequest { kind: v1::RecordKind::Targets.into(), ..of(v1::RecordFormat::GeoJson) };
    assert_eq!(refused_fields(&export(&service, targets).await.unwrap_err()), ["format"]);
}

/// Office Open XML files are ZIP archives: APPNOTE.TXT 4.3.7, a local file header begins with PK 3 4.
#[tokio::test]
async fn spreadsheets_come_whole_and_the_same_again() {
    let service = Service::with_gear(&[8.0, 22.0]).await;
    service.add_spot("a", placed(-20.0, 5.0)).await;
    let (run, _) = service.run(spec()).await;
    let request = v1::ExportFindingsRequest {
        parent: run.name.clone(),
        format: v1::FindingFormat::Xlsx.into(),
        ..v1::ExportFindingsRequest::default()
    };
    let mut books = Vec::new();
    for _ in 0..2 {
        let mut stream = service.selection().export_findings(request.clone()).await.unwrap().into_inner();
        let mut bytes = Vec::new();
        while let Some(part) = stream.message().await.unwrap() {
            bytes.extend_from_slice(&part.chunk);
        }
        books.push(bytes);
    }
    assert!(books[0].starts_with(b"PK\x03\x04"));
    assert_eq!(books[0], books[1]);
    assert!(export(&service, of(v1::RecordFormat::Xlsx)).await.unwrap().starts_with(b"PK\x03\x04"));
    let other = Service::start().await;
    for kind in [v1::RecordKind::Spots, v1::RecordKind::Sensors, v1::RecordKind::Targets] {
        let all = |format: v1::RecordFormat| v1::ExportRecordsRequest { kind: kind.into(), ..of(format) };
        let book = export(&service, all(v1::RecordFormat::Xlsx)).await.unwrap();
        let answer = import(&other, (kind, v1::RecordFormat::Xlsx), book, &[]).await.unwrap();
        assert_eq!(answer.fault_count, 0, "{:?}", answer.faults);
        let csv = all(v1::RecordFormat::Csv);
        assert_eq!(export(&service, csv.clone()).await.unwrap(), export(&other, csv).await.unwrap());
    }
    let spots = (v1::RecordKind::Spots, v1::RecordFormat::Xlsx);
    let status = import(&other, spots, b"id,depth_m\n".to_vec(), &[]).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["chunk"]);
    let wrong = v1::ExportFindingsRequest { max_rank: -1, ..request };
    assert_eq!(refused_fields(&service.selection().export_findings(wrong).await.unwrap_err()), ["max_rank"]);
}
