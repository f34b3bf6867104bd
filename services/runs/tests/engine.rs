//! Runs on a real SQLite file, from start to end, with kernels that do as they are told.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use catalog::{FindingsQuery, RunState, StoreError, Write};
use runs::{Clock as _, Kernel, Limits, RunEngine, RunError, Stage, StartRun, result_hash, spot_digest};
use support::{Bench, Jumping, end_of, findings, has_done, id, input, kernel, limits, start_run, write};

/// What the hash of a run must be, without any engine.
fn expected_hash(spots: usize, options: usize) -> String {
    let digests: Vec<_> = (0..spots)
        .map(|spot| {
            let mut of_spot = findings(spot, options);
            of_spot.reverse();
            spot_digest(&of_spot)
        })
        .collect();
    result_hash(&digests)
}

/// Blocks evaluations while it is shut.
#[derive(Default)]
struct Gate {
    open: AtomicBool,
    waiting: AtomicUsize,
}

impl Gate {
    fn pass(&self) {
        self.waiting.fetch_add(1, Ordering::SeqCst);
        while !self.open.load(Ordering::SeqCst) {
            std::thread::park_timeout(Duration::from_millis(1));
        }
    }

    fn open(&self) {
        self.open.store(true, Ordering::SeqCst);
    }

    async fn somebody_waits(&self) {
        let from = Instant::now();
        while self.waiting.load(Ordering::SeqCst) == 0 {
            assert!(from.elapsed() < Duration::from_secs(30), "nobody came to the gate");
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    }
}

/// A kernel that stops at the gate from the spot of that index on.
fn gated(gate: &Arc<Gate>, from: usize) -> Kernel {
    let gate = Arc::clone(gate);
    kernel(move |spot| {
        if spot >= from {
            gate.pass();
        }
    })
}

fn calm() -> Kernel {
    kernel(|_| {})
}

#[tokio::test]
async fn a_run_is_stored_whole_and_in_order() {
    let bench = Bench::new();
    let engine = bench.engine(calm(), limits(2)).await;
    let store = bench.store().await;
    let started = engine.start(start_run("r1", &input(150, 3)), write()).await.unwrap();
    assert_eq!((started.state, started.spot_count, started.option_count), (RunState::Pending, 150, 3));
    let ended = end_of(&engine, &store, "r1").await;
    assert_eq!((ended.state, ended.findings_done, ended.error.as_str()), (RunState::Succeeded, 450, ""));
    assert_eq!(ended.result_hash, expected_hash(150, 3));
    assert!(ended.start_time.is_some() && ended.end_time.is_some());
    let all = store.findings(&ended, &FindingsQuery { limit: 1_000, ..FindingsQuery::default() }).await.unwrap();
    let mut expected = Vec::new();
    for spot in 0..150 {
        expected.extend(findings(spot, 3).into_iter().rev());
    }
    assert_eq!(all, expected);
    assert!(engine.watch("r1").is_none());
}

#[tokio::test]
async fn the_hash_does_not_depend_on_threads() {
    for threads in [1, 2, 5] {
        let bench = Bench::new();
        let engine = bench.engine(calm(), limits(threads)).await;
        engine.start(start_run("r1", &input(130, 4)), write()).await.unwrap();
        let ended = end_of(&engine, &bench.store().await, "r1").await;
        assert_eq!(ended.result_hash, expected_hash(130, 4), "{threads} threads");
    }
}

/// Where a gate stands. Two chunks are computed at once and share the threads, so a gate in one may
/// hold up the one before it, but no earlier one.
const FOURTH_CHUNK: usize = 3 * 64;

#[tokio::test]
async fn a_stopped_run_goes_on_where_it_was_and_ends_with_the_same_hash() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let engine = bench.engine(gated(&gate, FOURTH_CHUNK), limits(2)).await;
    engine.start(start_run("r1", &input(300, 4)), write()).await.unwrap();
    has_done(&engine, "r1", 128 * 4).await;
    gate.somebody_waits().await;
    let stop = tokio::spawn({
        let engine = engine.clone();
        async move { engine.shutdown(Duration::from_secs(20)).await }
    });
    engine.stopping().await;
    gate.open();
    assert!(stop.await.unwrap(), "the chunk in hand should have been finished");
    let stopped = bench.store().await.run("r1").await.unwrap();
    assert_eq!(stopped.state, RunState::Running);
    assert!([192 * 4, 256 * 4].contains(&stopped.findings_done), "{}", stopped.findings_done);

