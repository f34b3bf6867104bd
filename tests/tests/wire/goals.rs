//! Goals of the users' own, over the wire: stored, named wherever a goal is, and kept with what was computed.

use proto::v1;
use proto::v1::recommend_response::Step;
use tonic::Code;
use tonic_types::StatusExt as _;

use tests::kit::service::{Service, reason, refused_fields, spec, spot};

const OWN: &str = "goals/perch-school";

/// A goal that weighs as the preset for a school does, figure by figure.
fn like_school() -> v1::CustomGoal {
    v1::CustomGoal {
        display_name: "Perch in a school".to_owned(),
        starts_from: v1::Goal::Search.into(),
        coverage_weight: Some(0.5),
        clutter_weight: Some(1.0),
        resolution_weight: Some(3.0),
        interference_weight: Some(1.0),
        coverage_radius_worthless_m: Some(0.3),
        coverage_radius_good_m: Some(2.5),
        watch_footprint_worthless_m: Some(4.0),
        watch_footprint_good_m: Some(0.8),
        dead_zone_height_worthless_m: Some(0.9),
        dead_zone_height_good_m: Some(0.1),
        lure_over_vegetation_worthless_db: Some(-5.0),
        lure_over_vegetation_good_db: Some(10.0),
        headroom_worthless_db: Some(-6.0),
        headroom_good_db: Some(6.0),
        single_fish_probability_worthless: Some(0.3),
        single_fish_probability_good: Some(0.9),
        ..v1::CustomGoal::default()
    }
}

async fn service() -> Service {
    let service = Service::with_gear(&[8.0, 13.0, 22.0]).await;
    for (id, depth) in [("a", 4.0), ("b", 8.0), ("c", 15.0)] {
        service.add_spot(id, spot(depth, v1::BottomClass::Silt)).await;
    }
    let request =
        v1::CreateCustomGoalRequest { custom_goal_id: "perch-school".to_owned(), custom_goal: Some(like_school()) };
    service.catalog().create_custom_goal(request).await.unwrap();
    service
}

fn own() -> v1::RunSpec {
    v1::RunSpec { goal: 0, custom_goal: OWN.to_owned(), ..spec() }
}

/// Half of the time the own goal, half of it another.
fn half_own() -> v1::RunSpec {
    let share =
        |goal: v1::Goal, custom: &str| v1::UseShare { goal: goal.into(), custom_goal: custom.to_owned(), share: 0.5 };
    let uses = vec![share(v1::Goal::Search, ""), share(v1::Goal::Unspecified, OWN)];
    v1::RunSpec { spots: ["a", "b", "c"].map(|id| format!("spots/{id}")).to_vec(), uses, draws: 24, ..own() }
}

/// Turns the stored goal round: clutter is all that counts.
async fn change(service: &Service) {
    let changed = v1::CustomGoal {
        name: OWN.to_owned(),
        display_name: "Clutter".to_owned(),
        coverage_weight: Some(0.0),
        clutter_weight: Some(1.0),
        resolution_weight: Some(0.0),
        interference_weight: Some(0.0),
        ..v1::CustomGoal::default()
    };
    let update_mask = Some(prost_types::FieldMask { paths: vec!["*".to_owned()] });
    service
        .catalog()
        .update_custom_goal(v1::UpdateCustomGoalRequest { custom_goal: Some(changed), update_mask })
        .await
        .unwrap();
}

async fn explained(service: &Service, finding: &str) -> v1::ExplainStep {
    let request = v1::ExplainFindingRequest { name: finding.to_owned() };
    service.selection().explain_finding(request).await.unwrap().into_inner().root.unwrap()
}

async fn summary(service: &Service, run: &str) -> v1::Recommendation {
    let request = v1::SummarizeRunRequest { name: run.to_owned() };
    service.selection().summarize_run(request).await.unwrap().into_inner().recommendation.unwrap()
}

