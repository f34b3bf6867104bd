//! Rules, plans, assessments and surveys over the wire: derived, stored, read again, printed; and bad input named whole.

use proto::v1;
use tonic::Code;
use tonic_types::StatusExt as _;

use tests::kit::service::{Service, reason, refused_fields, sensor, spot, stated};

const DAY: &str = "2027-01-15";

fn names(list: &[&str]) -> Vec<String> {
    list.iter().map(|name| (*name).to_owned()).collect()
}

fn unit(serial: &str) -> v1::Unit {
    v1::Unit {
        display_name: format!("Unit {serial}"),
        sensor: "sensors/plain-13".to_owned(),
        serial: serial.to_owned(),
        ..v1::Unit::default()
    }
}

fn booking(spot: &str, shelter: &str, (first, last): (&str, &str)) -> v1::Booking {
    v1::Booking {
        display_name: format!("At {spot}"),
        spot: format!("spots/{spot}"),
        shelter: shelter.to_owned(),
        anglers: 2,
        first_day: first.to_owned(),
        last_day: last.to_owned(),
        lure: "targets/lure".to_owned(),
        fish: "targets/fish".to_owned(),
        min_score: Some(0.05),
        ..v1::Booking::default()
    }
}

fn check(unit: &str, shown_at: &str) -> v1::UnitCheck {
    v1::UnitCheck {
        unit: format!("units/{unit}"),
        option: "main".to_owned(),
        target: "targets/ball".to_owned(),
        day: DAY.to_owned(),
        depth_m: 6.0,
        shown_at: shown_at.to_owned(),
        ..v1::UnitCheck::default()
    }
}

/// Sensors of 8° and 13° with a price, a shelter for two, a reference target and two spots.
async fn service() -> Service {
    let service = Service::start().await;
    let mut catalog = service.catalog();
    for degrees in [8.0, 13.0] {
        let price = Some(v1::Money { currency_code: "EUR".to_owned(), units: 100, nanos: 0 });
        let sensor = v1::Sensor { price, ..sensor(degrees) };
        let request = v1::CreateSensorRequest { sensor_id: format!("plain-{degrees}"), sensor: Some(sensor) };
        catalog.create_sensor(request).await.unwrap();
    }
    for (id, kind, db) in [
        ("lure", v1::TargetKind::Lure, -50.0),
        ("fish", v1::TargetKind::Fish, -36.0),
        ("ball", v1::TargetKind::Reference, -45.0),
    ] {
        let target = v1::Target {
            display_name: id.to_owned(),
            kind: kind.into(),
            shape: Some(v1::target::Shape::TargetStrengthDb(stated(db))),
            ..v1::Target::default()
        };
        catalog
            .create_target(v1::CreateTargetRequest { target_id: id.to_owned(), target: Some(target) })
            .await
            .unwrap();
    }
    let shelter = v1::Shelter {
        display_name: "LaidOutShelter".to_owned(),
        floor_length_m: 4.0,
        floor_width_m: 2.4,
        party_size: 2,
        ..v1::Shelter::default()
    };
    let request = v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(shelter) };
    catalog.create_shelter(request).await.unwrap();
    service.add_spot("near", spot(5.0, v1::BottomClass::Silt)).await;
    service.add_spot("far", spot(8.0, v1::BottomClass::FineSand)).await;
    service
}

async fn add_unit(service: &Service, id: &str, unit: v1::Unit) {
    let request = v1::CreateUnitRequest { unit_id: id.to_owned(), unit: Some(unit) };
    service.fleet().create_unit(request).await.unwrap();
}

async fn add_booking(service: &Service, id: &str, booking: v1::Booking) {
    let request = v1::CreateBookingRequest { booking_id: id.to_owned(), booking: Some(booking) };
    service.fleet().create_booking(request).await.unwrap();
}

async fn add_check(service: &Service, id: &str, check: v1::UnitCheck) {
    let request = v1::RecordUnitCheckRequest { unit_check_id: id.to_owned(), unit_check: Some(check) };
    service.fleet().record_unit_check(request).await.unwrap();
}

