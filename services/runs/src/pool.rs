//! A bounded pool of compute threads beside the async ones.

use std::any::Any;
use std::future::Future;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::sync::Arc;

use tokio::sync::oneshot;

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

/// The result of work that has been handed over. Dropping it tells the work that it is not wanted any more.
pub(crate) type Pending<T> = Pin<Box<dyn Future<Output = Result<T, ComputeError>> + Send>>;

/// Asks whether anybody still waits for the work in hand; long work asks now and then.
pub type Wanted<'a> = &'a (dyn Fn() -> bool + Sync);

impl Pool {
    /// A pool of that many threads, at least one.
    pub(crate) fn new(threads: usize) -> Result<Self, rayon::ThreadPoolBuildError> {
        let threads = rayon::ThreadPoolBuilder::new()
            .num_threads(threads.max(1))
            .thread_name(|index| format!("compute-{index}"))
            .build()?;
        Ok(Self { threads: Arc::new(threads) })
    }

    /// Hands `work` over at once; the future waits for its result. A panic comes back as an error: it must not reach the
    /// pool, which would abort the process.
    pub(crate) fn start<T: Send + 'static>(&self, work: impl FnOnce(Wanted<'_>) -> T + Send + 'static) -> Pending<T> {
        let (sender, receiver) = oneshot::channel();
        self.threads.spawn(move || {
            if sender.is_closed() {
                return;
            }
            let result = catch_unwind(AssertUnwindSafe(|| work(&|| !sender.is_closed())))
                .map_err(|panic| ComputeError::Panicked(said(panic.as_ref())));
            // Nobody waits any more: the result is not wanted.
            let _ = sender.send(result);
        });
        Box::pin(async move { receiver.await.unwrap_or(Err(ComputeError::Gone)) })
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
    async fn work_hears_that_it_is_not_wanted_any_more() {
        let pool = Pool::new(1).unwrap();
        let (began, begun) = oneshot::channel();
        let (ended, end) = oneshot::channel();
        let pending = pool.start(move |wanted| {
            let _ = began.send(());
            while wanted() {
                std::thread::yield_now();
            }
            ended.send(()).ok();
        });
        begun.await.unwrap();
        drop(pending);
        tokio::time::timeout(Duration::from_secs(10), end).await.unwrap().unwrap();
    }
}
