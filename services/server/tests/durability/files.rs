//! Killed in the middle of a first start, a backup or a restore: whatever is left behind is opened, and is old or new as a whole.

use std::os::unix::process::ExitStatusExt as _;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, Instant};

use catalog::{ListQuery, OpenOptions, Store};
use domain::SpotRecord;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use tonic_health::pb::health_check_response::ServingStatus;

use crate::support::{Server, lakebeam};
use crate::{call, catalog, work};

/// Kills of each kind.
const ROUNDS: u64 = 60;
/// SIGABRT, POSIX signal.h.
const ABORTED: i32 = 6;

/// Starts a verb, kills it after a while, and says how it ended.
fn killed(dir: &Path, arguments: &[&str], after: Duration) -> std::process::ExitStatus {
    let mut binary = lakebeam(dir);
    let mut child = binary.args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    // The moment of the kill, not a wait for anything.
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap()
}

/// The next longest pause before a kill: shorter where the last one came too late, so that load on the machine matters little.
fn next(latest: Duration, ended: std::process::ExitStatus) -> Duration {
    if ended.signal().is_some() { latest * 9 / 8 } else { latest * 3 / 4 }
}

/// How long a verb takes from its start to its end.
fn duration(dir: &Path, arguments: &[&str]) -> Duration {
    let begun = Instant::now();
    let (code, said) = call(dir, arguments);
    assert_eq!(code, 0, "{said}");
    begun.elapsed()
}

/// Number of spots in a sound database.
async fn spots(database: &Path) -> i64 {
    let store = Store::open(database, OpenOptions::default()).await.unwrap_or_else(|e| panic!("{e}"));
    store.check_integrity().await.unwrap();
    let query = ListQuery { limit: 1, ..ListQuery::default() };
    let total = store.list::<SpotRecord>(&query).await.unwrap().total;
    store.close().await;
    i64::try_from(total).unwrap()
}

/// What restores put aside.
fn put_aside(dir: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path());
    let is_aside = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        name.contains("before-restore") && !name.ends_with("-wal") && !name.ends_with("-shm")
    };
    entries.filter(is_aside).collect()
}

#[tokio::test]
async fn a_first_start_killed_at_any_moment_is_begun_again() {
    let mut latest = {
        let dir = tempfile::tempdir().unwrap();
        duration(dir.path(), &["list", "spots"])
    };
    let mut random = ChaCha8Rng::seed_from_u64(20_260_116);
    let mut ended_by_kill = 0;
    for round in 0..ROUNDS {
        let dir = tempfile::tempdir().unwrap();
        let status = killed(dir.path(), &["list", "spots"], random.random_range(Duration::ZERO..latest));
        latest = next(latest, status);
        ended_by_kill += u64::from(status.signal().is_some());
        assert_eq!(spots(&dir.path().join("lakebeam.db")).await, 0, "round {round}");
    }
    assert!(ended_by_kill > ROUNDS / 4, "hardly anything was killed: {ended_by_kill}");
}

#[tokio::test]
async fn a_restore_killed_at_any_moment_leaves_the_old_or_the_new() {
    let dir = tempfile::tempdir().unwrap();
    let (at, database) = (dir.path(), dir.path().join("lakebeam.db"));
    catalog(at);
    let old = spots(&database).await;
    assert_eq!(call(at, &["backup", "--out", "monday.db"]).0, 0);
    assert_eq!(call(at, &["delete", "spots/base-1"]).0, 0);
    let replace = ["restore", "monday.db", "--replace"];
    let mut latest = duration(at, &replace);
    let mut random = ChaCha8Rng::seed_from_u64(20_260_117);
    let mut ended_by_kill = 0;
    for round in 0..ROUNDS {
        // So that old and new differ every time; through the service, so that the file has a log again.
        let (code, said) = call(at, &["delete", "spots/base-1"]);
        assert_eq!(code, 0, "round {round}: {said}");
        let status = killed(at, &replace, random.random_range(Duration::ZERO..latest));
        latest = next(latest, status);
        ended_by_kill += u64::from(status.signal().is_some());
        let kept = spots(&database).await;
        assert!(kept == old || kept == old - 1, "round {round}: {kept}");
        for aside in put_aside(at) {
            let kept = spots(&aside).await;
            assert!(kept == old || kept == old - 1, "round {round}: {kept} in {}", aside.display());
            std::fs::remove_file(aside).unwrap();
        }
        if kept < old {
            let (code, said) = call(at, &replace);
            assert_eq!(code, 0, "round {round}: {said}");
        }
    }
    assert!(ended_by_kill > ROUNDS / 4, "hardly anything was killed: {ended_by_kill}");
}

