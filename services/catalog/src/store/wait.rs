//! How long writers wait for their turn, for whoever counts.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

/// Hears how long each write waited until it could begin. It is called in the middle of a write, so it must be quick.
pub type WriterWait = Box<dyn Fn(Duration) + Send + Sync>;

/// Who hears of it, if anybody does.
#[derive(Clone, Default)]
pub(crate) struct Waits(Arc<OnceLock<WriterWait>>);

impl Waits {
    /// Only the first one hears anything.
    pub(crate) fn told_to(&self, hears: WriterWait) {
        let _ = self.0.set(hears);
    }

    pub(crate) fn waited(&self, time: Duration) {
        if let Some(hears) = self.0.get() {
            hears(time);
        }
    }
}

impl std::fmt::Debug for Waits {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Waits").field("told", &self.0.get().is_some()).finish()
    }
}