#[tokio::test]
async fn records_of_the_fleet_are_kept_changed_and_removed() {
    let service = service().await;
    let mut fleet = service.fleet();
    add_unit(&service, "u1", unit("S-1")).await;
    let kept = fleet.get_unit(v1::GetUnitRequest { name: "units/u1".to_owned() }).await.unwrap().into_inner();
    assert_eq!((kept.serial.as_str(), kept.state()), ("S-1", v1::UnitState::Ready));
    let changed = v1::Unit { state: v1::UnitState::InRepair.into(), ..kept.clone() };
    let mask = prost_types::FieldMask { paths: names(&["state"]) };
    let request = v1::UpdateUnitRequest { unit: Some(changed), update_mask: Some(mask) };
    let changed = fleet.update_unit(request).await.unwrap().into_inner();
    assert_eq!((changed.state(), changed.serial.as_str()), (v1::UnitState::InRepair, "S-1"));
    let stale = v1::DeleteUnitRequest { name: "units/u1".to_owned(), etag: kept.etag, force: false };
    assert_eq!(reason(&fleet.delete_unit(stale).await.unwrap_err()), "STALE_ETAG");
    let request = v1::DeleteUnitRequest { name: "units/u1".to_owned(), etag: changed.etag, force: false };
    fleet.delete_unit(request).await.unwrap();
    let gone = fleet.get_unit(v1::GetUnitRequest { name: "units/u1".to_owned() }).await.unwrap_err();
    assert_eq!(gone.code(), Code::NotFound);
    add_booking(&service, "b1", booking("near", "shelters/hut", (DAY, DAY))).await;
    let request = v1::ListBookingsRequest { filter: "anglers = 2".to_owned(), ..v1::ListBookingsRequest::default() };
    let listed = fleet.list_bookings(request).await.unwrap().into_inner();
    assert_eq!((listed.total_size, listed.bookings[0].name.as_str()), (1, "bookings/b1"));
}

fn rules_spec() -> v1::RulesSpec {
    v1::RulesSpec {
        shelters: names(&["shelters/hut"]),
        lure: "targets/lure".to_owned(),
        bands: vec![v1::DepthBand { shallow_m: 3.0, deep_m: 6.0 }],
        bottom_classes: vec![v1::BottomClass::Silt.into()],
        ..v1::RulesSpec::default()
    }
}

#[tokio::test]
async fn rules_are_derived_kept_and_printed() {
    let service = service().await;
    let mut client = service.rules();
    let request = v1::DeriveShelterRulesRequest { spec: Some(rules_spec()) };
    let rules = client.derive_shelter_rules(request.clone()).await.unwrap().into_inner();
    assert_eq!((rules.options.len(), rules.sheets.len()), (2, 1));
    let band = &rules.sheets[0].bands[0];
    for rule in &band.rules {
        assert_eq!(rule.allowed, rule.highest_gain_db >= rule.start_gain_db, "{rule:?}");
    }
    assert!(rules.sheets[0].bands[0].rules.iter().all(|rule| rule.allowed == rule.start.is_some()), "{rules:?}");
    let near = v1::RulesSpec { next_shelter_m: Some(3.0), unlisted_units: true, ..rules_spec() };
    let near = v1::DeriveShelterRulesRequest { spec: Some(near) };
    let near = client.derive_shelter_rules(near).await.unwrap().into_inner();
    assert_eq!(near.options.iter().filter(|option| option.unlisted.is_some()).count(), 9);
    for (near, alone) in near.sheets[0].bands[0].rules.iter().zip(&band.rules) {
        assert!(near.highest_gain_db <= alone.highest_gain_db && near.allowed <= alone.allowed, "{near:?} {alone:?}");
    }
    let far = v1::RulesSpec { next_shelter_m: Some(201.0), ..rules_spec() };
    let status = client.derive_shelter_rules(v1::DeriveShelterRulesRequest { spec: Some(far) }).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["spec.next_shelter_m"]);
    let again = client.derive_shelter_rules(request).await.unwrap().into_inner();
    assert_eq!(rules.result_hash, again.result_hash, "the same input gives the same rules");
    let kept = client.get_shelter_rules(v1::GetShelterRulesRequest { name: rules.name.clone() }).await.unwrap();
    assert_eq!(kept.into_inner(), rules);
    let listed = client.list_shelter_rules(v1::ListShelterRulesRequest::default()).await.unwrap().into_inner();
    assert_eq!(listed.shelter_rules[0].name, again.name, "newest first");
    let report = |source: &str, template: &str, parts: &[&str]| v1::RenderReportRequest {
        source: source.to_owned(),
        template: format!("templates/{template}"),
        spots: names(parts),
        ..v1::RenderReportRequest::default()
    };
    let mut reports = service.reports();
    let printed = reports.render_report(report(&rules.name, "blank-rules", &["shelters/hut"])).await.unwrap();
    assert_eq!(printed.into_inner().source, rules.name);
    let status = reports.render_report(report(&rules.name, "blank", &[])).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["template"], "that template reports on runs");
    let status = reports.render_report(report(&rules.name, "blank-rules", &["shelters/other"])).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["spots[0]"]);
}