#[tokio::test]
async fn what_is_given_comes_back_and_what_is_left_out_stays_so() {
    let service = service().await;
    let get = async |name: &str| {
        let request = v1::GetCustomGoalRequest { name: name.to_owned() };
        service.catalog().get_custom_goal(request).await.unwrap().into_inner()
    };
    let stored = get(OWN).await;
    let stamps = (stored.etag.clone(), stored.create_time, stored.update_time);
    assert_eq!(
        stored,
        v1::CustomGoal {
            name: OWN.to_owned(),
            etag: stamps.0,
            create_time: stamps.1,
            update_time: stamps.2,
            ..like_school()
        }
    );
    let plain = v1::CustomGoal { display_name: "Plain".to_owned(), ..v1::CustomGoal::default() };
    let request = v1::CreateCustomGoalRequest { custom_goal_id: "plain".to_owned(), custom_goal: Some(plain) };
    service.catalog().create_custom_goal(request).await.unwrap();
    let plain = get("goals/plain").await;
    assert_eq!(
        (plain.starts_from(), plain.coverage_weight, plain.headroom_good_db),
        (v1::Goal::Unspecified, None, None)
    );
    let filter = "resolution_weight > 2 AND starts_from = \"search\"".to_owned();
    let request = v1::ListCustomGoalsRequest { filter, ..v1::ListCustomGoalsRequest::default() };
    let listed = service.catalog().list_custom_goals(request).await.unwrap().into_inner();
    let names: Vec<&str> = listed.custom_goals.iter().map(|goal| goal.name.as_str()).collect();
    assert_eq!((names, listed.total_size), (vec![OWN], 1));
}

#[tokio::test]
async fn every_fault_of_a_goal_is_named_at_once() {
    let service = Service::start().await;
    let bad = v1::CustomGoal {
        coverage_weight: Some(-1.0),
        coverage_radius_worthless_m: Some(2.0),
        coverage_radius_good_m: Some(2.0),
        headroom_worthless_db: Some(6.0),
        single_fish_probability_good: Some(0.9),
        ..v1::CustomGoal::default()
    };
    let request = v1::CreateCustomGoalRequest { custom_goal_id: "bad".to_owned(), custom_goal: Some(bad) };
    let mut fields = refused_fields(&service.catalog().create_custom_goal(request).await.unwrap_err());
    fields.sort();
    assert_eq!(
        fields,
        [
            "custom_goal.coverage_radius_good_m",
            "custom_goal.coverage_weight",
            "custom_goal.display_name",
            "custom_goal.headroom_good_db",
            "custom_goal.single_fish_probability_worthless",
        ]
    );
}

#[tokio::test]
async fn a_run_of_an_own_goal_with_a_presets_figures_has_the_presets_findings() {
    let service = service().await;
    let school = v1::RunSpec { goal: v1::Goal::School.into(), ..spec() };
    let (of_preset, preset_findings) = service.run(school.clone()).await;
    let (of_own, own_findings) = service.run(own()).await;
    assert_eq!((of_own.result_hash.as_str(), own_findings.len()), (of_preset.result_hash.as_str(), 9));
    let bits = |found: &[v1::Finding]| found.iter().map(|f| f.score.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&own_findings), bits(&preset_findings));
    assert_eq!(of_own.spec.unwrap().custom_goal, OWN);
    let evaluate = async |spec: v1::RunSpec| {
        let spec = v1::RunSpec { spots: vec!["spots/b".to_owned()], ..spec };
        let request = v1::EvaluateRequest { spec: Some(spec), ..v1::EvaluateRequest::default() };
        service.selection().evaluate(request).await.unwrap().into_inner().findings
    };
    let evaluated = evaluate(own()).await;
    assert_eq!(evaluated, evaluate(school).await);
    assert_eq!(evaluated.len(), 3);
}

#[tokio::test]
async fn a_run_keeps_the_weights_and_limits_with_which_it_was_started() {
    let service = service().await;
    let (run, findings) = service.run(half_own()).await;
    let (tree, advice) = (explained(&service, &findings[0].name).await, summary(&service, &run.name).await);
    assert!(tree.text.contains("Perch in a school"), "{}", tree.text);
    let told: Vec<_> =
        advice.places.iter().map(|p| (p.goal(), p.custom_goal.as_str(), p.goal_title.as_str())).collect();
    assert_eq!(
        told[..2],
        [(v1::Goal::Search, "", ""), (v1::Goal::Unspecified, OWN, "Perch in a school")],
        "by place, then by use"
    );
    change(&service).await;
    assert_eq!(explained(&service, &findings[0].name).await, tree);
    assert_eq!(summary(&service, &run.name).await, advice);
    let (again, _) = service.run(half_own()).await;
    assert_ne!(again.result_hash, run.result_hash);
    assert_ne!(summary(&service, &again.name).await, advice);
    // The goal may go altogether: nothing that was computed needs it.
    let gone = v1::DeleteCustomGoalRequest { name: OWN.to_owned(), ..v1::DeleteCustomGoalRequest::default() };
    service.catalog().delete_custom_goal(gone).await.unwrap();
    assert_eq!(explained(&service, &findings[0].name).await, tree);
    assert_eq!(summary(&service, &run.name).await, advice);
}

