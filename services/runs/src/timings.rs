//! Where the time of a run went, for whoever asks why it is slow.

use std::time::Duration;

use catalog::RunState;
use tracing::Span;

use crate::observer::{ChunkEnd, Observer, RunEnd};

/// The time that a run has taken so far in this process.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct RunTimings {
    /// Until it was its turn.
    pub(crate) waiting: Duration,
    /// On what its spots share.
    pub(crate) preparing: Duration,
    computing: Duration,
    storing: Duration,
    chunks: u32,
}

impl RunTimings {
    /// Adds a chunk, and tells of it. Chunks are computed while others are stored, so the sums may exceed the time on the clock.
    pub(crate) fn chunk(&mut self, span: &Span, end: &ChunkEnd, observer: Option<&dyn Observer>) {
        let ChunkEnd { findings: _, computing, storing } = *end;
        if let Some(observer) = observer {
            observer.chunk(end);
        }
        self.chunks += 1;
        self.computing += computing;
        self.storing += storing;
        let (compute_ms, store_ms) = (computing.as_millis(), storing.as_millis());
        tracing::debug!(parent: span, compute_ms, store_ms, "chunk done");
    }

    /// Tells the sums at the end of the run.
    pub(crate) fn tell(&self, state: RunState, observer: Option<&dyn Observer>) {
        if let Some(observer) = observer {
            observer.run(&RunEnd { state, waiting: self.waiting, preparing: self.preparing });
        }
        tracing::info!(
            ?state,
            chunks = self.chunks,
            wait_ms = self.waiting.as_millis(),
            prepare_ms = self.preparing.as_millis(),
            compute_ms = self.computing.as_millis(),
            store_ms = self.storing.as_millis(),
            "run ended"
        );
    }
}
