//! What the database has for the records: columns, lists, and what older schemas held.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::collections::BTreeMap;

use catalog::exchange::csv;
use catalog::filter::Filter;
use catalog::{ListQuery, OpenOptions, Resource as _, Store, StoreError, Write};
use domain::field::Given;
use domain::{Id, OptionRecord, Provenance, Record as _, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit};
use jiff::Timestamp;

fn write() -> Write {
    Write { actor: "test".into(), at: Timestamp::from_second(1_700_000_000).unwrap() }
}

fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

async fn open(dir: &tempfile::TempDir) -> Store {
    Store::open(dir.path().join("lake.db"), OpenOptions::default()).await.unwrap()
}

/// Files as every earlier version left them, with records in each, are brought over and keep them.
#[tokio::test]
async fn every_earlier_schema_is_brought_over() {
    use sqlx::ConnectOptions as _;
    use sqlx::Connection as _;
    let dir = tempfile::tempdir().unwrap();
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<_> =
        std::fs::read_dir(root.join("tests/older/migrations")).unwrap().map(|file| file.unwrap().path()).collect();
    files.sort();
    assert_eq!(files.len(), 7);
    let demo = std::fs::read(root.join("../../demo-catalog/spots.csv")).unwrap();
    let demo = csv::read::<SpotRecord>(&demo, &BTreeMap::new()).records;
    let spots: Vec<_> = demo.into_iter().map(|(_, spot)| spot.known().unwrap()).collect();
    assert!(spots.len() >= 40);
    for count in 1..=files.len() {
        // Rows of spots were written in the form of the first five.
        for (first, statements) in
            [(count.min(5), include_str!("older/spots.sql")), (count, include_str!("older/others.sql"))]
        {
            let folder = dir.path().join(format!("first-{count}-{first}-{}", statements.len()));
            std::fs::create_dir(&folder).unwrap();
            let path = dir.path().join(format!("of-{count}-{}.db", statements.len()));
            let options = sqlx::sqlite::SqliteConnectOptions::new().filename(&path).create_if_missing(true);
            for (upto, rows) in [(first, statements), (count, "")] {
                for file in &files[..upto] {
                    std::fs::copy(file, folder.join(file.file_name().unwrap())).unwrap();
                }
                let mut older = options.clone().connect().await.unwrap();
                sqlx::migrate::Migrator::new(folder.as_path()).await.unwrap().run(&mut older).await.unwrap();
                sqlx::raw_sql(sqlx::AssertSqlSafe(rows)).execute(&mut older).await.unwrap();
                older.close().await.unwrap();
            }
            let store = Store::open(&path, OpenOptions::default()).await.unwrap();
            assert!(!store.has_tokens().await.unwrap(), "{count} migrations");
            if statements.contains("quill-soft-bay") {
                for spot in &spots {
                    let kept = store.get::<SpotRecord>(&spot.id).await.unwrap();
                    assert_eq!(&kept.record.known().unwrap(), spot, "{count} migrations");
                    store.update(&kept.record, Some(&kept.etag), &write()).await.unwrap();
                }
                continue;
            }
            check_others(&store).await;
        }
    }
}

/// What `older/others.sql` holds, whose rows are as the seventh schema has them.
async fn check_others(store: &Store) {
    let given = |value, source| Some(Given { value, spread: None, source });
    let sensor = store.get::<SensorRecord>(&id("two-beam")).await.unwrap();
    assert_eq!(sensor.create_time.as_microsecond(), 1_700_000_000_000_000);
    let sensor = sensor.record;
    assert_eq!((sensor.price, sensor.currency.as_str()), (Some((129, 500_000_000)), "EUR"));
    assert_eq!(sensor.threshold_db, given(150.0, Provenance::Measured));
    assert_eq!((sensor.receiver_noise_db, sensor.ping_interval_ms), (None, given(80.0, Provenance::Stated)));
    let OptionRecord { frequency_khz, beamwidth_deg, electrical_power_w, efficiency_percent, .. } = sensor.options[0];
    assert_eq!((frequency_khz, beamwidth_deg), (given(213.0, Provenance::Stated), given(14.0, Provenance::Stated)));
    assert_eq!((electrical_power_w, efficiency_percent), (given(40.0, Provenance::Stated), None));
    assert_eq!(sensor.options[1].pattern_points.len(), 3);
    assert_eq!(sensor.check(), []);
    let shelter = store.get::<ShelterRecord>(&id("hut")).await.unwrap().record;
    assert_eq!((shelter.floor_length_m, shelter.party_size), (Some(3.0), Some(4)));
    let target = store.get::<TargetRecord>(&id("perch")).await.unwrap().record;
    assert_eq!((target.length_cm, target.check()), (Some(25.0), vec![]));
}

/// The tables of the database have the columns that the tables of fields say, and no other.
#[tokio::test]
async fn the_schema_has_a_column_a_field() {
    use sqlx::Row as _;
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    store.close().await;
    let path = dir.path().join("lake.db");
    let pool = sqlx::SqlitePool::connect(&format!("sqlite:{}", path.display())).await.unwrap();
    for (table, mut columns) in catalog::tables() {
        let sql = format!("SELECT name, strict FROM pragma_table_info('{table}'), pragma_table_list('{table}')");
        let rows = sqlx::query(sqlx::AssertSqlSafe(sql.replace("SELECT name,", "SELECT pragma_table_info.name,")))
            .fetch_all(&pool)
            .await
            .unwrap();
        let mut found: Vec<String> = rows.iter().map(|row| row.get(0)).collect();
        assert!(rows.iter().all(|row| row.get::<i64, _>(1) == 1), "{table} is STRICT");
        found.sort();
        columns.sort();
        assert_eq!(found, columns, "{table}");
    }
}

/// A sensor with lists in lists, spreads and sources comes back as it was.
#[tokio::test]
async fn lists_and_sources_of_a_sensor_come_back() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(&dir).await;
    let text = "id,display_name,price,currency,dial_scale,dial_points,option_id,frequency_khz,shape,beamwidth_deg,pattern_points,pattern_provenance\n\
        two,Two,1.5,EUR,clock_hour,7:00=0 5:00=70,a,200 ±2.5 told,circular_piston,14 charted,,\n\
        two,,,,,,b,90,tabulated,,0=0 4=-3 9=-20,measured\n";
    let read = csv::read::<SensorRecord>(text.as_bytes(), &BTreeMap::new());
    assert_eq!(read.faults, []);
    let sensor = &read.records[0].1;
    let stored = store.create(sensor, &write()).await.unwrap();
    assert_eq!(&stored.record, sensor);
    let fewer = SensorRecord { options: vec![sensor.options[0].clone()], ..sensor.clone() };
    assert_eq!(store.update(&fewer, None, &write()).await.unwrap().record, fewer);
    let chosen = |text: &str| Filter::parse(text, &SensorRecord::filters()).unwrap();
    for (text, found) in [("options.frequency_khz > 100", 1), ("options.shape = TABULATED", 0), ("price = 1.5", 1)] {
        let query = ListQuery { filter: chosen(text), limit: 9, after: None };
        assert_eq!(store.list::<SensorRecord>(&query).await.unwrap().total, found, "{text}");
    }
    assert!(matches!(store.get::<Unit>(&id("two")).await, Err(StoreError::NotFound { .. })));
}
