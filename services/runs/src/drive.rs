//! One run from its first chunk to its end.

use std::collections::VecDeque;
use std::ops::Range;
use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use std::time::{Duration, Instant};

use blake3::Hash;
use catalog::{FindingsQuery, RunState, StoreError, StoredRun};
use domain::Cancel;
use domain::selection::{Finding, RunInput};
use futures::FutureExt as _;
use rayon::prelude::*;
use tokio::sync::watch;
use tokio_util::sync::CancellationToken;
use tracing::{Instrument as _, Span};

use crate::chunks::spots_of;
use crate::hash::{result_hash, spot_digest};
use crate::inner::Inner;
use crate::kernel::Evaluator;
use crate::observer::ChunkEnd;
use crate::pool::{ComputeError, Pending, said};
use crate::progress::{Progress, Stage};
use crate::timings::RunTimings;

/// Chunks that are computed while one is being stored.
const AHEAD: usize = 2;
/// How long to wait before a chunk is stored again after another program held the database.
const LOCKED_PAUSE: Duration = Duration::from_millis(500);

/// A run to be worked on.
pub(crate) struct Job {
    pub(crate) run: StoredRun,
    /// Who started it; empty where it was taken up again.
    pub(crate) caller: String,
    /// What it is computed from; read from the store where it is not at hand.
    pub(crate) input: Option<Arc<RunInput>>,
    /// Cancelled when the run is to be cancelled, or the engine to stop.
    pub(crate) cancel: CancellationToken,
    pub(crate) progress: watch::Sender<Progress>,
}

/// How the work on a run ended.
enum End {
    /// All findings are stored; this is their hash.
    Succeeded(String),
    /// It cannot go on.
    Failed(String),
    /// It was told to stop.
    Stopped,
}