#[tokio::test]
async fn a_recommendation_takes_it_as_a_use_as_a_run_does() {
    let service = service().await;
    let request = v1::RecommendRequest { spec: Some(half_own()), ..v1::RecommendRequest::default() };
    let mut stream = service.selection().recommend(request).await.unwrap().into_inner();
    let mut last = None;
    while let Some(message) = stream.message().await.unwrap() {
        last = message.step;
    }
    let Some(Step::Recommendation(answer)) = last else { panic!("{last:?}") };
    let (run, _) = service.run(half_own()).await;
    assert_eq!(summary(&service, &run.name).await, answer);
}

#[tokio::test]
async fn a_goal_of_the_request_stands_before_one_of_the_store() {
    let service = service().await;
    let evaluate = async |custom_goal: &str, goals: Vec<v1::CustomGoal>| {
        let spec = v1::RunSpec { spots: vec!["spots/b".to_owned()], custom_goal: custom_goal.to_owned(), ..own() };
        let request = v1::EvaluateRequest { spec: Some(spec), goals, ..v1::EvaluateRequest::default() };
        service.selection().evaluate(request).await.map(|answer| answer.into_inner().findings)
    };
    let school = evaluate(OWN, Vec::new()).await.unwrap();
    let named = |name: &str, goal: v1::CustomGoal| v1::CustomGoal { name: name.to_owned(), ..goal };
    assert_eq!(evaluate("goals/here", vec![named("goals/here", like_school())]).await.unwrap(), school);
    let clutter = v1::CustomGoal { coverage_weight: Some(0.0), resolution_weight: Some(0.0), ..like_school() };
    assert_ne!(evaluate(OWN, vec![named(OWN, clutter.clone())]).await.unwrap(), school);
    assert_eq!(evaluate(OWN, Vec::new()).await.unwrap(), school, "the stored one stays as it is");
    let broken = v1::CustomGoal { clutter_weight: Some(-1.0), ..like_school() };
    let refused = evaluate("goals/here", vec![named("goals/here", broken)]).await.unwrap_err();
    assert_eq!(refused_fields(&refused), ["goals[0].clutter_weight"]);
    let spec = v1::RunSpec { custom_goal: "goals/here".to_owned(), ..half_own() };
    let spec = v1::RunSpec {
        uses: vec![v1::UseShare { custom_goal: "goals/here".to_owned(), share: 1.0, ..Default::default() }],
        ..spec
    };
    let request =
        v1::RecommendRequest { spec: Some(spec), goals: vec![named("goals/here", clutter)], ..Default::default() };
    let mut stream = service.selection().recommend(request).await.unwrap().into_inner();
    let mut last = None;
    while let Some(message) = stream.message().await.unwrap() {
        last = message.step;
    }
    let Some(Step::Recommendation(answer)) = last else { panic!("{last:?}") };
    assert!(answer.places.iter().all(|place| place.custom_goal == "goals/here"), "{answer:?}");
}

#[tokio::test]
async fn a_goal_is_named_in_one_way_and_must_be_there() {
    let service = service().await;
    let refused = async |spec: v1::RunSpec| {
        let request = v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
        service.selection().start_run(request).await.unwrap_err()
    };
    let fields = async |spec: v1::RunSpec| refused_fields(&refused(spec).await);
    assert_eq!(fields(v1::RunSpec { goal: 0, ..spec() }).await, ["spec.goal"]);
    assert_eq!(fields(v1::RunSpec { custom_goal: OWN.to_owned(), ..spec() }).await, ["spec.custom_goal"]);
    assert_eq!(fields(v1::RunSpec { custom_goal: "school".to_owned(), ..own() }).await, ["spec.custom_goal"]);
    let mut twice = half_own();
    twice.uses[0] = v1::UseShare { share: 1.0, ..twice.uses[1].clone() };
    assert_eq!(fields(twice).await, ["spec.uses[1].custom_goal"]);
    let mut nameless = half_own();
    nameless.uses[1].custom_goal.clear();
    assert_eq!(fields(nameless).await, ["spec.uses[1].goal"]);
    let mut both = half_own();
    both.uses[1].goal = v1::Goal::School.into();
    assert_eq!(fields(both).await, ["spec.uses[1].custom_goal"]);
    for (given, near) in [
        ("goals/perch-scool", "the nearest known one is 'goals/perch-school'"),
        ("goals/wach-lure", "the nearest known one is the preset watch-lure, which is GOAL_WATCH_LURE in goal"),
    ] {
        let mut spec = half_own();
        spec.custom_goal = given.to_owned();
        spec.uses[1].custom_goal = given.to_owned();
        let status = refused(spec).await;
        assert_eq!(refused_fields(&status), ["spec.custom_goal", "spec.uses[1].custom_goal"]);
        let told = status.get_details_bad_request().unwrap().field_violations;
        assert!(
            told.iter().all(|fault| fault.description.contains(given) && fault.description.contains(near)),
            "{told:?}"
        );
    }
    let far = refused(v1::RunSpec { custom_goal: "goals/crappie".to_owned(), ..own() }).await;
    assert!(!far.message().contains("nearest"), "{}", far.message());
}

