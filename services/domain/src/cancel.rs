//! Ending long work early.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Passed to long work, which checks it now and then. Copies share one state.
#[derive(Debug, Clone)]
pub struct Cancel(Option<Arc<AtomicBool>>);

/// The work was cancelled before its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the work was cancelled")]
pub struct Cancelled;

impl Cancel {
    /// A token that is not cancelled yet.
    #[must_use]
    #[allow(clippy::new_without_default, reason = "a default would have to choose between new and never")]
    pub fn new() -> Self {
        Self(Some(Arc::default()))
    }

    /// For callers that wait to the end.
    #[must_use]
    pub const fn never() -> Self {
        Self(None)
    }

    /// Cancels the work of all that share this token.
    pub fn cancel(&self) {
        if let Some(flag) = &self.0 {
            flag.store(true, Ordering::Relaxed);
        }
    }

    /// Whether the work is cancelled.
    #[must_use]
    pub fn is_cancelled(&self) -> bool {
        self.0.as_ref().is_some_and(|flag| flag.load(Ordering::Relaxed))
    }

    /// An error once the work is cancelled.
    ///
    /// # Errors
    /// The work is cancelled.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.is_cancelled() { Err(Cancelled) } else { Ok(()) }
    }
}

/// Cancels when it is dropped: for work that ends with the call that asked for it.
#[derive(Debug)]
pub struct CancelOnDrop(pub Cancel);

impl Drop for CancelOnDrop {
    fn drop(&mut self) {
        self.0.cancel();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_are_cancelled_together_and_never_stays_open() {
        let token = Cancel::new();
        let copy = token.clone();
        let ends = CancelOnDrop(token);
        assert_eq!(copy.check(), Ok(()));
        drop(ends);
        assert_eq!(copy.check(), Err(Cancelled));
        let never = Cancel::never();
        never.cancel();
        assert_eq!(never.check(), Ok(()));
    }
}
