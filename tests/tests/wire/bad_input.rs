//! Every case of bad input: handled, or refused with all faults named; nothing half stored, nothing panics.

use proto::v1;
use proto::v1::import_records_request::Part;
use tonic::Code;

use tests::kit::service::{Service, reason, refused_fields, sensor, spec, spot, stated};

async fn import(
    service: &Service,
    kind: v1::RecordKind,
    bytes: &[u8],
    header: v1::ImportHeader,
) -> Result<v1::ImportRecordsResponse, tonic::Status> {
    let header = v1::ImportHeader { kind: kind.into(), format: v1::RecordFormat::Csv.into(), ..header };
    let parts = vec![
        v1::ImportRecordsRequest { part: Some(Part::Header(header)) },
        v1::ImportRecordsRequest { part: Some(Part::Chunk(bytes.to_vec().into())) },
    ];
    Ok(service.catalog().import_records(tokio_stream::iter(parts)).await?.into_inner())
}

async fn spot_count(service: &Service) -> i32 {
    service.catalog().list_spots(v1::ListSpotsRequest::default()).await.unwrap().into_inner().total_size
}

#[tokio::test]
async fn numbers_that_mean_nothing_are_refused_by_name() {
    let service = Service::start().await;
    for (value, field) in [(f64::NAN, "depth_m"), (f64::INFINITY, "depth_m"), (-3.0, "depth_m"), (1e9, "depth_m")] {
        let request = v1::CreateSpotRequest { spot_id: "s".to_owned(), spot: Some(spot(value, v1::BottomClass::Silt)) };
        let status = service.catalog().create_spot(request).await.unwrap_err();
        assert!(refused_fields(&status).contains(&format!("spot.{field}")), "{value}: {status:?}");
    }
    let mut wide = sensor(12.0);
    wide.options[0].beamwidth_deg = Some(stated(200.0));
    wide.options[0].frequency_khz = Some(stated(f64::NEG_INFINITY));
    wide.price = Some(v1::Money { currency_code: "EUR".to_owned(), units: -5, nanos: 0 });
    wide.display_name = "x".repeat(121);
    let request = v1::CreateSensorRequest { sensor_id: "wide".to_owned(), sensor: Some(wide) };
    let named = refused_fields(&service.catalog().create_sensor(request).await.unwrap_err());
    for field in ["sensor.options[0].beamwidth_deg", "sensor.options[0].frequency_khz", "sensor.display_name"] {
        assert!(named.iter().any(|n| n == field), "{field} is not in {named:?}");
    }
    assert!(named.iter().any(|n| n.starts_with("sensor.price")), "{named:?}");
}

#[tokio::test]
async fn ids_etags_and_names_are_checked() {
    let service = Service::start().await;
    service.add_spot("one", spot(5.0, v1::BottomClass::Silt)).await;
    let again = v1::CreateSpotRequest { spot_id: "one".to_owned(), spot: Some(spot(5.0, v1::BottomClass::Silt)) };
    let status = service.catalog().create_spot(again).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::AlreadyExists, "ALREADY_EXISTS"));
    let stale = v1::Spot { name: "spots/one".to_owned(), etag: "old".to_owned(), ..spot(6.0, v1::BottomClass::Silt) };
    let request = v1::UpdateSpotRequest { spot: Some(stale), update_mask: None };
    let status = service.catalog().update_spot(request).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::Aborted, "STALE_ETAG"));
    let status = service.catalog().get_spot(v1::GetSpotRequest { name: "spots/two".to_owned() }).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::NotFound, "NOT_FOUND"));
    for bad in ["spots/Two", "spot/two", "spots/", "spots/../x"] {
        let status = service.catalog().get_spot(v1::GetSpotRequest { name: bad.to_owned() }).await.unwrap_err();
        assert_eq!(refused_fields(&status), ["name"], "{bad}");
    }
    for (token, size) in [("not a token", 0), ("", -1)] {
        let request =
            v1::ListSpotsRequest { page_token: token.to_owned(), page_size: size, ..v1::ListSpotsRequest::default() };
        assert_eq!(service.catalog().list_spots(request).await.unwrap_err().code(), Code::InvalidArgument);
    }
    let request = v1::ListSpotsRequest { filter: "depth > 3".to_owned(), ..v1::ListSpotsRequest::default() };
    assert_eq!(reason(&service.catalog().list_spots(request).await.unwrap_err()), "BAD_FILTER");
}

const HEAD: &str = "id,display_name,depth_m,bottom_class\n";

#[tokio::test]
async fn files_in_every_dress_are_read() {
    let service = Service::start().await;
    let dressed: [(&str, Vec<u8>); 3] = [
        ("mark", format!("\u{feff}{HEAD}mark,Mark,4.5,silt\n").into_bytes()),
        ("ends", format!("{HEAD}ends,\"Ends, all\",4.5,silt\n").replace('\n', "\r\n").into_bytes()),
        ("semi", format!("{HEAD}semi,Semi,4.5,silt\n").replace(',', ";").replace("4.5", "4,5").into_bytes()),
    ];
    for (id, bytes) in dressed {
        let answer = import(&service, v1::RecordKind::Spots, &bytes, v1::ImportHeader::default()).await.unwrap();
        assert_eq!((answer.created, answer.fault_count), (1, 0), "{id}: {:?}", answer.faults);
        let stored = service.catalog().get_spot(v1::GetSpotRequest { name: format!("spots/{id}") }).await.unwrap();
        assert_eq!(stored.into_inner().depth_m, 4.5);
    }
}

