//! Where a run stands, as its watchers see it.

/// Where a run stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Its state.
    pub stage: Stage,
    /// Findings stored so far.
    pub findings_done: u64,
}

/// Stages of a run that the engine has in hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Waits for its turn.
    Waiting,
    /// Being computed.
    Running,
    /// Ended; the store has its outcome.
    Ended,
}
