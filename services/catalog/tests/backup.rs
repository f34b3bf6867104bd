//! Backups and restored files, and files that are not fit for it, on real SQLite.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::time::Duration;

use catalog::{Existing, ListQuery, OpenOptions, Store, StoreError, Write, back_up, restore};
use domain::{BottomClass, Id, Record as _, SpotRecord};
use jiff::Timestamp;

fn write() -> Write {
    Write { actor: "test".into(), at: Timestamp::from_second(1_700_000_000).unwrap() }
}

fn spot(name: &str) -> SpotRecord {
    SpotRecord {
        display_name: format!("Spot {name}"),
        lake: "Tarn Vesper".into(),
        depth_m: Some(6.0),
        bottom_class: Some(BottomClass::Silt),
        ..SpotRecord::blank(Id::parse(name).unwrap())
    }
}

async fn open(path: &Path) -> Store {
    Store::open(path, OpenOptions::default()).await.unwrap()
}

/// A closed database with one spot of that name.
async fn database(path: &Path, name: &str) {
    let store = open(path).await;
    store.create(&spot(name), &write()).await.unwrap();
    store.close().await;
}

async fn spots(path: &Path) -> Vec<String> {
    let store = open(path).await;
    store.check_integrity().await.unwrap();
    let listed = store.list::<SpotRecord>(&ListQuery { limit: 100, ..ListQuery::default() }).await.unwrap();
    store.close().await;
    listed.items.iter().map(|stored| stored.record.id.to_string()).collect()
}

/// Runs statements on a file behind the store's back.
async fn meddle(path: &Path, statements: &str) {
    let raw = sqlx::SqlitePool::connect(&format!("sqlite:{}", path.display())).await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(statements.to_owned())).execute(&raw).await.unwrap();
    raw.close().await;
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[tokio::test]
async fn a_backup_is_a_sound_copy_and_never_overwrites() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    let store = open(&lake).await;
    store.create(&spot("a"), &write()).await.unwrap();
    back_up(&lake, &copy).await.unwrap();
    store.create(&spot("b"), &write()).await.unwrap();
    let before = std::fs::read(&copy).unwrap();
    assert!(matches!(back_up(&lake, &copy).await, Err(StoreError::FileExists { .. })));
    assert_eq!(std::fs::read(&copy).unwrap(), before);
    assert_eq!(spots(&copy).await, ["a"]);
}

#[tokio::test]
async fn a_restored_database_takes_the_place_of_the_old_one_which_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    database(&lake, "old").await;
    back_up(&lake, &copy).await.unwrap();
    let store = open(&lake).await;
    store.create(&spot("new"), &write()).await.unwrap();
    store.close().await;
    assert!(matches!(restore(&copy, &lake, Existing::Refuse).await, Err(StoreError::FileExists { .. })));
    assert_eq!(spots(&lake).await, ["new", "old"]);
    let aside = restore(&copy, &lake, Existing::Replace).await.unwrap().unwrap();
    assert_eq!(spots(&lake).await, ["old"]);
    assert_eq!(spots(&aside).await, ["new", "old"]);
    // A second one does not touch what the first put aside.
    let second = restore(&copy, &lake, Existing::Replace).await.unwrap().unwrap();
    assert_ne!(second, aside);
    assert_eq!(spots(&aside).await, ["new", "old"]);
    // Nothing there: nothing to keep.
    let fresh = dir.path().join("fresh.db");
    assert_eq!(restore(&copy, &fresh, Existing::Refuse).await.unwrap(), None);
    assert_eq!(spots(&fresh).await, ["old"]);
    assert!(!names(dir.path()).iter().any(|name| name.contains("partial")));
}

