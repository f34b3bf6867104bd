//! What people who fish through ice know from practice, asked of the service with three generic pistons of 9°, 12° and 19° at 200 kHz.
//!
//! Every check in this file: common practice, no published source.

use proto::v1;

use tests::kit::service::{Service, spec, spot};

const FOOT: f64 = 0.3048;

/// The option that ranks first at each spot, in the order of the spots.
async fn best(service: &Service, spec: v1::RunSpec) -> Vec<String> {
    let (_, findings) = service.run(spec).await;
    findings.into_iter().filter(|f| f.rank == 1).map(|f| f.option.replace("/options/main", "")).collect()
}

async fn by_depth(bottom: v1::BottomClass, depths_ft: [u32; 6]) -> Vec<String> {
    let service = Service::with_gear(&[9.0, 12.0, 19.0]).await;
    for feet in depths_ft {
        service.add_spot(&format!("ft{feet}"), spot(f64::from(feet) * FOOT, bottom)).await;
    }
    best(&service, spec()).await
}

#[tokio::test]
async fn the_best_beam_by_depth_on_firm_bottom() {
    let wanted = ["plain-19", "plain-19", "plain-12", "plain-12", "plain-9", "plain-9"].map(|s| format!("sensors/{s}"));
    assert_eq!(by_depth(v1::BottomClass::Silt, [12, 18, 34, 36, 56, 64]).await, wanted);
}

/// The softer the bottom, the shallower the next narrower beam takes over.
#[tokio::test]
async fn the_best_beam_by_depth_on_soft_bottom() {
    let wanted = ["plain-19", "plain-19", "plain-12", "plain-12", "plain-9", "plain-9"].map(|s| format!("sensors/{s}"));
    assert_eq!(by_depth(v1::BottomClass::OrganicOoze, [12, 18, 24, 28, 40, 56]).await, wanted);
}

#[tokio::test]
async fn in_weeds_and_on_a_slope_the_narrow_beam() {
    let service = Service::with_gear(&[9.0, 12.0, 19.0]).await;
    let weeds = v1::Spot {
        canopy: Some(v1::Canopy { height_m: 1.2, density: v1::CanopyDensity::Dense.into(), volume_strength_db: None }),
        lure_height_m: Some(0.6),
        ..spot(4.0, v1::BottomClass::SoftMud)
    };
    let slope = v1::Spot { slope_deg: Some(15.0), ..spot(12.0, v1::BottomClass::Silt) };
    service.add_spot("a-weeds", weeds).await;
    service.add_spot("b-slope", slope).await;
    let first = best(&service, v1::RunSpec { goal: v1::Goal::WeedEdge.into(), ..spec() }).await;
    assert_eq!(first, ["sensors/plain-9", "sensors/plain-9"]);
}

#[tokio::test]
async fn in_a_shelter_shared_by_several_gain_has_a_limit() {
    let service = Service::with_gear(&[9.0, 12.0, 19.0]).await;
    service.add_spot("flat", spot(6.0, v1::BottomClass::MediumSand)).await;
    let shelter = v1::Shelter {
        display_name: "LaidOutShelter".to_owned(),
        floor_length_m: 4.0,
        floor_width_m: 2.4,
        party_size: 5,
        ..v1::Shelter::default()
    };
    let request = v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(shelter) };
    service.catalog().create_shelter(request).await.unwrap();
    let (_, shared) = service.run(v1::RunSpec { shelter: "shelters/hut".to_owned(), ..spec() }).await;
    let (_, alone) = service.run(spec()).await;
    for finding in &shared {
        let gains = finding.gains.as_ref().unwrap();
        assert!(gains.clear_gain_db.unwrap() < gains.max_gain_db, "{}", finding.option);
        assert!(finding.criteria.as_ref().unwrap().headroom_db.is_some());
    }
    assert!(alone.iter().all(|f| f.gains.as_ref().unwrap().clear_gain_db.is_none()));
    // The wider the beam, the more of a neighbour comes in.
    let clear = |beam: &str| {
        let option = format!("sensors/{beam}/options/main");
        shared.iter().find(|f| f.option == option).unwrap().gains.as_ref().unwrap().clear_gain_db.unwrap()
    };
    assert!(clear("plain-9") > clear("plain-19"));
}
