//! Files that kills, other programs and people leave behind or change, on real SQLite.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use catalog::{Existing, NewToken, OpenOptions, Role, Store, StoreError, Write, back_up, restore};
use domain::Id;
use jiff::Timestamp;
use sqlx::Connection as _;

async fn open(path: &Path) -> Result<Store, StoreError> {
    Store::open(path, OpenOptions::default()).await
}

/// Something to be found again, small enough to be looked at in all tests.
async fn put(store: &Store, name: &str) -> Result<(), StoreError> {
    let write = Write { actor: "test".into(), at: Timestamp::from_second(1_700_000_000).unwrap() };
    let name = Id::parse(name).unwrap();
    let key = name.to_string();
    store.add_token(&NewToken { name, key, hash: [7; 32], role: Role::Read, expire_time: None }, &write).await
}

async fn held(path: &Path) -> Vec<String> {
    let store = open(path).await.unwrap();
    store.check_integrity().await.unwrap();
    let tokens = store.tokens().await.unwrap();
    store.close().await;
    tokens.into_iter().map(|token| token.name).collect()
}

/// A closed database with one entry.
async fn database(path: &Path, name: &str) {
    let store = open(path).await.unwrap();
    put(&store, name).await.unwrap();
    store.close().await;
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    PathBuf::from(format!("{}{ending}", path.display()))
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

async fn raw(path: &Path) -> sqlx::SqliteConnection {
    sqlx::SqliteConnection::connect(&format!("sqlite:{}", path.display())).await.unwrap()
}

async fn run(connection: &mut sqlx::SqliteConnection, statements: &str) {
    sqlx::raw_sql(sqlx::AssertSqlSafe(statements.to_owned())).execute(connection).await.unwrap();
}

/// Copies a database and its journal in the middle of a write, as a kill leaves them.
async fn interrupted(from: &Path, to: &Path) {
    let mut writer = raw(from).await;
    run(&mut writer, "PRAGMA journal_mode = DELETE; PRAGMA cache_size = 1; BEGIN IMMEDIATE;").await;
    run(&mut writer, "CREATE TABLE filler (x); INSERT INTO filler WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 500) SELECT zeroblob(900) FROM n;").await;
    assert!(std::fs::metadata(beside(from, "-journal")).unwrap().len() > 512);
    for ending in ["", "-journal"] {
        std::fs::copy(beside(from, ending), beside(to, ending)).unwrap();
    }
    run(&mut writer, "ROLLBACK").await;
    writer.close().await.unwrap();
}

#[tokio::test]
async fn a_write_that_a_kill_cut_off_is_rolled_back_at_the_next_start() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, killed) = (dir.path().join("lake.db"), dir.path().join("killed.db"));
    database(&lake, "kept").await;
    interrupted(&lake, &killed).await;
    assert_eq!(held(&killed).await, ["kept"]);
    // So do a backup of it and a restore over it.
    interrupted(&lake, &killed).await;
    back_up(&killed, &dir.path().join("copy.db")).await.unwrap();
    assert_eq!(held(&dir.path().join("copy.db")).await, ["kept"]);
    interrupted(&lake, &killed).await;
    let aside = restore(&dir.path().join("copy.db"), &killed, Existing::Replace).await.unwrap().unwrap();
    assert_eq!((held(&killed).await, held(&aside).await), (vec!["kept".to_owned()], vec!["kept".to_owned()]));
}

#[tokio::test]
async fn an_interrupted_write_of_another_program_is_left_to_it() {
    let dir = tempfile::tempdir().unwrap();
    let (theirs, killed) = (dir.path().join("theirs.db"), dir.path().join("killed.db"));
    std::fs::write(&theirs, "").unwrap();
    let mut writer = raw(&theirs).await;
    run(&mut writer, "CREATE TABLE theirs (x)").await;
    writer.close().await.unwrap();
    interrupted(&theirs, &killed).await;
    let before = ["", "-journal"].map(|ending| std::fs::read(beside(&killed, ending)).unwrap());
    assert!(matches!(open(&killed).await, Err(StoreError::Foreign { .. })));
    assert_eq!(["", "-journal"].map(|ending| std::fs::read(beside(&killed, ending)).unwrap()), before);
}