#[tokio::test]
async fn behind_a_link_the_file_itself_is_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, link, copy) = (dir.path().join("lake.db"), dir.path().join("link.db"), dir.path().join("copy.db"));
    database(&copy, "old").await;
    database(&lake, "new").await;
    std::os::unix::fs::symlink(&lake, &link).unwrap();
    let aside = restore(&copy, &link, Existing::Replace).await.unwrap().unwrap();
    assert_eq!((spots(&link).await, spots(&lake).await), (vec!["old".to_owned()], vec!["old".to_owned()]));
    assert!(link.is_symlink());
    assert_eq!(spots(&aside).await, ["new"]);
}

#[tokio::test]
async fn a_database_in_use_is_not_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    database(&copy, "old").await;
    // Open and idle: a service that nobody calls at the moment.
    let store = open(&lake).await;
    store.create(&spot("new"), &write()).await.unwrap();
    assert!(matches!(restore(&copy, &lake, Existing::Replace).await, Err(StoreError::Locked { .. })));
    store.create(&spot("newer"), &write()).await.unwrap();
    store.close().await;
    assert_eq!(spots(&lake).await, ["new", "newer"]);
    assert_eq!(
        restore(&copy, &lake, Existing::Replace).await.unwrap(),
        Some(dir.path().join("lake.db.before-restore"))
    );
}

/// A log beside a missing database would be replayed into whatever file gets its name.
#[tokio::test]
async fn a_log_that_was_left_behind_is_put_aside_too() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    database(&copy, "old").await;
    let store = open(&lake).await;
    store.create(&spot("new"), &write()).await.unwrap();
    let log = std::fs::read(dir.path().join("lake.db-wal")).unwrap();
    assert!(!log.is_empty());
    store.close().await;
    std::fs::remove_file(&lake).unwrap();
    std::fs::write(dir.path().join("lake.db-wal"), &log).unwrap();
    restore(&copy, &lake, Existing::Refuse).await.unwrap();
    assert_eq!(spots(&lake).await, ["old"]);
    assert_eq!(std::fs::read(dir.path().join("lake.db.before-restore-wal")).unwrap(), log);
}

/// What is not fit to be restored leaves the database, and itself, as they were.
#[tokio::test]
async fn an_unfit_backup_is_refused_and_nothing_is_touched() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    database(&lake, "kept").await;
    let kept = std::fs::read(&lake).unwrap();
    let unfit = |name: &str| dir.path().join(name);
    std::fs::write(unfit("noise.db"), "this is no database".repeat(200)).unwrap();
    std::fs::write(unfit("empty.db"), "").unwrap();
    std::fs::create_dir(unfit("folder")).unwrap();
    // The second half is gone, as after a copy that broke off.
    let half = kept.get(..kept.len() / 2).unwrap();
    std::fs::write(unfit("cut.db"), half).unwrap();
    meddle_new(&unfit("foreign.db"), "CREATE TABLE theirs (x)").await;
    std::fs::write(unfit("newer.db"), &kept).unwrap();
    let later = "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) \
                 VALUES (9999, 'later', 1, x'00', 0)";
    meddle(&unfit("newer.db"), later).await;
    let cases = [
        ("noise.db", "not a sound database"),
        ("empty.db", "not a sound database"),
        ("cut.db", "not a sound database"),
        ("foreign.db", "another program"),
        ("newer.db", "newer lakebeam"),
        ("missing.db", "cannot be opened"),
        ("folder", "it is a folder"),
    ];
    for (name, told) in cases {
        let before = std::fs::read(unfit(name)).ok();
        let refused = restore(&unfit(name), &lake, Existing::Replace).await.unwrap_err().to_string();
        assert!(refused.contains(told) && refused.contains(name), "{name}: {refused}");
        assert_eq!(std::fs::read(unfit(name)).ok(), before, "{name}");
        assert_eq!(std::fs::read(&lake).unwrap(), kept, "{name}");
        let refused = back_up(&unfit(name), &dir.path().join("copy.db")).await.unwrap_err().to_string();
        assert!(refused.contains(told) && refused.contains(name), "{name}: {refused}");
    }
    let left: Vec<_> = names(dir.path())
        .into_iter()
        .filter(|n| n.contains("partial") || n.contains("before") || n.contains("copy"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    assert_eq!(spots(&lake).await, ["kept"]);
}

async fn meddle_new(path: &Path, statements: &str) {
    std::fs::write(path, "").unwrap();
    meddle(path, statements).await;
}

/// What a restore is most needed for.
#[tokio::test]
async fn a_corrupt_database_is_replaced_and_kept_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    database(&copy, "old").await;
    let noise = "this is no database".repeat(200);
    std::fs::write(&lake, &noise).unwrap();
    let aside: PathBuf = restore(&copy, &lake, Existing::Replace).await.unwrap().unwrap();
    assert_eq!(std::fs::read_to_string(aside).unwrap(), noise);
    assert_eq!(spots(&lake).await, ["old"]);
}

