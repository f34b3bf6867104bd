//! What others refer to stays, and what was computed goes by its age, on real SQLite.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;

use catalog::exchange::csv::{self, CsvRecord};
use catalog::{NewReport, OpenOptions, Purge, Purged, Referrers, Resource, Store, StoreError, Write};
use domain::{
    BeamSurvey, Booking, GoalRecord, Id, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck,
};
use jiff::Timestamp;

const DAY: i64 = 86_400;

fn on_day(day: i64) -> Write {
    Write { actor: "test".into(), at: Timestamp::from_second(day * DAY).unwrap() }
}

async fn opened(dir: &tempfile::TempDir) -> Store {
    Store::open(dir.path().join("lake.db"), OpenOptions::default()).await.unwrap()
}

/// Stores the example of a kind; gives its id.
async fn example<R: Resource + CsvRecord>(store: &Store) -> Id {
    let parsed = csv::read::<R>(csv::template::<R>().as_bytes(), &BTreeMap::new());
    assert!(parsed.faults.is_empty());
    let (_, record) = parsed.records.into_iter().next().unwrap();
    store.create(&record, &on_day(1)).await.unwrap();
    record.id().clone()
}

/// The names that a refusal lists.
async fn refused<R: Resource>(store: &Store, id: &Id) -> Vec<String> {
    match store.delete::<R>(id, None, Referrers::Refuse, &on_day(2)).await {
        Err(StoreError::Referenced { by, count, .. }) => {
            assert_eq!(usize::try_from(count).unwrap(), by.len());
            by
        }
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_record_that_others_refer_to_is_kept_and_they_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let store = opened(&dir).await;
    // The examples of the other kinds refer to whatever their columns say; they are stored as they are.
    let (unit, booking) = (example::<Unit>(&store).await, example::<Booking>(&store).await);
    let (check, survey) = (example::<UnitCheck>(&store).await, example::<BeamSurvey>(&store).await);
    let unit_record = store.get::<Unit>(&unit).await.unwrap().record;
    let booking_record = store.get::<Booking>(&booking).await.unwrap().record;
    let check_record = store.get::<UnitCheck>(&check).await.unwrap().record;
    let survey_record = store.get::<BeamSurvey>(&survey).await.unwrap().record;
    let named = |collection: &str, id: &Id| format!("{collection}/{id}");
    // Each record is made to exist under the id that another one names, where it does not yet.
    let of_sensor = refused_as::<SensorRecord>(&store, &unit_record.sensor).await;
    assert!(of_sensor.contains(&named("units", &unit)), "{of_sensor:?}");
    let of_sensor = refused_as::<SensorRecord>(&store, &survey_record.sensor).await;
    assert!(of_sensor.contains(&named("beamSurveys", &survey)), "{of_sensor:?}");
    assert_eq!(refused_as::<SpotRecord>(&store, &booking_record.spot).await, [named("bookings", &booking)]);
    assert_eq!(
        refused_as::<ShelterRecord>(&store, &booking_record.shelter.clone().unwrap()).await,
        [named("bookings", &booking)]
    );
    assert_eq!(refused_as::<Unit>(&store, &check_record.unit).await, [named("unitChecks", &check)]);
    let of_target = refused_as::<TargetRecord>(&store, &check_record.target).await;
    assert!(of_target.contains(&named("unitChecks", &check)), "{of_target:?}");
    let of_target = refused_as::<TargetRecord>(&store, &survey_record.target).await;
    assert!(of_target.contains(&named("beamSurveys", &survey)), "{of_target:?}");
    for target in [&booking_record.lure, &booking_record.fish] {
        assert_eq!(refused_as::<TargetRecord>(&store, target).await, [named("bookings", &booking)]);
    }
    let goal = Id::parse("weeds-first").unwrap();
    let weighed = Booking { goal: None, custom_goal: Some(goal.clone()), ..booking_record.clone() };
    store.update(&weighed, None, &on_day(2)).await.unwrap();
    assert_eq!(refused_as::<GoalRecord>(&store, &goal).await, [named("bookings", &booking)]);
    store.delete::<GoalRecord>(&goal, None, Referrers::Leave, &on_day(2)).await.unwrap();
    assert_eq!(store.get::<Booking>(&booking).await.unwrap().record, weighed);
    // Asked for, it goes; and what nothing refers to goes without.
    store.delete::<SpotRecord>(&booking_record.spot, None, Referrers::Leave, &on_day(2)).await.unwrap();
    store.delete::<Booking>(&booking, None, Referrers::Refuse, &on_day(2)).await.unwrap();
    store.delete::<ShelterRecord>(&booking_record.shelter.unwrap(), None, Referrers::Refuse, &on_day(2)).await.unwrap();
}

/// The same, with the record that is named put there first.
async fn refused_as<R: Resource + CsvRecord>(store: &Store, id: &Id) -> Vec<String> {
    if store.get::<R>(id).await.is_err() {
        let text = csv::template::<R>();
        let (header, row) = text.split_once('\n').unwrap();
        let rest = row.split_once(',').unwrap().1;
        let parsed = csv::read::<R>(format!("{header}\n{id},{rest}").as_bytes(), &BTreeMap::new());
        assert!(parsed.faults.is_empty(), "{:?}", parsed.faults);
        for (_, record) in parsed.records {
            store.create(&record, &on_day(1)).await.unwrap();
        }
    }
    refused::<R>(store, id).await
}

fn report(id: &str, source: &str) -> NewReport {
    NewReport {
        id: id.to_owned(),
        content_key: id.to_owned(),
        source: source.to_owned(),
        template: "templates/comparison".to_owned(),
        title: String::new(),
        page_count: 1,
        pdf: vec![7; 200_000],
    }
}

fn purge(day: i64, collections: &[&str]) -> Purge {
    Purge { before: on_day(day).at, collections: collections.iter().map(|&name| name.to_owned()).collect() }
}

fn named(purged: &Purged) -> Vec<String> {
    purged.removed.iter().map(|(collection, id)| format!("{collection}/{id}")).collect()
}

#[tokio::test]
async fn old_results_go_and_what_newer_reports_were_made_of_stays() {
    let dir = tempfile::tempdir().unwrap();
    let store = opened(&dir).await;
    for (id, day) in [("old", 10), ("kept", 10), ("new", 30)] {
        store.put_document("fleetPlans", id, b"plan".to_vec(), &on_day(day)).await.unwrap();
    }
    store.put_report(report("ra", "fleetPlans/old"), &on_day(11)).await.unwrap();
    store.put_report(report("rb", "fleetPlans/kept"), &on_day(30)).await.unwrap();
    let all = ["reports", "fleetPlans", "runs"];
    let refusal = store.delete_computed("fleetPlans", "kept", Referrers::Refuse, &on_day(31)).await;
    assert!(matches!(refusal, Err(StoreError::Referenced { by, .. }) if by == ["reports/rb"]));
    // Reports that are not to go keep what they were made of.
    let only_plans = store.purgeable(&purge(20, &["fleetPlans"])).await.unwrap();
    assert_eq!((named(&only_plans), only_plans.kept), (vec![], 2));
    let found = store.purgeable(&purge(20, &all)).await.unwrap();
    assert_eq!((named(&found), found.kept), (vec!["reports/ra".to_owned(), "fleetPlans/old".to_owned()], 1));
    assert_eq!(store.list_documents("fleetPlans", None, 9).await.unwrap().0.len(), 3, "nothing goes by being found");
    store.purge(&found, &on_day(31)).await.unwrap();
    let left: Vec<_> = store.list_documents("fleetPlans", None, 9).await.unwrap().0.into_iter().map(|d| d.id).collect();
    assert_eq!(left, ["new", "kept"]);
    assert!(matches!(store.report_bytes("ra").await, Err(StoreError::NotFound { .. })));
    assert!(store.free_bytes().await.unwrap() >= 190_000, "the bytes of the report are free");
    let trail: Vec<_> = store.audit_trail(None, 2).await.unwrap().into_iter().map(|e| (e.action, e.resource)).collect();
    assert_eq!(
        trail,
        [("delete".into(), "fleetPlans/old".into()), ("delete".into(), "reports/ra".into())] as [(String, String); 2]
    );
    store.check_integrity().await.unwrap();
    // A backup is smaller by what is free.
    let (file, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    store.close().await;
    catalog::back_up(&file, &copy).await.unwrap();
    let bytes = |path: &std::path::Path| std::fs::metadata(path).unwrap().len();
    assert!(bytes(&copy) + 190_000 <= bytes(&file), "{} and {}", bytes(&copy), bytes(&file));
}