/// What a first start leaves when it is killed: a file in the making, of any content.
#[tokio::test]
async fn what_a_killed_first_start_left_is_begun_anew() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    std::fs::write(beside(&lake, ".lakebeam-partial"), "half a database".repeat(99)).unwrap();
    std::fs::write(beside(&lake, ".lakebeam-partial-journal"), "half a journal".repeat(99)).unwrap();
    database(&lake, "first").await;
    assert_eq!(held(&lake).await, ["first"]);
    assert_eq!(names(dir.path()), ["lake.db"]);
    // A finished file whose second name was left over keeps its content.
    std::fs::hard_link(&lake, beside(&lake, ".lakebeam-partial")).unwrap();
    back_up(&lake, &dir.path().join("copy.db")).await.unwrap();
    restore(&dir.path().join("copy.db"), &lake, Existing::Replace).await.unwrap();
    assert_eq!(held(&beside(&lake, ".before-restore")).await, ["first"]);
}

#[test]
fn many_first_starts_at_once_make_one_database() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    let start = |name: &str| {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(database(&lake, name));
    };
    let names_of = (0..8).map(|number| format!("n{number}")).collect::<Vec<_>>();
    std::thread::scope(|scope| {
        for name in &names_of {
            scope.spawn(|| start(name));
        }
    });
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let mut kept = runtime.block_on(held(&lake));
    kept.sort();
    assert_eq!(kept, names_of);
    assert_eq!(names(dir.path()), ["lake.db"]);
}

#[tokio::test]
async fn files_that_hold_nothing_are_no_new_databases() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    for (content, why) in [(&b""[..], "it is empty"), (b"x", "one byte"), (&[0; 600], "not a database")] {
        std::fs::write(&lake, content).unwrap();
        let refused = open(&lake).await.unwrap_err();
        assert!(matches!(refused, StoreError::Corrupt { .. }), "{refused}");
        assert!(refused.to_string().contains(why), "{refused}");
        assert_eq!(std::fs::read(&lake).unwrap(), content);
        assert_eq!(names(dir.path()), ["lake.db"]);
    }
}

#[tokio::test]
async fn beside_a_refused_file_nothing_is_left() {
    let dir = tempfile::tempdir().unwrap();
    let (theirs, newer) = (dir.path().join("theirs.db"), dir.path().join("newer.db"));
    std::fs::write(&theirs, "").unwrap();
    for (file, statements) in [
        (&theirs, "CREATE TABLE theirs (x)"),
        (
            &newer,
            "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) VALUES (9999, 'later', 1, x'00', 0)",
        ),
    ] {
        if file == &newer {
            database(file, "kept").await;
        }
        let mut writer = raw(file).await;
        run(&mut writer, &format!("PRAGMA journal_mode = WAL; {statements}")).await;
        writer.close().await.unwrap();
        let before = std::fs::read(file).unwrap();
        assert!(open(file).await.is_err());
        assert_eq!(std::fs::read(file).unwrap(), before);
    }
    assert_eq!(names(dir.path()), ["newer.db", "theirs.db"]);
}

/// A database that was moved away without its log must not lose what the log holds, nor be taken for a first start.
#[tokio::test]
async fn a_log_without_its_database_is_no_first_start() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, moved) = (dir.path().join("lake.db"), dir.path().join("moved.db"));
    let store = open(&lake).await.unwrap();
    put(&store, "kept").await.unwrap();
    std::fs::rename(&lake, &moved).unwrap();
    store.close().await;
    let refused = open(&lake).await.unwrap_err().to_string();
    assert!(refused.contains("lake.db-wal") && refused.contains("moved or removed"), "{refused}");
    std::fs::rename(&moved, &lake).unwrap();
    assert_eq!(held(&lake).await, ["kept"]);
}

#[tokio::test]
async fn a_database_that_is_moved_replaced_or_emptied_takes_no_more_writes() {
    type Change = fn(&Path);
    let changes: [(&str, Change); 4] = [
        ("moved or removed", |lake| std::fs::rename(lake, beside(lake, ".away")).unwrap()),
        ("moved or removed", |lake| std::fs::remove_file(lake).unwrap()),
        ("taken its place", |lake| {
            std::fs::copy(lake, beside(lake, ".other")).unwrap();
            std::fs::rename(beside(lake, ".other"), lake).unwrap();
        }),
        ("it was emptied", |lake| std::fs::write(lake, "").unwrap()),
    ];
    for (why, change) in changes {
        let dir = tempfile::tempdir().unwrap();
        let lake = dir.path().join("lake.db");
        let store = open(&lake).await.unwrap();
        put(&store, "kept").await.unwrap();
        store.check_file().unwrap();
        change(&lake);
        let said = store.check_file().unwrap_err().to_string();
        assert!(said.contains(why) && said.contains("lake.db"), "{said}");
        assert!(matches!(put(&store, "late").await, Err(StoreError::Lost { .. })));
        store.close().await;
    }
}