    let evaluated = Arc::new(AtomicUsize::new(0));
    let counter = Arc::clone(&evaluated);
    let resumed = bench.engine(kernel(move |_| _ = counter.fetch_add(1, Ordering::SeqCst)), limits(2)).await;
    assert_eq!(resumed.resume_all().await.unwrap(), 1);
    let ended = end_of(&resumed, &bench.store().await, "r1").await;
    assert_eq!((ended.state, ended.findings_done), (RunState::Succeeded, 1_200));
    assert_eq!(ended.result_hash, expected_hash(300, 4));
    let left = (1_200 - stopped.findings_done) / 4;
    assert_eq!(u64::try_from(evaluated.load(Ordering::SeqCst)).unwrap(), left, "what was stored is not computed again");
}

#[tokio::test]
async fn a_clock_that_jumps_neither_holds_up_nor_reorders_runs() {
    for days in [-1, 400] {
        let bench = Bench::new();
        let clock = Jumping::by_days(days);
        let engine = bench.engine_by(clock.clone(), calm(), limits(2)).await;
        let store = bench.store().await;
        for run in ["r1", "r2"] {
            let write = Write { at: clock.now(), ..write() };
            engine.start(start_run(run, &input(100, 2)), write).await.unwrap();
            let ended = end_of(&engine, &store, run).await;
            assert_eq!((ended.state, ended.findings_done), (RunState::Succeeded, 200), "{days} days");
            assert_eq!(ended.result_hash, expected_hash(100, 2), "{days} days");
        }
        // The newest is the one that came last, whatever the clock says.
        let listed = store.list_runs(None, 9).await.unwrap();
        assert_eq!(listed.iter().map(|run| run.id.as_str()).collect::<Vec<_>>(), ["r2", "r1"], "{days} days");
        let older = store.list_runs(Some(listed[0].seq), 9).await.unwrap();
        assert_eq!(older.iter().map(|run| run.id.as_str()).collect::<Vec<_>>(), ["r1"], "{days} days");
        // A run that was begun before the clock was set goes on after it.
        let asked = input(100, 2);
        let new =
            catalog::NewRun { id: "r3".to_owned(), request_id: None, spec: vec![], input: &asked, chunk_spots: 64 };
        let begun = store.insert_run(new, &write()).await.unwrap();
        store.begin_run(&begun, clock.now()).await.unwrap();
        let again = bench.engine_by(clock, calm(), limits(2)).await;
        assert_eq!(again.resume_all().await.unwrap(), 1);
        assert_eq!(end_of(&again, &store, "r3").await.result_hash, expected_hash(100, 2), "{days} days");
    }
}

#[tokio::test]
async fn a_chunk_that_does_not_end_is_given_up_in_time() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    // One thread takes chunk after chunk, so that the third one is sure to be the one in hand.
    let engine = bench.engine(gated(&gate, 128), limits(1)).await;
    engine.start(start_run("r1", &input(200, 2)), write()).await.unwrap();
    has_done(&engine, "r1", 128 * 2).await;
    gate.somebody_waits().await;
    let from = Instant::now();
    assert!(!engine.shutdown(Duration::from_millis(300)).await);
    assert!(from.elapsed() < Duration::from_secs(5));
    gate.open();
    let left = bench.store().await.run("r1").await.unwrap();
    assert_eq!((left.state, left.findings_done), (RunState::Running, 256));
    let again = bench.engine(calm(), limits(2)).await;
    again.resume_all().await.unwrap();
    assert_eq!(end_of(&again, &bench.store().await, "r1").await.result_hash, expected_hash(200, 2));
}

#[tokio::test]
async fn cancelling_keeps_what_is_done() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let engine = bench.engine(gated(&gate, 64), limits(1)).await;
    engine.start(start_run("r1", &input(500, 2)), write()).await.unwrap();
    has_done(&engine, "r1", 128).await;
    gate.somebody_waits().await;
    // The chunk in hand stands at the gate and is not waited for.
    let cancelled = engine.cancel("r1", &write()).await.unwrap();
    gate.open();
    assert_eq!(cancelled.state, RunState::Cancelled);
    assert!(cancelled.findings_done >= 128 && cancelled.findings_done < 1_000, "{}", cancelled.findings_done);
    assert!(cancelled.findings_done.is_multiple_of(128), "chunks are whole");
    let again = engine.cancel("r1", &write()).await.unwrap();
    assert_eq!(again.end_time, cancelled.end_time, "no effect on a run that has ended");
}

#[tokio::test]
async fn a_run_can_be_cancelled_before_its_turn() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let engine = bench.engine(gated(&gate, 0), Limits { active_runs: 1, ..limits(1) }).await;
    engine.start(start_run("r1", &input(2, 1)), write()).await.unwrap();
    gate.somebody_waits().await;
    engine.start(start_run("r2", &input(2, 1)), write()).await.unwrap();
    let cancelled = engine.cancel("r2", &write()).await.unwrap();
    assert_eq!((cancelled.state, cancelled.findings_done), (RunState::Cancelled, 0));
    gate.open();
    assert_eq!(end_of(&engine, &bench.store().await, "r1").await.state, RunState::Succeeded);
}

