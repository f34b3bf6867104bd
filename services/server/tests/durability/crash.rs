//! Killed at random moments and at named points, over and over.

use std::io::Write as _;
use std::os::unix::process::ExitStatusExt as _;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use tonic::{Code, Status};

use crate::ledger::Ledger;
use crate::support::{Server, lakebeam};
use crate::{catalog, work};

/// Kills at random moments.
const ROUNDS: u64 = 100;
/// Of these, every so many hit the service while it starts.
const AT_START: u64 = 6;
/// Of these, every so many leave it time for a report.
const AT_REPORT: u64 = 13;
/// The latest moment after a service takes calls.
const LATEST: Duration = Duration::from_millis(250);
/// The same where reports are rendered.
const LATEST_AT_REPORT: Duration = Duration::from_millis(2_500);
/// The latest moment of a start; most starts are done by then.
const LATEST_START: Duration = Duration::from_millis(80);
/// What a caller is told whose connection breaks.
const CUT_OFF: [Code; 4] = [Code::Unavailable, Code::Unknown, Code::Internal, Code::Cancelled];
/// SIGABRT and SIGKILL, POSIX signal.h.
const ABORTED: i32 = 6;
const KILLED: i32 = 9;

/// The hash of a run that nobody disturbs.
async fn undisturbed_hash() -> String {
    let dir = tempfile::tempdir().unwrap();
    catalog(dir.path());
    let server = Server::start(dir.path(), &[]);
    let channel = work::connect(&server.url()).await.unwrap();
    let run = work::start(&channel, &Ledger::default(), "calm").await.unwrap();
    work::end_of(&channel, &run).await.unwrap()
}