#[tokio::test]
async fn shelters_too_small_and_names_unknown_are_named_at_once() {
    let service = service().await;
    let tight = v1::Shelter {
        display_name: "Tight".to_owned(),
        // Large enough by area, yet no layout of four leaves the ice between them.
        floor_length_m: 1.5,
        floor_width_m: 1.25,
        party_size: 4,
        ..v1::Shelter::default()
    };
    let request = v1::LayOutShelterRequest { shelter: Some(tight.clone()) };
    let status = service.rules().lay_out_shelter(request).await.unwrap_err();
    assert_eq!(reason(&status), "SHELTER_TOO_SMALL");
    let request = v1::CreateShelterRequest { shelter_id: "tight".to_owned(), shelter: Some(tight) };
    service.catalog().create_shelter(request).await.unwrap();
    let spec = v1::RulesSpec { shelters: names(&["shelters/hut", "shelters/tight"]), ..rules_spec() };
    let request = v1::DeriveShelterRulesRequest { spec: Some(spec) };
    assert_eq!(refused_fields(&service.rules().derive_shelter_rules(request).await.unwrap_err()), ["spec.shelters[1]"]);
    let spec = v1::RulesSpec {
        shelters: names(&["shelters/none", "shelters/hut"]),
        lure: "targets/none".to_owned(),
        options: names(&["sensors/none"]),
        ..rules_spec()
    };
    let request = v1::DeriveShelterRulesRequest { spec: Some(spec) };
    let named = refused_fields(&service.rules().derive_shelter_rules(request).await.unwrap_err());
    assert_eq!(named, ["spec.shelters[0]", "spec.options[0]", "spec.lure"]);
}

#[tokio::test]
async fn a_plan_serves_bookings_with_what_is_owned_and_bought() {
    let service = service().await;
    add_unit(&service, "u1", unit("S-1")).await;
    add_booking(&service, "b1", booking("near", "", ("2027-01-15", "2027-01-16"))).await;
    add_booking(&service, "b2", booking("far", "", ("2027-01-16", "2027-01-17"))).await;
    let request = v1::PlanFleetRequest {
        spec: Some(v1::FleetSpec { options: names(&["sensors/plain-13"]), ..v1::FleetSpec::default() }),
        validate_only: false,
    };
    let plan = service.fleet().plan_fleet(request).await.unwrap().into_inner();
    assert_eq!((plan.assignments.len(), plan.unmet.len(), plan.cards.len()), (2, 0, 2));
    // Four units are out on the sixteenth, one of which is owned.
    assert_eq!(plan.purchases.iter().map(|p| p.count).sum::<u32>(), 3);
    assert_eq!(plan.cost, Some(v1::Money { currency_code: "EUR".to_owned(), units: 300, nanos: 0 }));
    assert!(plan.cost_is_proven);
    let kept = service.fleet().get_fleet_plan(v1::GetFleetPlanRequest { name: plan.name.clone() }).await.unwrap();
    assert_eq!(kept.into_inner(), plan);
    let budget = Some(v1::Money { currency_code: "EUR".to_owned(), units: 150, nanos: 0 });
    let spec = v1::FleetSpec { options: names(&["sensors/plain-13"]), budget, ..v1::FleetSpec::default() };
    let plan = service
        .fleet()
        .plan_fleet(v1::PlanFleetRequest { spec: Some(spec), ..v1::PlanFleetRequest::default() })
        .await
        .unwrap()
        .into_inner();
    assert_eq!((plan.assignments.len(), plan.unmet.len()), (1, 1));
    assert_eq!(plan.unmet[0].reason(), v1::UnmetReason::BudgetTooSmall);
    assert!(!plan.unmet[0].text.is_empty());
}