#[tokio::test]
async fn a_cancellation_outlives_a_restart() {
    let bench = Bench::new();
    let store = bench.store().await;
    let idle = bench.engine(calm(), limits(1)).await;
    // Stored by an engine that stopped before its turn came.
    assert!(idle.shutdown(Duration::from_secs(5)).await);
    let run_input = input(3, 1);
    let new =
        catalog::NewRun { id: "r1".to_owned(), request_id: None, spec: vec![], input: &run_input, chunk_spots: 1 };
    let run = store.insert_run(new, &write()).await.unwrap();
    store.request_cancel(&run, &write()).await.unwrap();
    let engine = bench.engine(calm(), limits(1)).await;
    assert_eq!(engine.resume_all().await.unwrap(), 1);
    assert_eq!(end_of(&engine, &store, "r1").await.state, RunState::Cancelled);
}

#[tokio::test]
async fn a_panic_fails_its_run_and_the_engine_lives() {
    let bench = Bench::new();
    let engine = bench
        .engine(
            kernel(|spot| {
                assert!(spot != 100, "no table for spot 100");
            }),
            limits(2),
        )
        .await;
    let store = bench.store().await;
    engine.start(start_run("r1", &input(200, 1)), write()).await.unwrap();
    let failed = end_of(&engine, &store, "r1").await;
    assert_eq!((failed.state, failed.result_hash.as_str()), (RunState::Failed, ""));
    assert!(failed.error.contains("no table for spot 100"), "{}", failed.error);
    assert_eq!(failed.findings_done, 64, "what was done stays");
    engine.start(start_run("r2", &input(50, 1)), write()).await.unwrap();
    assert_eq!(end_of(&engine, &store, "r2").await.state, RunState::Succeeded);
}

#[tokio::test]
async fn a_kernel_that_refuses_the_input_says_why() {
    let bench = Bench::new();
    let refusing: Kernel = Arc::new(|_, _| Err("spots/spot-1: 31 degrees is beyond the model".to_owned()));
    let engine = bench.engine(refusing, limits(1)).await;
    engine.start(start_run("r1", &input(2, 1)), write()).await.unwrap();
    let failed = end_of(&engine, &bench.store().await, "r1").await;
    assert_eq!(
        (failed.state, failed.error.as_str()),
        (RunState::Failed, "spots/spot-1: 31 degrees is beyond the model")
    );
}

fn with_request(run: &str, request_id: &str) -> StartRun {
    StartRun { request_id: Some(request_id.to_owned()), ..start_run(run, &input(2, 1)) }
}

#[tokio::test]
async fn a_repeated_request_gives_the_run_of_the_first() {
    let bench = Bench::new();
    let engine = bench.engine(calm(), limits(1)).await;
    let all =
        futures::future::join_all((0..8).map(|n| engine.start(with_request(&format!("r{n}"), "till-7"), write())))
            .await;
    let mut ids: Vec<_> = all.into_iter().map(|run| run.unwrap().id).collect();
    ids.dedup();
    assert_eq!(ids.len(), 1, "{ids:?}");
    assert_eq!(bench.store().await.list_runs(None, 10).await.unwrap().len(), 1);
    let other = engine.start(with_request("other", "till-8"), write()).await.unwrap();
    assert_eq!(other.id, "other");
}

#[tokio::test]
async fn what_is_too_much_is_refused_before_it_is_stored() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let tight = Limits {
        active_runs: 1,
        waiting_runs: 1,
        waiting_runs_per_caller: 1,
        findings: 10,
        computations: 1,
        threads: 2,
    };
    let engine = bench.engine(gated(&gate, 0), tight).await;
    let refused = engine.start(start_run("big", &input(11, 1)), write()).await;
    assert!(matches!(refused, Err(RunError::TooLarge { given: 11, limit: 10 })), "{refused:?}");
    engine.start(start_run("r1", &input(1, 1)), write()).await.unwrap();
    gate.somebody_waits().await;
    engine.start(start_run("r2", &input(1, 1)), write()).await.unwrap();
    let refused = engine.start(start_run("r3", &input(1, 1)), write()).await;
    assert!(matches!(refused, Err(RunError::TooManyRuns { waiting: 1, limit: 1 })), "{refused:?}");
    let busy = Arc::clone(&gate);
    let first = engine.compute("a", move |_| busy.pass());
    let second = async {
        gate.somebody_waits().await;
        let refused = engine.compute("a", |_| ()).await;
        gate.open();
        refused
    };
    let (first, second) = tokio::join!(first, second);
    assert!(first.is_ok());
    assert!(matches!(second, Err(RunError::Busy { limit: 1 })), "{second:?}");
    assert!(engine.shutdown(Duration::from_secs(20)).await);
    let refused = engine.start(start_run("r4", &input(1, 1)), write()).await;
    assert!(matches!(refused, Err(RunError::Stopping)), "{refused:?}");
    let mut ids: Vec<_> =
        bench.store().await.list_runs(None, 10).await.unwrap().into_iter().map(|run| run.id).collect();
    ids.sort();
    assert_eq!(ids, ["r1", "r2"]);
}

