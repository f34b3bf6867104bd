//! Starting, resuming, watching, cancelling and stopping runs.

use domain::Cancel;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use catalog::{NewRun, RunState, Store, StoreError, StoredRun, Write};
use domain::selection::RunInput;
use tokio::sync::watch;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tracing::Instrument as _;

use crate::chunks::spots_per_chunk;
use crate::clock::Clock;
use crate::drive;
use crate::error::RunError;
use crate::inner::{Active, Inner, Limits};
use crate::kernel::Kernel;
use crate::observer::{Load, Observer};
use crate::pool::{FreePools, Pool};
use crate::progress::{Progress, Stage};
use crate::turns::Turns;

/// Most computations besides runs at once.
const MOST_POOLS: usize = 8;
/// How long `cancel` waits for the end of the run, which a chunk that is being stored may hold up.
const CANCEL_PATIENCE: Duration = Duration::from_secs(5);

/// A run to be started.
#[derive(Debug, Clone)]
pub struct StartRun {
    /// Id of the run.
    pub id: String,
    /// The caller's own name for the request, if any: a second one with it gives the run of the first.
    pub request_id: Option<String>,
    /// What was asked, in a form of the caller's.
    pub spec: Vec<u8>,
    /// Everything it is computed from.
    pub input: RunInput,
}

/// The engine. Cheap to clone; all clones are the same engine.
#[derive(Clone)]
pub struct RunEngine {
    pub(crate) inner: Arc<Inner>,
}

impl RunEngine {
    /// An engine over a store. It works on nothing until a run is started or `resume_all` is called.
    ///
    /// # Errors
    /// The compute threads cannot be started.
    pub fn new(store: Store, kernel: Kernel, limits: Limits, clock: Arc<dyn Clock>) -> Result<Self, RunError> {
        let at_once = (2 * limits.threads).min(limits.computations).clamp(1, MOST_POOLS);
        let inner = Inner {
            pool: Pool::new(limits.threads)?,
            beside: FreePools::new((0..at_once).map(|_| Pool::new(limits.threads)).collect::<Result<_, _>>()?),
            turns: Turns::new(limits.active_runs, limits.active_runs, usize::MAX),
            computations: Turns::new(at_once, at_once.div_ceil(2), limits.computations.saturating_sub(at_once)),
            observer: OnceLock::new(),
            store,
            limits,
            clock,
            kernel,
            active: Mutex::new(HashMap::new()),
            stopping: CancellationToken::new(),
            abandon: CancellationToken::new(),
            tasks: TaskTracker::new(),
        };
        Ok(Self { inner: Arc::new(inner) })
    }

    /// Tells `observer` of every chunk and run from now on. Only the first one is told.
    pub fn tell(&self, observer: Arc<dyn Observer>) {
        let _ = self.inner.observer.set(observer);
    }

    /// What is in hand at this moment.
    #[must_use]
    pub fn load(&self) -> Load {
        let (mut waiting_runs, mut active_runs) = (0, 0);
        for run in self.lock().values() {
            match run.progress.borrow().stage {
                Stage::Waiting => waiting_runs += 1,
                Stage::Running => active_runs += 1,
                Stage::Ended => {}
            }
        }
        let computations = self.inner.computations.taken();
        Load { waiting_runs, active_runs, computations }
    }

    /// Stores a run and starts it; it is committed when this returns. The run of an earlier request with the same
    /// `request_id` comes back as it is.
    ///
    /// # Errors
    /// The run is too large, too many wait, the engine is stopping, or the store fails.
    pub async fn start(&self, run: StartRun, write: Write) -> Result<StoredRun, RunError> {
        if let Some(request_id) = &run.request_id
            && let Some(earlier) = self.inner.store.run_by_request_id(request_id).await?
        {
            return Ok(earlier);
        }
        self.check_room(&run.input, &write.actor)?;
        // In a task of its own: a caller that goes away between the commit and the start must not leave a run that waits
        // for the next restart.
        let engine = self.clone();
        let task = self.inner.tasks.spawn(async move { engine.store_and_launch(run, write).await });
        task.await.unwrap_or(Err(RunError::Stopping))
    }

    fn check_room(&self, input: &RunInput, actor: &str) -> Result<(), RunError> {
        let limits = &self.inner.limits;
        let given = u64::try_from(input.spots.len().saturating_mul(input.options.len())).unwrap_or(u64::MAX);
        if given > limits.findings {
            return Err(RunError::TooLarge { given, limit: limits.findings });
        }
        if self.inner.stopping.is_cancelled() {
            return Err(RunError::Stopping);
        }
        let active = self.lock();
        let waiting = || active.values().filter(|run| run.progress.borrow().stage == Stage::Waiting);
        let (all, own) = (waiting().count(), waiting().filter(|run| run.actor.as_deref() == Some(actor)).count());
        if all >= limits.waiting_runs {
            return Err(RunError::TooManyRuns { waiting: all, limit: limits.waiting_runs });
        }
        if own >= limits.waiting_runs_per_caller {
            return Err(RunError::TooManyOwnRuns { waiting: own, limit: limits.waiting_runs_per_caller });
        }
        Ok(())
    }

