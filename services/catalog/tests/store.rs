//! The store on real SQLite files.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::collections::BTreeMap;

use acoustics::units::{Db, Metres};
use catalog::exchange::{Parsed, csv};
use catalog::filter::Filter;
use catalog::{
    Commit, Condition, Existing, FindingKey, FindingsQuery, ImportMode, ImportOutcome, ListQuery, NewRun, OpenOptions,
    Referrers, Resource, RunState, Skip, Store, StoreError, Write,
};
use domain::selection::{Assumption, Criteria, Desirability, Failure, Finding, Gains, RunInput, Settings};
use domain::{BottomClass, CustomGoal, Fact, Goal, Id, Record as _, SpotRecord, Target, TargetKind, TargetShape};
use jiff::Timestamp;

fn write() -> Write {
    Write { actor: "test".into(), at: Timestamp::from_second(1_700_000_000).unwrap() }
}

fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

fn spot(name: &str, depth: f64) -> SpotRecord {
    SpotRecord {
        display_name: format!("Spot {name}"),
        lake: "Tarn Vesper".into(),
        depth_m: Some(depth),
        bottom_class: Some(BottomClass::Silt),
        slope_deg: Some(3.0),
        fish_layer_top_m: Some(depth / 3.0),
        lure_height_m: Some(0.4),
        ..SpotRecord::blank(id(name))
    }
}

async fn open(dir: &tempfile::TempDir) -> Store {
    Store::open(dir.path().join("lake.db"), OpenOptions::default()).await.unwrap()
}

#[tokio::test]
async fn records_come_back_as_they_were_and_etags_guard_them() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let made = store.create(&spot("a", 10.0 / 3.0), &write()).await.unwrap();
    assert_eq!(made.record, spot("a", 10.0 / 3.0));
    assert!(matches!(
        store.create(&spot("a", 4.0), &write()).await,
        Err(StoreError::AlreadyExists { collection: "spots", .. })
    ));
    let changed = store.update(&spot("a", 5.0), Some(&made.etag), &write()).await.unwrap();
    assert_ne!(changed.etag, made.etag);
    let stale = store.update(&spot("a", 6.0), Some(&made.etag), &write()).await;
    assert!(matches!(stale, Err(StoreError::StaleEtag { .. })));
    assert!(matches!(
        store.delete::<SpotRecord>(&id("a"), Some("old"), Referrers::Refuse, &write()).await,
        Err(StoreError::StaleEtag { .. })
    ));
    store.delete::<SpotRecord>(&id("a"), None, Referrers::Refuse, &write()).await.unwrap();
    assert!(matches!(store.get::<SpotRecord>(&id("a")).await, Err(StoreError::NotFound { .. })));
}

#[tokio::test]
async fn a_faulty_record_is_refused_with_every_fault() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let mut bad = spot("a", -1.0);
    bad.slope_deg = Some(80.0);
    let Err(StoreError::Faulty(faults)) = store.create(&bad, &write()).await else { panic!("accepted") };
    let fields: Vec<_> = faults.iter().map(|f| f.field.as_str()).collect();
    assert!(fields.contains(&"depth_m") && fields.contains(&"slope_deg"), "{fields:?}");
}

#[tokio::test]
async fn pages_together_are_the_whole_and_filters_choose() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let rows = (0..25).map(|i| (i + 2, spot(&format!("s{i:02}"), 2.0 + f64::from(i)))).collect();
    let outcome = import(&store, rows, ImportMode::default()).await;
    assert_eq!((outcome.created, outcome.replaced), (25, 0));
    let filter = Filter::parse("depth_m >= 5 AND lake : \"vesper\"", &SpotRecord::filters()).unwrap();
    let mut seen = Vec::new();
    let mut after = None;
    loop {
        let page = store
            .list::<SpotRecord>(&ListQuery { filter: filter.clone(), limit: 7, after: after.clone() })
            .await
            .unwrap();
        assert_eq!(page.total, 22);
        seen.extend(page.items.iter().map(|s| s.record.id.to_string()));
        after = page.items.last().map(|s| s.record.id.clone());
        if !page.more {
            break;
        }
    }
    let all = store.list::<SpotRecord>(&ListQuery { filter, limit: 100, after: None }).await.unwrap();
    let whole: Vec<_> = all.items.iter().map(|s| s.record.id.to_string()).collect();
    assert_eq!(seen, whole);
    assert_eq!(seen.len(), 22);
}

