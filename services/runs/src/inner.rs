//! What an engine holds while it works.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use catalog::Store;
use tokio::sync::watch;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use crate::clock::Clock;
use crate::kernel::Kernel;
use crate::observer::Observer;
use crate::pool::{FreePools, Pool};
use crate::progress::Progress;
use crate::turns::Turns;

/// What bounds the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Compute threads.
    pub threads: usize,
    /// Runs that are worked on at once.
    pub active_runs: usize,
    /// Runs that may wait for their turn.
    pub waiting_runs: usize,
    /// Runs of one caller that may wait for their turn.
    pub waiting_runs_per_caller: usize,
    /// Findings that one run may hold.
    pub findings: u64,
    /// Computations besides runs that may be in hand at once.
    pub computations: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            threads: std::thread::available_parallelism().map_or(1, std::num::NonZero::get),
            // A second run keeps the threads busy while the first one's chunk is being stored.
            active_runs: 2,
            waiting_runs: 64,
            waiting_runs_per_caller: 32,
            findings: 2_000_000,
            computations: 64,
        }
    }
}

/// What all clones of an engine share.
pub(crate) struct Inner {
    pub(crate) store: Store,
    pub(crate) limits: Limits,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) kernel: Kernel,
    pub(crate) pool: Pool,
    /// One permit a run that is worked on.
    pub(crate) turns: Arc<Turns>,
    pub(crate) computations: Arc<Turns>,
    /// For computations besides runs, one pool each: the threads of one pool help each other before they begin anything else, so
    /// that a long computation would keep short ones of others waiting.
    pub(crate) beside: FreePools,
    pub(crate) observer: OnceLock<Arc<dyn Observer>>,
    pub(crate) active: Mutex<HashMap<String, Active>>,
    /// Asks every run to stop after the chunk in hand.
    pub(crate) stopping: CancellationToken,
    /// Drops whatever is still in hand.
    pub(crate) abandon: CancellationToken,
    pub(crate) tasks: TaskTracker,
}

impl Inner {
    pub(crate) fn observer(&self) -> Option<&dyn Observer> {
        self.observer.get().map(AsRef::as_ref)
    }
}

/// A run that the engine has in hand.
#[derive(Clone)]
pub(crate) struct Active {
    /// Who started it; none for a run that was taken up again.
    pub(crate) actor: Option<String>,
    pub(crate) cancel: CancellationToken,
    pub(crate) progress: watch::Sender<Progress>,
}