#[tokio::test]
async fn one_caller_cannot_take_every_turn() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let tight = Limits { active_runs: 1, waiting_runs: 2, waiting_runs_per_caller: 1, ..limits(1) };
    let engine = bench.engine(gated(&gate, 0), tight).await;
    let other = || Write { actor: "other".to_owned(), ..write() };
    engine.start(start_run("r1", &input(1, 1)), write()).await.unwrap();
    gate.somebody_waits().await;
    engine.start(start_run("r2", &input(1, 1)), write()).await.unwrap();
    let refused = engine.start(start_run("r3", &input(1, 1)), write()).await;
    assert!(matches!(refused, Err(RunError::TooManyOwnRuns { waiting: 1, limit: 1 })), "{refused:?}");
    engine.start(start_run("r4", &input(1, 1)), other()).await.unwrap();
    let refused = engine.start(start_run("r5", &input(1, 1)), other()).await;
    assert!(matches!(refused, Err(RunError::TooManyRuns { waiting: 2, limit: 2 })), "{refused:?}");
    gate.open();
    assert!(engine.shutdown(Duration::from_secs(20)).await);
}

#[tokio::test]
async fn watchers_see_counts_rise_to_the_end() {
    let bench = Bench::new();
    let engine = bench.engine(kernel(|_| std::thread::sleep(Duration::from_micros(200))), limits(2)).await;
    engine.start(start_run("r1", &input(400, 2)), write()).await.unwrap();
    let mut progress = engine.watch("r1").unwrap();
    let mut seen = vec![*progress.borrow_and_update()];
    while tokio::time::timeout(Duration::from_secs(30), progress.changed()).await.unwrap().is_ok() {
        let now = *progress.borrow_and_update();
        seen.push(now);
        if now.stage == Stage::Ended {
            break;
        }
    }
    assert!(seen.windows(2).all(|pair| pair[0].findings_done <= pair[1].findings_done), "{seen:?}");
    assert_eq!(seen.last().map(|last| (last.stage, last.findings_done)), Some((Stage::Ended, 800)));
    assert!(seen.len() > 2, "{seen:?}");
    assert!(engine.watch("nobody").is_none());
}

#[tokio::test]
async fn a_start_that_nobody_waits_for_is_not_lost() {
    let bench = Bench::new();
    let engine: RunEngine = bench.engine(calm(), limits(1)).await;
    let store = bench.store().await;
    let run = start_run("r1", &input(5, 1));
    // Polled once, then dropped, as when a caller goes away.
    let outcome = tokio::time::timeout(Duration::ZERO, engine.start(run, write())).await;
    if outcome.is_err() {
        let from = Instant::now();
        while store.run("r1").await.is_err() {
            assert!(from.elapsed() < Duration::from_secs(30));
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    }
    let from = Instant::now();
    while store.run("r1").await.unwrap().state != RunState::Succeeded {
        assert!(from.elapsed() < Duration::from_secs(30));
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    let missing = engine.cancel("nobody", &write()).await;
    assert!(matches!(missing, Err(RunError::Store(StoreError::NotFound { .. }))));
    assert_eq!(id("r1").as_str(), "r1");
}

#[tokio::test]
async fn a_computation_that_nobody_waits_for_keeps_its_place_until_its_thread_is_free() {
    let bench = Bench::new();
    let gate = Arc::new(Gate::default());
    let engine = bench.engine(calm(), Limits { computations: 1, ..limits(1) }).await;
    let left = tokio::spawn({
        let (engine, gate) = (engine.clone(), Arc::clone(&gate));
        async move { engine.compute("a", move |_| gate.pass()).await }
    });
    gate.somebody_waits().await;
    left.abort();
    assert!(left.await.unwrap_err().is_cancelled());
    assert_eq!(engine.load().computations, 1);
    assert!(matches!(engine.compute("a", |_| ()).await, Err(RunError::Busy { limit: 1 })));
    gate.open();
    let from = Instant::now();
    while engine.load().computations > 0 {
        assert!(from.elapsed() < Duration::from_secs(30), "its place is never free");
        tokio::task::yield_now().await;
    }
    engine.compute("a", |_| ()).await.unwrap();
}