/// Imports batch after batch and run after run until the service is gone.
fn busy(url: &str, ledger: &Arc<Ledger>, round: u64) -> Vec<tokio::task::JoinHandle<Result<(), Status>>> {
    let (url, imports) = (url.to_owned(), Arc::clone(ledger));
    let importing = tokio::spawn({
        let url = url.clone();
        async move {
            let Some(channel) = work::connect(&url).await else { return Ok(()) };
            for number in 0.. {
                work::import(&channel, &imports, &format!("r{round}x{number}")).await?;
            }
            Ok(())
        }
    });
    let runs = Arc::clone(ledger);
    let running = tokio::spawn(async move {
        let Some(channel) = work::connect(&url).await else { return Ok(()) };
        // An answer that was lost is asked for again, by the same request.
        for request in runs.open_requests() {
            work::start(&channel, &runs, &request).await?;
        }
        for number in 0.. {
            let run = work::start(&channel, &runs, &format!("r{round}x{number}")).await?;
            work::end_of(&channel, &run).await?;
            if round.is_multiple_of(AT_REPORT) {
                work::report(&channel, &runs, &run, &format!("r{round}x{number}")).await?;
            }
        }
        Ok(())
    });
    vec![importing, running]
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_at_any_moment_it_loses_nothing_and_does_nothing_twice() {
    let hash = undisturbed_hash().await;
    let dir = tempfile::tempdir().unwrap();
    catalog(dir.path());
    let database = dir.path().join("lakebeam.db");
    let ledger = Arc::new(Ledger::default());
    let mut random = ChaCha8Rng::seed_from_u64(20_260_115);
    let begun = Instant::now();
    for round in 0..ROUNDS {
        let mut server = Server::launch(lakebeam(dir.path()), &[]);
        if round.is_multiple_of(AT_START) {
            // The moment of the kill, not a wait for anything.
            std::thread::sleep(random.random_range(Duration::ZERO..LATEST_START));
            server.kill();
        } else {
            assert!(server.listens(), "round {round}");
            let callers = busy(&server.url(), &ledger, round);
            let latest = if round.is_multiple_of(AT_REPORT) { LATEST_AT_REPORT } else { LATEST };
            tokio::time::sleep(random.random_range(Duration::ZERO..latest)).await;
            assert_eq!(server.kill().signal(), Some(KILLED), "round {round}");
            for caller in callers {
                // Cut off, or it never reached the service; anything else was a refusal.
                if let Err(cut) = caller.await.unwrap() {
                    assert!(CUT_OFF.contains(&cut.code()), "round {round}: {cut}");
                }
            }
        }
        ledger.check_files(&database, &hash).await;
    }
    // Left alone, it ends all that was begun.
    let server = Server::start(dir.path(), &[]);
    let channel = work::connect(&server.url()).await.unwrap();
    for request in ledger.open_requests() {
        work::start(&channel, &ledger, &request).await.unwrap();
    }
    for run in ledger.runs() {
        assert_eq!(work::end_of(&channel, &run).await.unwrap(), hash, "{run}");
    }
    let store = catalog::Store::open(&database, catalog::OpenOptions::default()).await.unwrap();
    let kept = ledger.check(&store, &hash).await;
    println!("{ROUNDS} kills in {:.1} s, at the end {kept:?}", begun.elapsed().as_secs_f64());
    assert_eq!(kept.finished, kept.runs);
    assert!(kept.runs > 5 && kept.batches > 5, "hardly anything was done: {kept:?}");
}

/// Points at which a debug build ends itself when told to: before and after each commit that a caller or a restart leans on.
const POINTS: [&str; 13] = [
    "import-spots-rows-written",
    "import-spots-committed",
    "run-written",
    "run-committed",
    "chunk-0-marked",
    "chunk-0-written",
    "chunk-0-committed",
    "chunk-1-marked",
    "chunk-2-written",
    "chunk-2-committed",
    "run-end-unwritten",
    "report-written",
    "report-committed",
];

/// An import, a run to its end, and a report of it; ends where the service does.
async fn whole_job(url: &str, ledger: &Ledger) -> Result<String, Status> {
    let channel = work::connect(url).await.ok_or_else(|| Status::unavailable("gone"))?;
    work::import(&channel, ledger, "batch").await?;
    let run = work::start(&channel, ledger, "job").await?;
    let hash = work::end_of(&channel, &run).await?;
    work::report(&channel, ledger, &run, "sheet").await?;
    Ok(hash)
}

async fn crash_at(point: &str, template: &Path, hash: &str) {
    let dir = tempfile::tempdir().unwrap();
    let database = dir.path().join("lakebeam.db");
    std::fs::copy(template, &database).unwrap();
    let ledger = Ledger::default();
    let mut binary = lakebeam(dir.path());
    binary.env("LAKEBEAM_CRASH_AT", point);
    let mut server = Server::launch(binary, &[]);
    assert!(server.listens(), "{point}");
    let cut = whole_job(&server.url(), &ledger).await.map_or_else(|cut| cut.code(), |_| Code::Ok);
    assert!(CUT_OFF.contains(&cut), "{point}: {cut:?}");
    let patience = Instant::now();
    let ended = loop {
        if let Some(ended) = server.ended() {
            break ended;
        }
        assert!(patience.elapsed() < Duration::from_secs(20), "{point} was never reached");
        tokio::task::yield_now().await;
    };
    assert_eq!(ended.signal(), Some(ABORTED), "{point}");
    let kept = ledger.check_files(&database, hash).await;
    // What is told before the commit must not be there, what is told after it must.
    let (batches, runs, reports) = match point {
        "import-spots-rows-written" => (0, 0, 0),
        "import-spots-committed" | "run-written" => (1, 0, 0),
        "report-committed" => (1, 1, 1),
        _ => (1, 1, 0),
    };
    assert_eq!((kept.batches, kept.runs, kept.reports), (batches, runs, reports), "{point}");
    let again = Server::start(dir.path(), &[]);
    assert_eq!(whole_job(&again.url(), &ledger).await.unwrap(), hash, "{point}");
    drop(again);
    let kept = ledger.check_files(&database, hash).await;
    assert_eq!((kept.batches, kept.runs, kept.finished, kept.reports), (1, 1, 1, 1), "{point}");
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_at_every_named_point_it_goes_on_from_the_last_commit() {
    if !cfg!(debug_assertions) {
        // Past the capture of the test harness, so that it is read.
        writeln!(std::io::stderr(), "skipped: crashes at named points, which only a debug build has").unwrap();
        return;
    }
    let hash = undisturbed_hash().await;
    let dir = tempfile::tempdir().unwrap();
    catalog(dir.path());
    let template = dir.path().join("lakebeam.db");
    for point in POINTS {
        crash_at(point, &template, &hash).await;
    }
}