#[tokio::test]
async fn contradictory_bookings_duplicate_serials_and_bad_budgets_are_named_at_once() {
    let service = service().await;
    let status = service.fleet().plan_fleet(v1::PlanFleetRequest::default()).await.unwrap_err();
    assert_eq!(reason(&status), "EMPTY_BATCH");
    add_unit(&service, "u1", unit("S-1")).await;
    add_unit(&service, "u2", unit("S-1")).await;
    add_booking(&service, "b1", booking("near", "shelters/hut", ("2027-01-15", "2027-01-17"))).await;
    add_booking(&service, "b2", booking("far", "shelters/hut", ("2027-01-17", "2027-01-18"))).await;
    let budget = Some(v1::Money { currency_code: "EUR".to_owned(), units: -5, nanos: 0 });
    let spec = v1::FleetSpec { budget, ..v1::FleetSpec::default() };
    let status = service
        .fleet()
        .plan_fleet(v1::PlanFleetRequest { spec: Some(spec), ..v1::PlanFleetRequest::default() })
        .await
        .unwrap_err();
    let named = refused_fields(&status);
    assert!(named.iter().any(|field| field == "units/u2.serial"), "{named:?}");
    assert!(named.iter().any(|field| field.starts_with("bookings/b2.")), "{named:?}");
    assert!(named.iter().any(|field| field.starts_with("spec.budget")), "{named:?}");
    let spec = v1::FleetSpec { bookings: names(&["bookings/none"]), gap: Some(0.7), ..v1::FleetSpec::default() };
    let status = service
        .fleet()
        .plan_fleet(v1::PlanFleetRequest { spec: Some(spec), ..v1::PlanFleetRequest::default() })
        .await
        .unwrap_err();
    assert_eq!(refused_fields(&status), ["spec.gap"]);
    // A booking that ends before it begins never gets in.
    let backwards = booking("near", "", ("2027-01-18", "2027-01-15"));
    let request = v1::CreateBookingRequest { booking_id: "b3".to_owned(), booking: Some(backwards) };
    assert_eq!(refused_fields(&service.fleet().create_booking(request).await.unwrap_err()), ["booking.last_day"]);
}