/// Why the work cannot go on.
#[derive(Debug, thiserror::Error)]
enum Fault {
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    ComputeError(#[from] ComputeError),
    #[error("{0}")]
    Kernel(String),
}

/// Works on a run and writes its end. A run that is stopped because the engine stops keeps its state and goes on at the
/// next start.
pub(crate) async fn drive(engine: &Inner, job: Job) {
    let mut spent = RunTimings::default();
    let end = match AssertUnwindSafe(work(engine, &job, &mut spent)).catch_unwind().await {
        Ok(Ok(end)) => end,
        Ok(Err(fault)) => End::Failed(fault.to_string()),
        Err(panic) => End::Failed(ComputeError::Panicked(said(panic.as_ref())).to_string()),
    };
    let (state, error, hash) = match end {
        End::Succeeded(hash) => (RunState::Succeeded, String::new(), hash),
        End::Failed(error) => {
            tracing::error!(run = %job.run.id, %error, "run failed");
            (RunState::Failed, error, String::new())
        }
        End::Stopped if engine.stopping.is_cancelled() && !asked_to_cancel(engine, &job.run).await => return,
        End::Stopped => (RunState::Cancelled, String::new(), String::new()),
    };
    let written = engine.store.finish_run(&job.run, state, &error, &hash, engine.clock.now()).await;
    if let Err(fault) = written {
        tracing::error!(run = %job.run.id, %fault, "the end of the run could not be stored; it goes on at the next start");
        return;
    }
    spent.tell(state, engine.observer());
}

/// A stop may come from a cancellation and from the end of the service at once; the store remembers the first.
async fn asked_to_cancel(engine: &Inner, run: &StoredRun) -> bool {
    engine.store.run(&run.id).await.is_ok_and(|run| run.cancel_requested)
}

async fn work(engine: &Inner, job: &Job, spent: &mut RunTimings) -> Result<End, Fault> {
    let began = Instant::now();
    let turn = tokio::select! {
        turn = engine.turns.take(&job.caller) => turn,
        () = job.cancel.cancelled() => return Ok(End::Stopped),
    };
    if turn.is_err() || job.cancel.is_cancelled() {
        return Ok(End::Stopped);
    }
    spent.waiting = began.elapsed();
    engine.store.begin_run(&job.run, engine.clock.now()).await?;
    job.progress.send_modify(|progress| progress.stage = Stage::Running);
    let input = match &job.input {
        Some(input) => Arc::clone(input),
        None => Arc::new(engine.store.run_input(&job.run.id).await?),
    };
    let kernel = Arc::clone(&engine.kernel);
    let began = Instant::now();
    let preparing = tracing::info_span!("prepare");
    let prepared = engine.pool.start(move |cancel| preparing.in_scope(|| kernel(&input, cancel)));
    let Some(prepared) = unless_cancelled(engine, job, prepared).await else { return Ok(End::Stopped) };
    let evaluator = prepared?.map_err(Fault::Kernel)?;
    spent.preparing = began.elapsed();
    let mut digests = Digests::of_stored(engine, &job.run).await?;
    let remaining = digests.remaining();
    let all = chunks(engine, job, &Arc::new(evaluator), remaining, (&mut digests, spent)).await?;
    Ok(if all { End::Succeeded(digests.result()?) } else { End::Stopped })
}

/// Computes and stores chunks; says whether it came to the last one. While one is being stored, the next are computed.
async fn chunks(
    engine: &Inner,
    job: &Job,
    evaluator: &Arc<Evaluator>,
    remaining: Vec<u32>,
    (digests, spent): (&mut Digests, &mut RunTimings),
) -> Result<bool, Fault> {
    let mut ahead: VecDeque<(u32, Span, Pending<Timed>)> = VecDeque::with_capacity(AHEAD);
    let mut remaining = remaining.into_iter();
    loop {
        while ahead.len() < AHEAD
            && let Some(chunk) = remaining.next()
        {
            let spots = spots_of(chunk, job.run.chunk_spots, job.run.spot_count);
            let evaluator = Arc::clone(evaluator);
            let span = tracing::info_span!("chunk", chunk);
            let inside = span.clone();
            let work = move |cancel: &Cancel| {
                let _inside = tracing::info_span!(parent: &inside, "compute").entered();
                let began = Instant::now();
                (compute(&evaluator, spots, cancel), began.elapsed())
            };
            ahead.push_back((chunk, span, engine.pool.start(work)));
        }
        let Some((chunk, span, pending)) = ahead.pop_front() else { return Ok(true) };
        let Some(computed) = unless_cancelled(engine, job, pending).await else { return Ok(false) };
        let (computed, computing) = computed?;
        let (findings, computed) = computed.map_err(Fault::Kernel)?;
        let began = Instant::now();
        let storing = tracing::info_span!(parent: &span, "store");
        save(engine, job, chunk, &findings).instrument(storing).await?;
        let count = u64::try_from(findings.len()).unwrap_or(u64::MAX);
        let end = ChunkEnd { findings: count, computing, storing: began.elapsed() };
        spent.chunk(&span, &end, engine.observer());
        job.progress.send_modify(|progress| progress.findings_done = progress.findings_done.saturating_add(count));
        digests.set(chunk, computed);
        if job.cancel.is_cancelled() {
            return Ok(ahead.is_empty() && remaining.len() == 0);
        }
    }
}

/// What was waited for, or nothing where the run is to be cancelled: then it is let go, which stops its thread. A service that stops
/// waits, so that the next start does not do the same again.
async fn unless_cancelled<T>(engine: &Inner, job: &Job, work: Pending<T>) -> Option<Result<T, ComputeError>> {
    let cancelled = async {
        job.cancel.cancelled().await;
        if engine.stopping.is_cancelled() {
            std::future::pending::<()>().await;
        }
    };
    tokio::select! {
        biased;
        done = work => Some(done),
        () = cancelled => None,
    }
}

/// What a computation gave, and how long it took.
type Timed = (Computed, Duration);

/// Findings of a chunk in order, and the digest of each of its spots.
type Computed = Result<(Vec<Finding>, Vec<Hash>), String>;

fn compute(evaluator: &Evaluator, spots: Range<usize>, cancel: &Cancel) -> Computed {
    let per_spot: Vec<_> = spots
        .into_par_iter()
        .map(|spot| {
            cancel.check().map_err(|cancelled| cancelled.to_string())?;
            let mut findings = evaluator(spot, cancel)?;
            in_order(&mut findings);
            let digest = spot_digest(&findings);
            Ok((findings, digest))
        })
        .collect::<Result<_, String>>()?;
    let digests = per_spot.iter().map(|(_, digest)| *digest).collect();
    Ok((per_spot.into_iter().flat_map(|(findings, _)| findings).collect(), digests))
}

/// The order in which the findings of a spot are given out and hashed.
fn in_order(findings: &mut [Finding]) {
    findings.sort_by_key(|finding| (finding.spot, finding.rank, finding.option));
}

/// Stores a chunk. Another program that holds the database only delays it, until the run is to stop anyway.
async fn save(engine: &Inner, job: &Job, chunk: u32, findings: &[Finding]) -> Result<(), StoreError> {
    loop {
        match engine.store.save_chunk(&job.run, chunk, findings).await {
            Err(fault @ (StoreError::Locked { .. } | StoreError::Busy)) if !job.cancel.is_cancelled() => {
                tracing::warn!(run = %job.run.id, %fault, "a chunk could not be stored yet; trying again");
                tokio::time::sleep(LOCKED_PAUSE).await;
            }
            other => return other,
        }
    }
}

/// The digests of a run's spots, as far as they are stored, chunk by chunk.
struct Digests {
    chunks: Vec<Option<Vec<Hash>>>,
}

impl Digests {
    /// Those of the chunks that are stored already; after a restart they are taken from the stored findings themselves.
    async fn of_stored(engine: &Inner, run: &StoredRun) -> Result<Self, Fault> {
        let mut digests = Self { chunks: (0..run.chunk_count()).map(|_| None).collect() };
        for chunk in engine.store.done_chunks(run).await? {
            let mut of_chunk = Vec::new();
            for spot in spots_of(chunk, run.chunk_spots, run.spot_count) {
                let query = FindingsQuery { spot: Some(spot), limit: u32::MAX, ..FindingsQuery::default() };
                let mut findings = engine.store.findings(run, &query).await?;
                in_order(&mut findings);
                of_chunk.push(spot_digest(&findings));
            }
            digests.set(chunk, of_chunk);
        }
        Ok(digests)
    }

    fn set(&mut self, chunk: u32, digests: Vec<Hash>) {
        if let Some(slot) = usize::try_from(chunk).ok().and_then(|chunk| self.chunks.get_mut(chunk)) {
            *slot = Some(digests);
        }
    }

    fn remaining(&self) -> Vec<u32> {
        (0_u32..).zip(&self.chunks).filter(|(_, digests)| digests.is_none()).map(|(chunk, _)| chunk).collect()
    }

    fn result(self) -> Result<String, Fault> {
        let spots: Option<Vec<Vec<Hash>>> = self.chunks.into_iter().collect();
        let spots = spots.ok_or_else(|| Fault::Kernel("a chunk was passed over".to_owned()))?;
        Ok(result_hash(&spots.concat()))
    }
}
