//! Seats over the wire: everybody has a hole and an option that was brought, and faults stand where they were given.

use proto::v1;
use tests::kit::service::{Service, refused_fields};

async fn service() -> Service {
    let service = Service::with_gear(&[8.0, 13.0, 22.0]).await;
    let hut = v1::Shelter {
        display_name: "Hut".to_owned(),
        floor_length_m: 4.0,
        floor_width_m: 3.0,
        party_size: 2,
        ..v1::Shelter::default()
    };
    let request = v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(hut) };
    service.catalog().create_shelter(request).await.unwrap();
    service
}

fn person(name: &str, units: &[&str]) -> v1::SeatedPerson {
    let options = units.iter().map(|unit| format!("sensors/{unit}")).collect();
    v1::SeatedPerson { display_name: name.to_owned(), options }
}

fn request(people: Vec<v1::SeatedPerson>) -> v1::SeatPeopleRequest {
    v1::SeatPeopleRequest {
        shelter: "shelters/hut".to_owned(),
        people,
        lure: "targets/lure".to_owned(),
        band: Some(v1::DepthBand { shallow_m: 6.0, deep_m: 8.0 }),
        bottom_classes: vec![v1::BottomClass::Silt.into()],
        ..v1::SeatPeopleRequest::default()
    }
}

#[tokio::test]
async fn each_has_a_hole_of_their_own_and_a_unit_that_they_bring() {
    let service = service().await;
    let people = vec![person("Ann", &["plain-8"]), person("Bo", &["plain-8", "plain-13"]), person("Cy", &["plain-8"])];
    let answer = service.rules().seat_people(request(people.clone())).await.unwrap().into_inner();
    assert_eq!(answer.holes.len(), 3);
    assert_eq!(answer.seats.len() + answer.unseated.len(), 3, "{answer:?}");
    assert!(answer.seats.len() >= 2, "{answer:?}");
    let mut holes: Vec<u32> = answer.seats.iter().map(|seat| seat.hole).collect();
    holes.sort_unstable();
    holes.dedup();
    assert_eq!(holes.len(), answer.seats.len());
    for seat in &answer.seats {
        let given = &people[seat.person as usize];
        let option = &answer.options[seat.option as usize].option;
        assert_eq!(seat.display_name, given.display_name);
        assert!(given.options.iter().any(|unit| option.starts_with(&format!("{unit}/options/"))), "{option}");
        assert!(seat.highest_gain_db >= seat.start_gain_db);
        assert!(!seat.start.as_ref().unwrap().text.is_empty() && !seat.highest.as_ref().unwrap().text.is_empty());
    }
    let least = answer.seats.iter().map(|seat| seat.highest_gain_db - seat.start_gain_db).fold(f64::INFINITY, f64::min);
    assert!(answer.least_headroom_db.is_none_or(|told| told >= least - 1.0e-9), "{answer:?}");
    let equal = v1::SeatPeopleRequest { same_for_all: true, ..request(people) };
    let equal = service.rules().seat_people(equal).await.unwrap().into_inner();
    assert!(equal.seats.iter().all(|seat| seat.option == equal.seats[0].option), "{equal:?}");
}

#[tokio::test]
async fn every_fault_of_a_party_is_named_where_it_was_given() {
    let service = service().await;
    let refused = async |asked: v1::SeatPeopleRequest| {
        let mut fields = refused_fields(&service.rules().seat_people(asked).await.unwrap_err());
        fields.sort();
        fields
    };
    let fields = refused(request(vec![person("", &["plain-8"]), person("Bo", &["plain-8", "plain-9"])])).await;
    assert_eq!(fields, ["people[0].display_name"]);
    assert_eq!(
        refused(request(vec![person("Ann", &["plain-8"]), person("Bo", &["plain-8", "plain-9"])])).await,
        ["people[1].options[1]"]
    );
    let wrong = v1::SeatPeopleRequest {
        shelter: "shelters/none".to_owned(),
        lure: "targets/none".to_owned(),
        ..request(vec![person("Ann", &["plain-8"])])
    };
    assert_eq!(refused(wrong).await, ["lure", "shelter"]);
    assert_eq!(
        refused(v1::SeatPeopleRequest::default()).await,
        ["band", "bottom_classes", "lure", "people", "shelter"]
    );
    let many: Vec<_> = (0..25).map(|n| person(&format!("P{n}"), &["plain-8"])).collect();
    assert_eq!(refused(request(many)).await, ["people"]);
    let wrong = v1::SeatPeopleRequest {
        band: Some(v1::DepthBand { shallow_m: 8.0, deep_m: 6.0 }),
        ..request(vec![person("Ann", &["plain-8"])])
    };
    assert_eq!(refused(wrong).await, ["band.deep_m"]);
}