/// Imports records as one part.
async fn import(store: &Store, records: Vec<(u32, SpotRecord)>, mode: ImportMode) -> ImportOutcome {
    let (mut feed, fed) = catalog::feed();
    let reader = tokio::task::spawn_blocking(move || {
        assert!(feed.put(Parsed { records, ..Parsed::default() }).is_continue());
        feed.finish();
    });
    let outcome = store.import::<SpotRecord>(fed, mode, &write()).await.unwrap();
    reader.await.unwrap();
    outcome
}

#[tokio::test]
async fn an_import_is_all_or_nothing_unless_told_otherwise() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let steep = || SpotRecord { slope_deg: Some(80.0), ..spot("b", 4.0) };
    let rows = || vec![(2, spot("a", 4.0)), (3, steep()), (4, spot("a", 5.0))];
    let refused = import(&store, rows(), ImportMode::default()).await;
    let lines: Vec<_> = refused.faults.iter().map(|f| (f.line, f.column.as_str())).collect();
    assert_eq!(lines, [(3, "slope_deg"), (4, "id")]);
    assert_eq!(store.list::<SpotRecord>(&ListQuery { limit: 9, ..ListQuery::default() }).await.unwrap().total, 0);
    let skipping = ImportMode { skip_bad: Skip::BadRows, ..ImportMode::default() };
    let checked = ImportMode { commit: Commit::CheckOnly, ..skipping };
    assert_eq!(import(&store, rows(), checked).await.created, 1);
    assert_eq!(store.list::<SpotRecord>(&ListQuery { limit: 9, ..ListQuery::default() }).await.unwrap().total, 0);
    assert_eq!(import(&store, rows(), skipping).await.created, 1);
    let again = import(&store, vec![(2, spot("a", 7.0))], ImportMode::default()).await;
    assert_eq!(again.faults.len(), 1);
    let replacing = ImportMode { existing: Existing::Replace, ..ImportMode::default() };
    let replaced = import(&store, vec![(2, spot("a", 7.0))], replacing).await;
    assert_eq!((replaced.created, replaced.replaced), (0, 1));
    assert_eq!(store.get::<SpotRecord>(&id("a")).await.unwrap().record.depth_m, Some(7.0));
}

fn target(kind: TargetKind) -> Target {
    Target {
        id: id("t"),
        display_name: "Target".into(),
        notes: String::new(),
        kind,
        shape: TargetShape::Known(Fact::stated(acoustics::units::TargetStrength::new(-50.0))),
    }
}

fn input(spots: u32) -> RunInput {
    RunInput {
        spots: (0..spots).map(|i| spot(&format!("s{i}"), 3.0 + f64::from(i)).known().unwrap()).collect(),
        sensors: vec![],
        options: vec![domain::selection::OptionRef { sensor: 0, option: 0 }; 3],
        shelter: None,
        others: domain::selection::Others::Same,
        lure: target(TargetKind::Lure),
        fish: target(TargetKind::Fish),
        settings: Settings::default(),
        goals: Vec::new(),
    }
}

fn finding(spot: usize, option: usize, rank: u32) -> Finding {
    let third = 1.0 / 3.0;
    Finding {
        spot,
        option,
        criteria: Criteria {
            coverage_radius: Metres::new(third),
            coverage_area_m2: 0.1 + third,
            watch_footprint: Metres::new(2.0),
            range_cell: Metres::new(0.07),
            single_fish_probability: 0.9,
            dead_zone_height: Metres::new(0.2),
            lure_over_vegetation: (option == 1).then(|| Db::new(-2.5)),
            headroom: None,
            interference_fraction: 0.0,
        },
        gains: Gains {
            lure: Db::new(30.0),
            bottom: Db::new(20.0),
            working: Db::new(30.0),
            clear: None,
            search: Db::new(45.0),
            max: Db::new(70.0),
        },
        desirability: Desirability { coverage: 0.1, clutter: 0.2, resolution: 0.3, interference: 1.0 },
        score: third,
        rank,
        failures: if option == 2 { vec![Failure::LureGainBeyondMax { missing: Db::new(third) }] } else { vec![] },
        assumptions: vec![Assumption { field: "floor_db".into(), sentence: domain::Sentence::plain("assume-pattern") }],
        notices: vec![],
        uncertainty: None,
    }
}