#[tokio::test]
async fn killed_at_every_named_point_files_are_whole() {
    if !cfg!(debug_assertions) {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let (at, database) = (dir.path(), dir.path().join("lakebeam.db"));
    catalog(at);
    let old = spots(&database).await;
    assert_eq!(call(at, &["backup", "--out", "monday.db"]).0, 0);
    assert_eq!(call(at, &["delete", "spots/base-1"]).0, 0);
    let crash = |point: &str, arguments: &[&str]| {
        let output = lakebeam(at).env("LAKEBEAM_CRASH_AT", point).args(arguments).output().unwrap();
        assert_eq!(output.status.signal(), Some(ABORTED), "{point}");
    };
    for (point, expected) in [
        ("restore-copied", old - 1),
        ("restore-released", old - 1),
        ("restore-beside", old - 1),
        ("restore-swapped", old),
    ] {
        crash(point, &["restore", "monday.db", "--replace"]);
        assert_eq!(spots(&database).await, expected, "{point}");
        for aside in put_aside(at) {
            assert_eq!(spots(&aside).await, 2 * old - 1 - expected, "{point}");
            std::fs::remove_file(aside).unwrap();
        }
    }
    crash("backup-made", &["backup", "--out", "tuesday.db"]);
    assert!(!at.join("tuesday.db").exists());
    assert_eq!(call(at, &["backup", "--out", "tuesday.db"]).0, 0);
    crash("database-made", &["--database", "new.db", "list", "spots"]);
    assert!(!at.join("new.db").exists());
    assert_eq!(call(at, &["--database", "new.db", "list", "spots"]).0, 0);
    let left = std::fs::read_dir(at).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    assert!(!left.into_iter().any(|name| name.contains("partial")));
}

/// The service ends in words when its file is no longer there, or no longer its own; whoever watches its health hears of it first.
#[tokio::test(flavor = "multi_thread")]
async fn a_service_whose_database_goes_away_says_so_and_ends() {
    type Change = fn(&Path);
    let changes: [(&str, Change); 3] = [
        ("moved or removed", |file| std::fs::rename(file, file.with_extension("away")).unwrap()),
        ("taken its place", |file| {
            std::fs::copy(file, file.with_extension("other")).unwrap();
            std::fs::rename(file.with_extension("other"), file).unwrap();
        }),
        ("it was emptied", |file| std::fs::write(file, "").unwrap()),
    ];
    for (why, change) in changes {
        let dir = tempfile::tempdir().unwrap();
        let at = dir.path();
        catalog(at);
        let errors = at.join("errors.txt");
        let mut binary = lakebeam(at);
        binary.stderr(std::fs::File::create(&errors).unwrap());
        let mut server = Server::launch(binary, &[]);
        assert!(server.listens());
        let channel = work::connect(&server.url()).await.unwrap();
        let mut health = tonic_health::pb::health_client::HealthClient::new(channel.clone());
        let asked = tonic_health::pb::HealthCheckRequest { service: "lakebeam.v1.CatalogService".to_owned() };
        let mut states = health.watch(asked).await.unwrap().into_inner();
        assert_eq!(states.message().await.unwrap().unwrap().status(), ServingStatus::Serving);
        change(&at.join("lakebeam.db"));
        // Whether a write meets it or a look: nothing is acknowledged that would be lost.
        let ledger = crate::ledger::Ledger::default();
        work::import(&channel, &ledger, "late").await.unwrap_err();
        assert_eq!(states.message().await.unwrap().unwrap().status(), ServingStatus::NotServing, "{why}");
        drop((states, health, channel));
        let begun = Instant::now();
        let ended = loop {
            if let Some(ended) = server.ended() {
                break ended;
            }
            assert!(begun.elapsed() < Duration::from_secs(20), "{why}: it goes on");
            tokio::time::sleep(Duration::from_millis(20)).await;
        };
        let said = std::fs::read_to_string(&errors).unwrap();
        assert_eq!(ended.code(), Some(3), "{said}");
        assert!(said.contains(why) && said.contains("lakebeam.db"), "{said}");
    }
}

/// What is deleted by hand and by age, by the verbs.
#[test]
fn deleting_names_what_refers_and_pruning_tells_what_goes() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    std::fs::write(at.join("units.csv"), "id,display_name,sensor,serial\nu1,Unit 1,plain-narrow,N1\n").unwrap();
    let (code, said) = call(at, &["import", "units.csv"]);
    assert_eq!(code, 0, "{said}");
    let (code, said) = call(at, &["delete", "sensors/plain-narrow"]);
    assert!(code == 1 && said.contains("units/u1") && said.contains("force"), "{code}: {said}");
    assert_eq!(call(at, &["delete", "sensors/plain-narrow", "--force"]).0, 0);
    let (code, said) = call(at, &["prune", "--older-than-days", "1", "--dry-run"]);
    assert!(code == 0 && said.contains("0 result(s)") && said.contains("would be removed"), "{code}: {said}");
    let (code, said) = call(at, &["prune", "--older-than-days", "1", "--only", "spots"]);
    assert!(code == 1 && said.contains("accepted: runs, reports"), "{code}: {said}");
    let (code, said) = call(at, &["prune", "--older-than-days", "4294967295"]);
    assert!(code == 2 && said.contains("before the year 1"), "{code}: {said}");
}
