//! A bounded pool of compute threads beside the async ones.

use std::any::Any;
use std::future::Future;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};

use domain::{Cancel, CancelOnDrop};
use tokio::sync::oneshot;

use crate::turns::Turn;

/// By how much the compute threads give way to those that take calls and answer them, as the operating system counts it: a short call is answered beside any number of
/// computations, which have the processors for themselves where there is nothing to answer.
const GIVES_WAY: i32 = 10;

/// Compute threads.
#[derive(Debug, Clone)]
pub(crate) struct Pool {
    threads: Arc<rayon::ThreadPool>,
}

/// Why a piece of work gave nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ComputeError {
    /// It panicked, with this text.
    #[error("a computation panicked: {0}")]
    Panicked(String),
    /// The pool went away under it.
    #[error("the compute threads are gone")]
    Gone,
}

/// The result of work that has been handed over. Dropping it cancels the work.
pub(crate) type Pending<T> = Pin<Box<dyn Future<Output = Result<T, ComputeError>> + Send>>;

impl Pool {
    /// A pool of that many threads, at least one.
    pub(crate) fn new(threads: usize) -> Result<Self, rayon::ThreadPoolBuildError> {
        let threads = rayon::ThreadPoolBuilder::new()
            .num_threads(threads.max(1))
            .thread_name(|index| format!("compute-{index}"))
            // Without it all goes on as before, only less evenly.
            .start_handler(|_| {
                let _ = rustix::process::nice(GIVES_WAY);
            })
            .build()?;
        Ok(Self { threads: Arc::new(threads) })
    }

    /// Hands `work` over at once; the future waits for its result. A panic comes back as an error: it must not reach the
    /// pool, which would abort the process.
    pub(crate) fn start<T: Send + 'static>(&self, work: impl FnOnce(&Cancel) -> T + Send + 'static) -> Pending<T> {
        let (sender, receiver) = oneshot::channel();
        let cancel = Cancel::new();
        let dropped = CancelOnDrop(cancel.clone());
        self.threads.spawn(move || {
            if cancel.is_cancelled() {
                return;
            }
            let result = catch_unwind(AssertUnwindSafe(|| work(&cancel)))
                .map_err(|panic| ComputeError::Panicked(said(panic.as_ref())));
            // The caller may have left; its result is then dropped.
            let _ = sender.send(result);
        });
        Box::pin(async move {
            let _dropped = dropped;
            receiver.await.unwrap_or(Err(ComputeError::Gone))
        })
    }
}

/// Pools of which each works for one caller at a time.
#[derive(Debug, Clone)]
pub(crate) struct FreePools(Arc<Mutex<Vec<Pool>>>);

/// A pool with its caller's turn; both are given back when this is dropped, the pool first.
pub(crate) struct Seat {
    pub(crate) pool: Pool,
    free: FreePools,
    _turn: Turn,
}

impl FreePools {
    pub(crate) fn new(pools: Vec<Pool>) -> Self {
        Self(Arc::new(Mutex::new(pools)))
    }

    /// A pool for whoever has a turn; there are as many pools as turns.
    pub(crate) fn seat(&self, turn: Turn) -> Result<Seat, ComputeError> {
        let pool = self.0.lock().unwrap_or_else(PoisonError::into_inner).pop().ok_or(ComputeError::Gone)?;
        Ok(Seat { pool, free: self.clone(), _turn: turn })
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.free.0.lock().unwrap_or_else(PoisonError::into_inner).push(self.pool.clone());
    }
}

/// What a panic said.
pub(crate) fn said(panic: &(dyn Any + Send)) -> String {
    panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "no text".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[tokio::test]
    async fn a_panic_ends_its_own_work_and_no_other() {
        let pool = Pool::new(1).unwrap();
        let first = pool.start(|_| -> u32 { panic!("no such depth") });
        let second = pool.start(|_| 7);
        assert_eq!(first.await, Err(ComputeError::Panicked("no such depth".to_owned())));
        assert_eq!(second.await, Ok(7));
    }

    #[tokio::test]
    async fn dropping_the_result_cancels_the_work() {
        let pool = Pool::new(1).unwrap();
        let (began, begun) = oneshot::channel();
        let (ended, end) = oneshot::channel();
        let pending = pool.start(move |cancel: &Cancel| {
            let _ = began.send(());
            while !cancel.is_cancelled() {
                std::thread::yield_now();
            }
            ended.send(()).ok();
        });
        begun.await.unwrap();
        drop(pending);
        tokio::time::timeout(Duration::from_secs(10), end).await.unwrap().unwrap();
    }
}