#[tokio::test]
async fn a_chunk_is_stored_once_and_findings_come_by_spot_and_rank() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let mut weighing = domain::Preset::School.weighing();
    weighing.weights.clutter = 1.0 / 3.0;
    weighing.limits.headroom.worthless = -0.1;
    let (display_name, notes) = ("Own \"goal\"".to_owned(), "Two\nlines.".to_owned());
    let own = CustomGoal { id: id("own"), display_name, notes, weighing };
    let other = CustomGoal { id: id("other"), weighing: domain::Preset::WeedEdge.weighing(), ..own.clone() };
    let settings = Settings { goal: Goal::Custom(Box::new(own.clone())), ..Settings::default() };
    let asked = RunInput { settings, goals: vec![other, own], ..input(4) };
    let new = |id: &str| NewRun {
        id: id.into(),
        request_id: Some("mine".into()),
        spec: vec![1, 2],
        input: &asked,
        chunk_spots: 2,
    };
    let run = store.insert_run(new("r1"), &write()).await.unwrap();
    assert!(matches!(store.insert_run(new("r2"), &write()).await, Err(StoreError::AlreadyExists { .. })));
    let same_id = NewRun { request_id: None, ..new("r1") };
    assert!(matches!(store.insert_run(same_id, &write()).await, Err(StoreError::AlreadyExists { .. })));
    assert_eq!(store.run_by_request_id("mine").await.unwrap().unwrap().id, "r1");
    assert_eq!(store.run_input("r1").await.unwrap(), asked);
    let chunk: Vec<_> = [(0, 1, 1), (0, 0, 2), (0, 2, 3), (1, 2, 1), (1, 0, 2), (1, 1, 3)]
        .into_iter()
        .map(|(s, o, r)| finding(s, o, r))
        .collect();
    store.begin_run(&run, write().at).await.unwrap();
    store.save_chunk(&run, 0, &chunk).await.unwrap();
    store.save_chunk(&run, 0, &chunk).await.unwrap();
    let run = store.run("r1").await.unwrap();
    assert_eq!((run.findings_done, run.findings_total(), run.state), (6, 12, RunState::Running));
    assert_eq!(store.done_chunks(&run).await.unwrap(), [0]);
    let all = store.findings(&run, &FindingsQuery { limit: 100, ..FindingsQuery::default() }).await.unwrap();
    assert_eq!(all, chunk);
    let mut paged = Vec::new();
    let mut after = None;
    loop {
        let page = store.findings(&run, &FindingsQuery { after, limit: 4, ..FindingsQuery::default() }).await.unwrap();
        let Some(last) = page.last() else { break };
        after = Some(FindingKey::of(last));
        paged.extend(page);
    }
    assert_eq!(paged, chunk);
    let best = FindingsQuery { max_rank: Some(1), spot: Some(1), limit: 9, after: None };
    assert_eq!(store.findings(&run, &best).await.unwrap(), [finding(1, 2, 1)]);
    assert_eq!(store.unfinished_runs().await.unwrap().len(), 1);
    store.finish_run(&run, RunState::Succeeded, "", "abc", write().at).await.unwrap();
    store.finish_run(&run, RunState::Failed, "late", "", write().at).await.unwrap();
    assert_eq!(store.run("r1").await.unwrap().state, RunState::Succeeded);
    assert!(matches!(store.save_chunk(&run, 1, &[]).await, Err(StoreError::RunEnded { .. })));
    assert_eq!(store.done_chunks(&run).await.unwrap(), [0]);
}