#[tokio::test]
async fn units_are_assessed_from_their_checks() {
    let service = service().await;
    for index in 1..=5 {
        let id = format!("u{index}");
        add_unit(&service, &id, unit(&format!("S-{index}"))).await;
        for repeat in 0..2 {
            // The third one needs two hours more on the dial, some 14 dB.
            let shown = if index == 3 { "11:00" } else { "9:00" };
            add_check(&service, &format!("c{index}-{repeat}"), check(&id, shown)).await;
        }
    }
    let assessment = service.fleet().assess_units(v1::AssessUnitsRequest::default()).await.unwrap().into_inner();
    assert_eq!((assessment.units.len(), assessment.readings.len(), assessment.cohorts.len()), (5, 10, 1));
    assert_eq!(assessment.units[0].unit, "units/u3", "the worst first");
    assert_eq!(assessment.units[0].standing(), v1::Standing::Weak);
    assert!(assessment.units[1..].iter().all(|unit| unit.standing() == v1::Standing::Sound));
    let request = v1::GetUnitAssessmentRequest { name: assessment.name.clone() };
    assert_eq!(service.fleet().get_unit_assessment(request).await.unwrap().into_inner(), assessment);
    let deep = v1::UnitCheck { depth_m: 0.0, ..check("u1", "9:00") };
    let request = v1::RecordUnitCheckRequest { unit_check_id: "deep".to_owned(), unit_check: Some(deep) };
    let named = refused_fields(&service.fleet().record_unit_check(request).await.unwrap_err());
    assert_eq!(named, ["unit_check.depth_m"]);
    let off = v1::RecordUnitCheckRequest { unit_check_id: "off".to_owned(), unit_check: Some(check("u1", "6:00")) };
    let refused = service.fleet().record_unit_check(off).await.unwrap_err();
    assert!(refused.message().contains("not on the dial"), "{refused:?}");
    assert_eq!(refused_fields(&refused), ["unit_check.shown_at"]);
    // What only the catalog can tell is found when units are assessed: those checks are left out and listed, and stop nothing.
    add_check(&service, "lure", v1::UnitCheck { target: "targets/lure".to_owned(), ..check("u2", "9:00") }).await;
    let assessment = service.fleet().assess_units(v1::AssessUnitsRequest::default()).await.unwrap().into_inner();
    let left_out: Vec<_> = assessment.left_out.iter().map(|out| out.name.as_str()).collect();
    assert_eq!((assessment.readings.len(), left_out), (10, vec!["unitChecks/lure"]));
    assert!(assessment.left_out[0].text.contains("another kind"), "{:?}", assessment.left_out);
}

