//! One sensor for some places, over the wire.

use proto::v1;
use proto::v1::recommend_response::Step;

use tests::kit::service::{Service, refused_fields, sensor, spec, spot};

async fn service() -> Service {
    let service = Service::with_gear(&[9.0, 12.0, 19.0]).await;
    for (id, depth) in [("a", 4.0), ("b", 8.0), ("c", 15.0)] {
        service.add_spot(id, spot(depth, v1::BottomClass::Silt)).await;
    }
    service
}

fn share(goal: v1::Goal, share: f64) -> v1::UseShare {
    v1::UseShare { goal: goal.into(), share, ..Default::default() }
}

/// Two uses, weights and draws.
fn asked() -> v1::RunSpec {
    let uses = vec![share(v1::Goal::Search, 0.4), share(v1::Goal::WatchLure, 0.6)];
    let spots = ["a", "b", "c"].map(|id| format!("spots/{id}")).to_vec();
    v1::RunSpec { spots, uses, weights: vec![20.0, 5.0, 10.0], draws: 40, ..spec() }
}

/// Every message of an answer.
async fn recommend(service: &Service, request: v1::RecommendRequest) -> Vec<Step> {
    let mut stream = service.selection().recommend(request).await.unwrap().into_inner();
    let mut steps = Vec::new();
    while let Some(message) = stream.message().await.unwrap() {
        steps.push(message.step.unwrap());
    }
    steps
}

fn answer(mut steps: Vec<Step>) -> v1::Recommendation {
    match steps.pop() {
        Some(Step::Recommendation(answer)) => answer,
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn an_answer_comes_last_stores_nothing_and_equals_a_stored_run() {
    let service = service().await;
    let request = v1::RecommendRequest { spec: Some(asked()), ..v1::RecommendRequest::default() };
    let steps = recommend(&service, request).await;
    assert!(steps.iter().rev().skip(1).all(|step| matches!(step, Step::Progress(_))));
    assert!(steps.len() > 1);
    let answer = answer(steps);
    let runs = service.selection().list_runs(v1::ListRunsRequest::default()).await.unwrap().into_inner().runs;
    assert!(runs.is_empty());
    let (run, _) = service.run(asked()).await;
    let summary = service.selection().summarize_run(v1::SummarizeRunRequest { name: run.name }).await.unwrap();
    assert_eq!(summary.into_inner().recommendation, Some(answer.clone()));
    assert_eq!((answer.sensors.len(), answer.places.len(), answer.draws), (3, 6, 40));
    let advised = &answer.sensors.iter().find(|s| s.sensor == answer.sensor).unwrap();
    assert_eq!(answer.text.unwrap().headline.unwrap().text, format!("Take the {}.", advised.display_name));
    for place in &answer.places {
        assert!(place.option.starts_with(&answer.sensor), "{} is of another sensor", place.option);
    }
}

#[tokio::test]
async fn records_of_the_request_itself_need_not_be_stored() {
    let service = service().await;
    let named = v1::RunSpec { spots: vec!["spots/b".to_owned()], ..spec() };
    let by_name = answer(recommend(&service, v1::RecommendRequest { spec: Some(named), ..Default::default() }).await);
    let inline = v1::RecommendRequest {
        spec: Some(spec()),
        spots: vec![v1::Spot { name: "spots/b".to_owned(), ..spot(8.0, v1::BottomClass::Silt) }],
        ..Default::default()
    };
    let inline = answer(recommend(&service, inline).await);
    assert_eq!(by_name.sensors, inline.sensors);
    let sensors = vec![v1::Sensor { name: "sensors/own".to_owned(), ..sensor(15.0) }];
    let request = v1::RecommendRequest { spec: Some(asked()), sensors, ..Default::default() };
    assert_eq!(answer(recommend(&service, request).await).sensor, "sensors/own");
}

#[tokio::test]
async fn faults_of_a_choice_are_named_by_a_run_as_by_a_recommendation() {
    let service = service().await;
    let spec = v1::RunSpec {
        uses: vec![share(v1::Goal::Search, -1.0)],
        weights: vec![1.0],
        owned: vec!["sensors/unknown".to_owned()],
        budget: Some(v1::Money { currency_code: "dollars".to_owned(), units: -1, nanos: 0 }),
        ..asked()
    };
    let expected =
        ["spec.budget.currency_code", "spec.budget.units", "spec.owned[0]", "spec.uses[0].share", "spec.weights"];
    let request = v1::RecommendRequest { spec: Some(spec.clone()), ..Default::default() };
    let mut named = refused_fields(&service.selection().recommend(request).await.unwrap_err());
    named.sort();
    assert_eq!(named, expected);
    let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
    let mut named = refused_fields(&service.selection().start_run(request).await.unwrap_err());
    named.sort();
    assert_eq!(named, expected);
}

#[tokio::test]
async fn a_request_id_is_not_used_for_another_spec() {
    let service = service().await;
    let request = |seed| v1::StartRunRequest {
        spec: Some(v1::RunSpec { seed, ..spec() }),
        request_id: "order-8".to_owned(),
        ..Default::default()
    };
    service.selection().start_run(request(1)).await.unwrap();
    let refused = service.selection().start_run(request(2)).await.unwrap_err();
    assert_eq!(refused_fields(&refused), ["request_id"]);
    service.selection().start_run(request(1)).await.unwrap();
}