#[tokio::test]
async fn faulty_files_are_refused_whole_with_every_line_and_column() {
    let service = Service::start().await;
    let text = format!("{HEAD}good,Good,5,silt\nbad,Bad,-5,silt\ngood,Twice,6,silt\nworse,Worse,nan,custard\n");
    let answer = import(&service, v1::RecordKind::Spots, text.as_bytes(), v1::ImportHeader::default()).await.unwrap();
    let found: Vec<_> = answer.faults.iter().map(|f| (f.line, f.column.as_str())).collect();
    for fault in [(3, "depth_m"), (4, "id"), (5, "depth_m"), (5, "bottom_class")] {
        assert!(found.contains(&fault), "{fault:?} is not in {found:?}");
    }
    assert_eq!((answer.created, spot_count(&service).await), (0, 0), "nothing is half stored");
    let skipping = v1::ImportHeader { skip_bad_rows: true, ..v1::ImportHeader::default() };
    let answer = import(&service, v1::RecordKind::Spots, text.as_bytes(), skipping).await.unwrap();
    assert_eq!((answer.created, spot_count(&service).await), (1, 1));
    // A column that nobody knows, and text that is not UTF-8.
    let unknown = b"id,display_name,depht_m,bottom_class\na,A,5,silt\n";
    let answer = import(&service, v1::RecordKind::Spots, unknown, v1::ImportHeader::default()).await.unwrap();
    assert!(
        answer.faults.iter().any(|f| f.column == "depht_m" && f.message.contains("depth_m")),
        "{:?}",
        answer.faults
    );
    let broken = [HEAD.as_bytes(), b"b,B\xff\xfe,5,silt\n"].concat();
    let answer = import(&service, v1::RecordKind::Spots, &broken, v1::ImportHeader::default()).await.unwrap();
    assert!(answer.faults.iter().any(|f| f.line == 2), "{:?}", answer.faults);
    assert_eq!(spot_count(&service).await, 1);
}

#[tokio::test]
async fn a_stream_without_its_header_is_refused() {
    let service = Service::start().await;
    let parts = vec![v1::ImportRecordsRequest { part: Some(Part::Chunk(b"id\n".to_vec().into())) }];
    let status = service.catalog().import_records(tokio_stream::iter(parts)).await.unwrap_err();
    assert_eq!(status.code(), Code::InvalidArgument);
    let parts = vec![v1::ImportRecordsRequest { part: Some(Part::Header(v1::ImportHeader::default())) }];
    let status = service.catalog().import_records(tokio_stream::iter(parts)).await.unwrap_err();
    let named = refused_fields(&status);
    for field in ["kind", "format"] {
        assert!(named.iter().any(|n| n.ends_with(field)), "{field} is not in {named:?}");
    }
}

#[tokio::test]
async fn runs_name_everything_that_is_unknown_or_empty() {
    let service = Service::with_gear(&[12.0]).await;
    let start = |spec| {
        let mut client = service.selection();
        async move {
            client
                .start_run(v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() })
                .await
                .unwrap_err()
        }
    };
    assert_eq!(reason(&start(spec()).await), "EMPTY_BATCH", "there is no spot yet");
    service.add_spot("one", spot(5.0, v1::BottomClass::Silt)).await;
    let names = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
    let wrong = v1::RunSpec {
        spots: names(&["spots/one", "spots/two", "spots/three"]),
        options: names(&["sensors/plain-12/options/other", "sensors/none"]),
        shelter: "shelters/none".to_owned(),
        fish: "targets/none".to_owned(),
        ..spec()
    };
    let named = refused_fields(&start(wrong).await);
    for field in ["spec.spots[1]", "spec.spots[2]", "spec.options[0]", "spec.options[1]", "spec.shelter", "spec.fish"] {
        assert!(named.iter().any(|n| n == field), "{field} is not in {named:?}");
    }
    let twice = v1::RunSpec { spots: names(&["spots/one", "spots/one"]), ..spec() };
    assert_eq!(refused_fields(&start(twice).await), ["spec.spots[1]"]);
    let swapped = v1::RunSpec { lure: "targets/fish".to_owned(), ..spec() };
    assert_eq!(refused_fields(&start(swapped).await), ["spec.lure"]);
    let nan = v1::RunSpec { interference_tolerance: Some(f64::NAN), ..spec() };
    assert_eq!(refused_fields(&start(nan).await), ["spec.interference_tolerance"]);
    assert!(service.store.list_runs(None, 10).await.unwrap().is_empty(), "nothing was started");
}