#[tokio::test]
async fn a_survey_is_drafted_recorded_fitted_and_adopted() {
    let service = service().await;
    let mut fleet = service.fleet();
    let request = v1::DraftBeamSurveyRequest {
        option: "sensors/plain-13/options/main".to_owned(),
        target: "targets/ball".to_owned(),
        depth_m: 9.0,
        holes: 0,
    };
    let draft = fleet.draft_beam_survey(request).await.unwrap().into_inner();
    assert_eq!((draft.offsets_m.len(), draft.cells.len()), (12, 12 * draft.depths_m.len()));
    let kept = fleet.get_beam_survey_draft(v1::GetBeamSurveyDraftRequest { name: draft.name.clone() }).await.unwrap();
    assert_eq!(kept.into_inner(), draft);
    // A unit that does exactly what is expected: every box that lies on the dial is filled.
    let filled = draft.cells.iter().filter(|cell| !cell.expected_dial.is_empty() && cell.expected_gain_db >= 0.0);
    let readings: Vec<_> = filled
        .map(|cell| v1::SurveyReading {
            offset_m: cell.offset_m,
            depth_m: cell.depth_m,
            outcome: v1::SurveyOutcome::LeastGain.into(),
            gain_db: cell.expected_gain_db,
        })
        .collect();
    let survey = v1::BeamSurvey {
        display_name: "Line".to_owned(),
        option: draft.option.clone(),
        target: draft.target.clone(),
        day: DAY.to_owned(),
        readings,
        ..v1::BeamSurvey::default()
    };
    let record = |id: &str, survey: v1::BeamSurvey| v1::RecordBeamSurveyRequest {
        beam_survey_id: id.to_owned(),
        beam_survey: Some(survey),
    };
    fleet.record_beam_survey(record("line", survey.clone())).await.unwrap();
    let fit = fleet.fit_beam_survey(v1::FitBeamSurveyRequest { survey: "beamSurveys/line".to_owned() }).await.unwrap();
    let fit = fit.into_inner();
    assert!((fit.beamwidth_deg.unwrap().value - 13.0).abs() < 0.3, "{:?}", fit.beamwidth_deg);
    assert!(fit.tilt_deg.unwrap().value.abs() < 0.2 && fit.threshold_shift_db.unwrap().value.abs() < 0.5);
    let before = fleet.get_beam_fit(v1::GetBeamFitRequest { name: fit.name.clone() }).await.unwrap().into_inner();
    assert_eq!(before, fit);
    let request = v1::AdoptPatternRequest { fit: fit.name.clone(), sensor_etag: "old".to_owned() };
    assert_eq!(reason(&fleet.adopt_pattern(request).await.unwrap_err()), "STALE_ETAG");
    let request = v1::AdoptPatternRequest { fit: fit.name.clone(), sensor_etag: String::new() };
    let sensor = fleet.adopt_pattern(request).await.unwrap().into_inner();
    assert_eq!(sensor.options[0].shape(), v1::BeamShape::Tabulated);
    assert_eq!(sensor.options[0].pattern_provenance(), v1::Provenance::Measured);
    // Whoever says nothing of an etag is not refused because somebody else was quicker, however many write at once.
    let mut writers = tokio::task::JoinSet::new();
    for i in 0..4 {
        let (mut fleet, adopt) =
            (service.fleet(), v1::AdoptPatternRequest { fit: fit.name.clone(), ..Default::default() });
        writers.spawn(async move { fleet.adopt_pattern(adopt).await });
        let (mut catalog, display_name) = (service.catalog(), format!("Writer {i}"));
        let renamed = v1::Sensor { display_name, etag: String::new(), ..sensor.clone() };
        let request = v1::UpdateSensorRequest {
            sensor: Some(renamed),
            update_mask: Some(prost_types::FieldMask { paths: vec!["display_name".to_owned()] }),
        };
        writers.spawn(async move { catalog.update_sensor(request).await });
    }
    for written in writers.join_all().await {
        assert_eq!(written.unwrap().into_inner().options[0].shape(), v1::BeamShape::Tabulated);
    }
    // Without a detection there is nothing to fit.
    let mut blind = survey;
    blind.readings.iter_mut().for_each(|reading| reading.outcome = v1::SurveyOutcome::NotSeen.into());
    fleet.record_beam_survey(record("blind", blind)).await.unwrap();
    let request = v1::FitBeamSurveyRequest { survey: "beamSurveys/blind".to_owned() };
    let status = fleet.fit_beam_survey(request).await.unwrap_err();
    assert_eq!(refused_fields(&status), ["beamSurveys/blind.readings"]);
    let request = v1::DraftBeamSurveyRequest {
        option: "sensors/plain-13".to_owned(),
        target: "targets/lure".to_owned(),
        depth_m: 1.0,
        holes: 2,
    };
    assert_eq!(refused_fields(&fleet.draft_beam_survey(request).await.unwrap_err()), ["option"]);
}

fn hand_out(booking: &str, units: &[&str], plan: &str) -> v1::HandOutUnitsRequest {
    v1::HandOutUnitsRequest { booking: format!("bookings/{booking}"), units: names(units), plan: plan.to_owned() }
}

