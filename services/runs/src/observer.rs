//! What whoever counts hears of the engine.

use std::time::Duration;

use catalog::RunState;

/// A chunk that is computed and stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChunkEnd {
    /// Findings in it.
    pub findings: u64,
    /// Time on the compute threads.
    pub computing: Duration,
    /// Time until it was committed.
    pub storing: Duration,
}

/// A run that ended in this process.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunEnd {
    /// How.
    pub state: RunState,
    /// Until it was its turn.
    pub waiting: Duration,
    /// On what its spots share.
    pub preparing: Duration,
}

/// Counts what the engine does. It is told in the middle of a run, so it must be quick.
pub trait Observer: Send + Sync {
    /// A chunk was stored.
    fn chunk(&self, chunk: &ChunkEnd);

    /// A run ended; not told where the service stops and the run goes on at the next start.
    fn run(&self, run: &RunEnd);
}

/// What the engine has in hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Load {
    /// Runs that wait for their turn.
    pub waiting_runs: usize,
    /// Runs that are worked on.
    pub active_runs: usize,
    /// Computations besides runs, each until its thread is free again, whoever may have gone away.
    pub computations: usize,
}