#[tokio::test]
async fn files_that_cannot_be_used_are_left_untouched() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("noise.db");
    std::fs::write(&path, "this is no database at all, and long enough to be looked at".repeat(40)).unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(Store::open(&path, OpenOptions::default()).await, Err(StoreError::Corrupt { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), before);

    let store = open(&dir).await;
    let path = store.path().to_path_buf();
    store.close().await;
    let raw = sqlx::SqlitePool::connect(&format!("sqlite:{}", path.display())).await.unwrap();
    sqlx::query(
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) VALUES (9999, 'later', 1, x'00', 0)",
    )
    .execute(&raw)
    .await
    .unwrap();
    raw.close().await;
    assert!(matches!(
        Store::open(&path, OpenOptions::default()).await,
        Err(StoreError::NewerSchema { found: 9999, .. })
    ));
}

#[tokio::test]
async fn two_that_open_a_new_file_at_once_both_get_it() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("both.db");
    let (a, b) = tokio::join!(Store::open(&path, OpenOptions::default()), Store::open(&path, OpenOptions::default()));
    a.unwrap().create(&spot("a", 3.0), &write()).await.unwrap();
    b.unwrap().get::<SpotRecord>(&id("a")).await.unwrap();
}

/// Whatever a filter names is the figure of that name.
#[tokio::test]
async fn every_field_of_a_spot_filters_by_its_own_figure() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let full = "id,display_name,lake,label,notes,latitude_deg,longitude_deg,depth_m,ice_thickness_m,bottom_class,slope_deg,relief,\
        canopy_height_m,canopy_density,canopy_volume_strength_db,fish_layer_top_m,fish_layer_bottom_m,fish_per_m3,lure_height_m,\
        hole_radius_m,bottom_temperature_c,salinity_g_kg,ph,canopy_unknown\n\
        full,Full,A lake,A label,A note,41.5,-93.25,8.5,0.375,clay,7.5,log 0.25 at 1.25;boulder 0.5 at 2,\
        1.5,dense,-31.5,2.25,8.25,0.0625,0.75,0.125,3.5,0.5,8.25,false\n\
        bare,Bare,,,,,,8,,silt,,,,,,,,,,,,,,true\n";
    let read = csv::read::<SpotRecord>(full.as_bytes(), &BTreeMap::new());
    assert_eq!(read.faults, []);
    assert_eq!(import(&store, read.records, ImportMode::default()).await.created, 2);
    let tests = [
        ("id", "full"),
        ("display_name", "Full"),
        ("lake", "\"A lake\""),
        ("label", "\"A label\""),
        ("notes", "\"A note\""),
        ("latitude_deg", "41.5"),
        ("longitude_deg", "-93.25"),
        ("depth_m", "8.5"),
        ("ice_thickness_m", "0.375"),
        ("bottom_class", "clay"),
        ("slope_deg", "7.5"),
        ("canopy.height_m", "1.5"),
        ("canopy.density", "dense"),
        ("canopy.volume_strength_db", "-31.5"),
        ("fish_layer_top_m", "2.25"),
        ("fish_layer_bottom_m", "8.25"),
        ("fish_per_m3", "0.0625"),
        ("lure_height_m", "0.75"),
        ("hole_radius_m", "0.125"),
        ("bottom_temperature_c", "3.5"),
        ("salinity_g_kg", "0.5"),
        ("ph", "8.25"),
        ("canopy_unknown", "false"),
        ("relief.kind", "log"),
        ("relief.height_m", "0.25"),
        ("relief.offset_m", "1.25"),
    ];
    let tested: Vec<_> = tests.iter().map(|(name, _)| *name).chain(["create_time", "update_time"]).collect();
    let fields = SpotRecord::filters();
    let fields: Vec<_> = fields.iter().map(|field| field.name.as_str()).collect();
    assert_eq!(tested, fields);
    for (name, value) in tests {
        let filter = Filter::parse(&format!("{name} = {value}"), &SpotRecord::filters()).unwrap();
        let found = store.list::<SpotRecord>(&ListQuery { filter, limit: 10, after: None }).await.unwrap();
        let ids: Vec<_> = found.items.iter().map(|spot| spot.record.id.as_str()).collect();
        assert_eq!(ids, ["full"], "{name}");
    }
}

