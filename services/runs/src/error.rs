//! Why the engine refused something.

use catalog::StoreError;

use crate::pool::ComputeError;

/// Errors of this crate.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// More findings than one run may hold.
    #[error("the run would hold {given} findings; accepted: up to {limit}; choose fewer spots or options")]
    TooLarge {
        /// Spots times options.
        given: u64,
        /// The configured limit.
        limit: u64,
    },
    /// Too many runs wait for their turn.
    #[error("{waiting} runs wait for their turn already; accepted: up to {limit}; try again when some have ended")]
    TooManyRuns {
        /// Runs that wait.
        waiting: usize,
        /// The configured limit.
        limit: usize,
    },
    /// Too many runs of one caller wait for their turn.
    #[error("{waiting} of your runs wait for their turn already, of up to {limit}; try again when one has ended")]
    TooManyOwnRuns {
        /// Runs of the caller that wait.
        waiting: usize,
        /// The configured limit.
        limit: usize,
    },
    /// Too many computations at once.
    #[error("{limit} computations are in hand already; try again in a moment")]
    Busy {
        /// The configured limit.
        limit: usize,
    },
    /// The engine is stopping.
    #[error("the service is stopping; try again when it is back")]
    Stopping,
    /// A computation gave nothing.
    #[error(transparent)]
    ComputeError(#[from] ComputeError),
    /// The compute threads could not be started.
    #[error("the compute threads could not be started: {0}; allow the process more threads")]
    Threads(#[from] rayon::ThreadPoolBuildError),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}