#[tokio::test]
async fn a_booking_weighs_by_it_and_keeps_it_from_being_deleted() {
    let service = service().await;
    let booking = |custom_goal: &str| v1::Booking {
        display_name: "Party".to_owned(),
        spot: "spots/b".to_owned(),
        anglers: 1,
        first_day: "2027-01-15".to_owned(),
        last_day: "2027-01-15".to_owned(),
        custom_goal: custom_goal.to_owned(),
        lure: "targets/lure".to_owned(),
        fish: "targets/fish".to_owned(),
        min_score: Some(0.05),
        ..v1::Booking::default()
    };
    let create = async |id: &str, booking: v1::Booking| {
        let request = v1::CreateBookingRequest { booking_id: id.to_owned(), booking: Some(booking) };
        service.fleet().create_booking(request).await
    };
    for degrees in ["8", "13", "22"] {
        let name = format!("sensors/plain-{degrees}");
        let request = v1::GetSensorRequest { name };
        let sensor = service.catalog().get_sensor(request).await.unwrap().into_inner();
        let price = Some(v1::Money { currency_code: "EUR".to_owned(), units: 100, nanos: 0 });
        let request = v1::UpdateSensorRequest { sensor: Some(v1::Sensor { price, ..sensor }), update_mask: None };
        service.catalog().update_sensor(request).await.unwrap();
    }
    let both = v1::Booking { goal: v1::Goal::School.into(), ..booking(OWN) };
    assert_eq!(refused_fields(&create("both", both).await.unwrap_err()), ["booking.custom_goal"]);
    create("own", booking(OWN)).await.unwrap();
    create("lost", booking("goals/nowhere")).await.unwrap();
    let preset = v1::Booking { goal: v1::Goal::School.into(), ..booking("") };
    create("preset", preset).await.unwrap();
    let plan = async || {
        let request = v1::PlanFleetRequest { spec: Some(v1::FleetSpec::default()), validate_only: true };
        service.fleet().plan_fleet(request).await.unwrap().into_inner()
    };
    let made = plan().await;
    let scores = |plan: &v1::FleetPlan| -> Vec<(String, String, u64)> {
        plan.assignments.iter().map(|own| (own.booking.clone(), own.option.clone(), own.score.to_bits())).collect()
    };
    let [(own_name, own_option, own_score), (preset_name, preset_option, preset_score)] = &scores(&made)[..] else {
        panic!("{made:?}")
    };
    assert_eq!((own_name.as_str(), preset_name.as_str()), ("bookings/own", "bookings/preset"));
    assert_eq!((own_option, own_score), (preset_option, preset_score));
    let left_out: Vec<_> = made.left_out.iter().map(|out| (out.name.as_str(), out.text.as_str())).collect();
    assert!(matches!(left_out[..], [("bookings/lost", text)] if text.contains("goals/nowhere")), "{left_out:?}");
    change(&service).await;
    let changed = scores(&plan().await);
    assert_ne!(changed[0].2, *own_score, "a plan weighs by the goal as it is then");
    assert_eq!(changed[1].2, *preset_score);
    let delete = |force| v1::DeleteCustomGoalRequest { name: OWN.to_owned(), etag: String::new(), force };
    let refused = service.catalog().delete_custom_goal(delete(false)).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::FailedPrecondition, "REFERENCED"));
    let named = refused.get_details_precondition_failure().unwrap().violations;
    assert_eq!(named.iter().map(|one| one.subject.as_str()).collect::<Vec<_>>(), ["bookings/own"]);
    service.catalog().delete_custom_goal(delete(true)).await.unwrap();
    assert_eq!(plan().await.left_out.len(), 2);
}