/// A file system of that size; none where this user may not mount one.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    fn mount(kibibytes: u64) -> Option<Self> {
        let dir = tempfile::tempdir().unwrap();
        let done = std::process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={kibibytes}k"), "tmpfs"])
            .arg(dir.path())
            .output();
        done.is_ok_and(|done| done.status.success()).then_some(Self(dir))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = std::process::Command::new("umount").args(["--lazy"]).arg(self.0.path()).status();
    }
}

#[tokio::test]
async fn a_disk_that_was_full_takes_writes_again_once_there_is_room() {
    let Some(disk) = SmallDisk::mount(2_048) else {
        eprintln!("skipped: no file system can be mounted here");
        return;
    };
    let store = open(&disk.0).await;
    let filler = disk.0.path().join("filler");
    std::fs::write(&filler, vec![0; 1024 * 1024]).unwrap();
    let big = |name: String| SpotRecord { notes: "x".repeat(2_000), ..spot(&name, 6.0) };
    let mut kept = 0;
    let refused = loop {
        assert!(kept < 2_000, "the disk never filled up");
        match store.create(&big(format!("s{kept}")), &write()).await {
            Ok(_) => kept += 1,
            Err(refused) => break refused,
        }
    };
    assert!(matches!(refused, StoreError::DiskFull { .. }), "{refused}");
    assert!(matches!(*store.condition().borrow(), Condition::Failing(_)));
    let again = store.create(&big("other".into()), &write()).await;
    assert!(matches!(again, Err(StoreError::DiskFull { .. })), "{again:?}");
    std::fs::remove_file(&filler).unwrap();
    store.create(&big("after".into()), &write()).await.unwrap();
    assert_eq!(*store.condition().borrow(), Condition::Sound);
    for number in 0..kept {
        store.get::<SpotRecord>(&id(&format!("s{number}"))).await.unwrap();
    }
    assert!(store.get::<SpotRecord>(&id(&format!("s{kept}"))).await.is_err());
    store.check_integrity().await.unwrap();
}

/// A store of many spots, and a filter that takes its time on them.
async fn slow_to_filter(dir: &tempfile::TempDir) -> (Store, Filter) {
    let store = open(dir).await;
    let long = |number: u32| SpotRecord { notes: "a".repeat(2_000), ..spot(&format!("s{number}"), 6.0) };
    let outcome = import(&store, (0..8_000).map(|n| (n + 2, long(n))).collect(), ImportMode::default()).await;
    assert_eq!(outcome.created, 8_000);
    let text = vec!["notes:\"aab\""; 20].join(" OR ");
    let filter = Filter::parse(&text, &<SpotRecord as Resource>::filters()).unwrap().unwrap();
    (store, filter)
}

#[tokio::test(flavor = "multi_thread")]
async fn slow_filters_keep_no_other_reading_waiting_and_stop_with_their_calls() {
    let dir = tempfile::tempdir().unwrap();
    let (store, filter) = slow_to_filter(&dir).await;
    let query = ListQuery { filter: Some(filter), limit: 10, after: None };
    let began = std::time::Instant::now();
    store.list::<SpotRecord>(&query).await.unwrap();
    let alone = began.elapsed();
    let slow: Vec<_> = (0..8)
        .map(|_| {
            let (store, query) = (store.clone(), query.clone());
            tokio::spawn(async move { store.list::<SpotRecord>(&query).await.map(|_| ()) })
        })
        .collect();
    tokio::task::yield_now().await;
    store.get::<SpotRecord>(&id("s7")).await.unwrap();
    store.has_tokens().await.unwrap();
    let finished = slow.iter().filter(|one| one.is_finished()).count();
    assert_eq!(finished, 0, "a look-up waited for filters");
    slow.iter().for_each(|one| one.abort());
    let began = std::time::Instant::now();
    let short = Filter::parse("depth_m > 100", &<SpotRecord as Resource>::filters()).unwrap();
    store.list::<SpotRecord>(&ListQuery { filter: short, limit: 10, after: None }).await.unwrap();
    assert!(began.elapsed() < alone, "filters went on after their calls: {:?} of {alone:?}", began.elapsed());
}