#[tokio::test]
async fn damage_that_a_statement_meets_is_remembered() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    let store = open(&lake).await.unwrap();
    for number in 0..500 {
        put(&store, &format!("n{number}")).await.unwrap();
    }
    store.close().await;
    let store = open(&lake).await.unwrap();
    store.check_file().unwrap();
    // Written in place, past the page that holds the schema.
    let mut bytes = std::fs::read(&lake).unwrap();
    let schema = 8192 * 3;
    bytes.iter_mut().skip(schema).for_each(|byte| *byte = 0xff);
    std::fs::write(&lake, bytes).unwrap();
    assert!(store.tokens().await.is_err());
    assert!(matches!(store.check_file(), Err(StoreError::Corrupt { .. })));
    assert!(matches!(put(&store, "late").await, Err(StoreError::Corrupt { .. })));
}

/// Whoever is first with a name keeps it: a file that appears while a backup is made, or the backup.
#[tokio::test(flavor = "multi_thread")]
async fn a_backup_never_replaces_a_file_that_appears_meanwhile() {
    let dir = tempfile::tempdir().unwrap();
    let lake = dir.path().join("lake.db");
    let store = open(&lake).await.unwrap();
    for number in 0..200 {
        put(&store, &format!("n{number}")).await.unwrap();
    }
    store.close().await;
    let mut appeared = 0;
    for round in 0..20 {
        let copy = dir.path().join(format!("copy{round}.db"));
        let (seen, name) = (beside(&copy, ".lakebeam-partial"), copy.clone());
        let other = std::thread::spawn(move || {
            let begun = std::time::Instant::now();
            while !seen.exists() && !name.exists() && begun.elapsed() < Duration::from_secs(10) {
                std::thread::yield_now();
            }
            let mut options = std::fs::OpenOptions::new();
            let mut file = options.write(true).create_new(true).open(&name)?;
            std::io::Write::write_all(&mut file, b"theirs")
        });
        let made = back_up(&lake, &copy).await;
        if other.join().unwrap().is_ok() {
            appeared += 1;
            assert!(matches!(made, Err(StoreError::FileExists { .. })), "{round}: {made:?}");
            assert_eq!(std::fs::read(&copy).unwrap(), b"theirs", "{round}");
        } else {
            made.unwrap();
        }
    }
    assert!(appeared > 0, "no file ever appeared in time");
    assert!(!names(dir.path()).iter().any(|name| name.contains("partial")));
}

#[tokio::test]
async fn two_backups_or_restores_at_once_say_so() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy) = (dir.path().join("lake.db"), dir.path().join("copy.db"));
    database(&lake, "kept").await;
    back_up(&lake, &copy).await.unwrap();
    for target in [dir.path().join("second.db"), lake.clone()] {
        let first = std::fs::File::create(beside(&target, ".lakebeam-partial")).unwrap();
        first.lock().unwrap();
        let refused = if target == lake {
            restore(&copy, &lake, Existing::Replace).await.map(drop)
        } else {
            back_up(&lake, &target).await
        };
        let said = refused.unwrap_err();
        assert!(matches!(said, StoreError::UnderWay { .. }), "{said}");
        assert!(said.to_string().contains("at this moment"), "{said}");
        drop(first);
    }
    back_up(&lake, &dir.path().join("second.db")).await.unwrap();
    restore(&copy, &lake, Existing::Replace).await.unwrap();
}

#[tokio::test]
async fn new_files_are_their_owners_alone_and_nothing_is_written_through_links() {
    let dir = tempfile::tempdir().unwrap();
    let (lake, copy, link) = (dir.path().join("lake.db"), dir.path().join("copy.db"), dir.path().join("link.db"));
    let mode = |file: &Path| std::fs::metadata(file).unwrap().permissions().mode() & 0o777;
    let store = open(&lake).await.unwrap();
    put(&store, "kept").await.unwrap();
    for ending in ["", "-wal", "-shm"] {
        assert_eq!(mode(&beside(&lake, ending)), 0o600, "{ending}");
    }
    store.close().await;
    back_up(&lake, &copy).await.unwrap();
    assert_eq!(mode(&copy), 0o600);
    std::os::unix::fs::symlink(dir.path().join("elsewhere"), &link).unwrap();
    assert!(matches!(back_up(&lake, &link).await, Err(StoreError::FileExists { .. })));
    let refused = open(&link).await.unwrap_err().to_string();
    assert!(refused.contains("a link to a file that is not there"), "{refused}");
    assert!(!dir.path().join("elsewhere").exists());
    std::os::unix::fs::symlink(dir.path().join("elsewhere"), beside(&dir.path().join("b.db"), ".lakebeam-partial"))
        .unwrap();
    back_up(&lake, &dir.path().join("b.db")).await.unwrap_err();
    assert!(!dir.path().join("elsewhere").exists());
}