/// The database of another program is neither replaced nor changed.
#[tokio::test]
async fn another_programs_database_is_not_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let (theirs, copy) = (dir.path().join("theirs.db"), dir.path().join("copy.db"));
    database(&copy, "old").await;
    meddle_new(&theirs, "CREATE TABLE theirs (x)").await;
    let before = std::fs::read(&theirs).unwrap();
    assert!(matches!(restore(&copy, &theirs, Existing::Replace).await, Err(StoreError::Foreign { .. })));
    assert_eq!(std::fs::read(&theirs).unwrap(), before);
}

#[tokio::test]
async fn a_file_that_another_program_holds_is_told_of_and_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    database(&lake, "kept").await;
    let store = open(&lake).await;
    let raw = sqlx::SqlitePool::connect(&format!("sqlite:{}", lake.display())).await.unwrap();
    let holder = raw.begin_with("BEGIN IMMEDIATE").await.unwrap();
    let impatient = OpenOptions { busy_timeout: Duration::from_millis(50), ..OpenOptions::default() };
    let refused = Store::open(&lake, impatient).await.unwrap_err();
    assert!(matches!(refused, StoreError::Locked { .. }), "{refused}");
    assert!(refused.to_string().contains("wait and try again"), "{refused}");
    // Readers are not held up by a writer, and neither is a backup.
    assert!(store.get::<SpotRecord>(&Id::parse("kept").unwrap()).await.is_ok());
    back_up(&lake, &dir.path().join("copy.db")).await.unwrap();
    drop(holder);
    raw.close().await;
    store.create(&spot("later"), &write()).await.unwrap();
    store.close().await;
    assert_eq!(spots(&lake).await, ["kept", "later"]);
}

/// Damage in the middle of a file shows when it is read, by name of the file, and is never papered over.
#[tokio::test]
async fn damage_inside_a_file_is_found() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    let store = open(&lake).await;
    for number in 0..200 {
        store.create(&spot(&format!("s{number}")), &write()).await.unwrap();
    }
    store.close().await;
    let sound = std::fs::read(&lake).unwrap();
    // Every page but the first, which says whose file it is; the schema lies there too.
    let damaged: Vec<u8> =
        sound.iter().enumerate().map(|(at, byte)| if at % 4096 < 64 && at >= 4096 { !byte } else { *byte }).collect();
    std::fs::write(&lake, &damaged).unwrap();
    let refused = back_up(&lake, &dir.path().join("copy.db")).await.unwrap_err();
    assert!(matches!(&refused, StoreError::Corrupt { path, .. } if *path == lake), "{refused}");
    assert!(refused.to_string().contains("restore a backup"), "{refused}");
    let opened = Store::open(&lake, OpenOptions::default()).await;
    assert!(matches!(opened, Err(StoreError::Corrupt { .. })), "{opened:?}");
    assert_eq!(std::fs::read(&lake).unwrap(), damaged);
    assert!(!dir.path().join("copy.db").exists());
}