#[tokio::test]
async fn units_go_out_and_come_back_all_or_none() {
    let service = service().await;
    let mut fleet = service.fleet();
    for id in ["u1", "u2", "u3"] {
        add_unit(&service, id, unit(id)).await;
    }
    add_booking(&service, "b1", booking("near", "shelters/hut", ("2027-01-15", "2027-01-16"))).await;
    add_booking(&service, "b2", booking("far", "", ("2027-01-16", "2027-01-18"))).await;
    let out = fleet.hand_out_units(hand_out("b1", &["units/u1", "units/u2"], "")).await.unwrap().into_inner().units;
    for unit in &out {
        assert_eq!((unit.state(), unit.lent_to.as_str()), (v1::UnitState::OnLoan, "bookings/b1"));
        assert_eq!(unit.back_day, "2027-01-17");
    }
    // One of the two is out: none goes, and the refusal says which is where.
    let refused = fleet.hand_out_units(hand_out("b2", &["units/u2", "units/u3"], "")).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::FailedPrecondition, "UNITS_ELSEWHERE"));
    let named = refused.get_error_details().precondition_failure().unwrap().violations.clone();
    assert_eq!((named.len(), named[0].subject.as_str()), (1, "units/u2"));
    assert!(named[0].description.contains("on loan to bookings/b1"), "{}", named[0].description);
    let third = fleet.get_unit(v1::GetUnitRequest { name: "units/u3".to_owned() }).await.unwrap().into_inner();
    assert_eq!(third.state(), v1::UnitState::Ready);
    // A booking that holds units stays, unless asked otherwise.
    let request = v1::DeleteBookingRequest { name: "bookings/b1".to_owned(), ..v1::DeleteBookingRequest::default() };
    assert_eq!(reason(&fleet.delete_booking(request).await.unwrap_err()), "REFERENCED");
    // Back: one to be repaired, the other ready.
    let request = v1::TakeBackUnitsRequest {
        units: names(&["units/u1"]),
        state: v1::UnitState::InRepair.into(),
        back_day: "2027-01-20".to_owned(),
        ..v1::TakeBackUnitsRequest::default()
    };
    let back = fleet.take_back_units(request).await.unwrap().into_inner().units;
    assert_eq!((back[0].state(), back[0].lent_to.as_str()), (v1::UnitState::InRepair, ""));
    let request = v1::TakeBackUnitsRequest { booking: "bookings/b1".to_owned(), ..v1::TakeBackUnitsRequest::default() };
    let back = fleet.take_back_units(request.clone()).await.unwrap().into_inner().units;
    assert_eq!((back.len(), back[0].name.as_str(), back[0].back_day.as_str()), (1, "units/u2", ""));
    assert_eq!(refused_fields(&fleet.take_back_units(request).await.unwrap_err()), ["booking"]);
    // What says too little, too much, or a place that units do not come back to.
    let ready = v1::TakeBackUnitsRequest {
        units: names(&["units/u1"]),
        back_day: "2027-01-20".to_owned(),
        ..v1::TakeBackUnitsRequest::default()
    };
    let gone =
        v1::TakeBackUnitsRequest { state: v1::UnitState::Retired.into(), back_day: String::new(), ..ready.clone() };
    for (request, field) in [(ready, "back_day"), (gone, "state"), (v1::TakeBackUnitsRequest::default(), "units")] {
        assert_eq!(refused_fields(&fleet.take_back_units(request).await.unwrap_err()), [field]);
    }
    assert_eq!(refused_fields(&fleet.hand_out_units(hand_out("b2", &[], "")).await.unwrap_err()), ["units"]);
    let unknown = fleet.hand_out_units(hand_out("b2", &["units/u9"], "")).await.unwrap_err();
    assert!(unknown.message().contains("units/u9"), "{}", unknown.message());
    // By the plan that names them; one that keeps nothing takes no wishes.
    let spec = v1::FleetSpec { untold_bookings: names(&["bookings/b1"]), ..v1::FleetSpec::default() };
    let refused = fleet
        .plan_fleet(v1::PlanFleetRequest { spec: Some(spec), ..v1::PlanFleetRequest::default() })
        .await
        .unwrap_err();
    assert_eq!(refused_fields(&refused), ["spec.untold_bookings"]);
    let spec = v1::FleetSpec { bookings: names(&["bookings/b2"]), ..v1::FleetSpec::default() };
    let plan = fleet
        .plan_fleet(v1::PlanFleetRequest { spec: Some(spec), ..v1::PlanFleetRequest::default() })
        .await
        .unwrap()
        .into_inner();
    let named: Vec<&str> = plan.assignments[0].given.iter().map(|unit| unit.unit.as_str()).collect();
    let none = fleet.hand_out_units(hand_out("b1", &[], &plan.name)).await.unwrap_err();
    assert_eq!(refused_fields(&none), ["plan"]);
    let out = fleet.hand_out_units(hand_out("b2", &[], &plan.name)).await.unwrap().into_inner().units;
    assert_eq!(out.iter().map(|unit| unit.name.as_str()).collect::<Vec<_>>(), named);
}