    async fn store_and_launch(&self, run: StartRun, write: Write) -> Result<StoredRun, RunError> {
        let StartRun { id, request_id, spec, input } = run;
        let chunk_spots = spots_per_chunk(input.options.len(), input.settings.draws);
        let new = NewRun { id, request_id: request_id.clone(), spec, input: &input, chunk_spots };
        let stored = match self.inner.store.insert_run(new, &write).await {
            Ok(stored) => stored,
            Err(StoreError::AlreadyExists { collection, id }) => {
                // Two requests with one request_id at the same time: the other one came first.
                let earlier = match &request_id {
                    Some(request_id) => self.inner.store.run_by_request_id(request_id).await?,
                    None => None,
                };
                return earlier.ok_or(RunError::Store(StoreError::AlreadyExists { collection, id }));
            }
            Err(error) => return Err(error.into()),
        };
        self.launch(stored.clone(), Some(Arc::new(input)), Some(write.actor));
        Ok(stored)
    }

    /// Takes up every run that has not ended; gives how many. Called once, at start.
    ///
    /// # Errors
    /// The store fails.
    pub async fn resume_all(&self) -> Result<usize, RunError> {
        let unfinished = self.inner.store.unfinished_runs().await?;
        let mut resumed = 0;
        for run in unfinished {
            if !self.lock().contains_key(&run.id) {
                self.launch(run, None, None);
                resumed += 1;
            }
        }
        Ok(resumed)
    }

    fn launch(&self, run: StoredRun, input: Option<Arc<RunInput>>, actor: Option<String>) {
        let cancel = self.inner.stopping.child_token();
        if run.cancel_requested {
            cancel.cancel();
        }
        let (progress, _) = watch::channel(Progress { stage: Stage::Waiting, findings_done: run.findings_done });
        self.lock().insert(
            run.id.clone(),
            Active { actor: actor.clone(), cancel: cancel.clone(), progress: progress.clone() },
        );
        let engine = self.clone();
        // A run outlives the call that started it, so its span is none of that call's.
        let span = tracing::info_span!(parent: None, "run", run = %run.id);
        span.follows_from(tracing::Span::current());
        let work = async move {
            let job = drive::Job { run, caller: actor.unwrap_or_default(), input, cancel, progress };
            let id = job.run.id.clone();
            let progress = job.progress.clone();
            tokio::select! {
                () = drive::drive(&engine.inner, job) => {}
                () = engine.inner.abandon.cancelled() => {
                    tracing::warn!(run = %id, "stopped in the middle of a chunk; it is done again at the next start");
                }
            }
            // The store has the outcome before anybody can miss the run here.
            engine.lock().remove(&id);
            progress.send_modify(|progress| progress.stage = Stage::Ended);
        };
        self.inner.tasks.spawn(work.instrument(span));
    }

    /// Progress of a run that is waiting or running; none for any other. The last value is `Ended`: the store then has the
    /// outcome, or, if the engine is stopping, the run goes on at the next start.
    #[must_use]
    pub fn watch(&self, id: &str) -> Option<watch::Receiver<Progress>> {
        self.lock().get(id).map(|run| run.progress.subscribe())
    }

    /// Stops a run at once, its computation included, and gives it as it then stands: chunks that are stored stay. No effect on a run that has ended.
    ///
    /// # Errors
    /// There is none, or the store fails.
    pub async fn cancel(&self, id: &str, write: &Write) -> Result<StoredRun, RunError> {
        let run = self.inner.store.run(id).await?;
        if run.state.is_final() {
            return Ok(run);
        }
        self.inner.store.request_cancel(&run, write).await?;
        let active = self.lock().get(id).cloned();
        match active {
            Some(active) => {
                active.cancel.cancel();
                let mut progress = active.progress.subscribe();
                drop(active);
                let ended = progress.wait_for(|progress| progress.stage == Stage::Ended);
                // A commit that takes longer is told of by the state that comes back.
                let _ = tokio::time::timeout(CANCEL_PATIENCE, ended).await;
            }
            // Nobody works on it, so nobody else would write its end.
            None => {
                let now = self.inner.clock.now();
                self.inner.store.finish_run(&run, RunState::Cancelled, "", "", now).await?;
            }
        }
        Ok(self.inner.store.run(id).await?)
    }

    /// Computes something on threads of the engine, once it is `caller`'s turn. Dropping the future cancels the work.
    ///
    /// # Errors
    /// Too much is in hand, or the work panicked.
    pub async fn compute<T: Send + 'static>(
        &self,
        caller: &str,
        work: impl FnOnce(&Cancel) -> T + Send + 'static,
    ) -> Result<T, RunError> {
        let limit = self.inner.limits.computations;
        let turn = self.inner.computations.take(caller).await.map_err(|_| RunError::Busy { limit })?;
        let seat = self.inner.beside.seat(turn)?;
        let pool = seat.pool.clone();
        // The place goes with the work: where the caller has gone away, the place is free only once the thread is.
        let work = move |cancel: &Cancel| {
            let _seat = seat;
            work(cancel)
        };
        Ok(pool.start(work).await?)
    }

    /// Whether the engine has been told to stop.
    #[must_use]
    pub fn is_stopping(&self) -> bool {
        self.inner.stopping.is_cancelled()
    }

    /// Resolves when the engine has been told to stop.
    pub async fn stopping(&self) {
        self.inner.stopping.cancelled().await;
    }

    /// Stops: no run is started any more, those in hand finish their chunk. What is not done after `grace` is dropped where
    /// it stands, which leaves its chunk to the next start. Says whether all came to their end in time.
    pub async fn shutdown(&self, grace: Duration) -> bool {
        self.inner.stopping.cancel();
        self.inner.tasks.close();
        let in_time = tokio::time::timeout(grace, self.inner.tasks.wait()).await.is_ok();
        self.inner.abandon.cancel();
        in_time
    }

    /// A poisoned lock only means that a thread panicked while it held the map, which is whole between any two calls on it.
    fn lock(&self) -> MutexGuard<'_, HashMap<String, Active>> {
        self.inner.active.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
