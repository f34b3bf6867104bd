//! Streams whose next part is made while the one before is on its way, by a task of their own.
//!
//! Without it a part is made only while the caller takes: one who stops taking in the middle of a page keeps what the page is read
//! with, and a few such callers everything.

use futures::{Stream, StreamExt as _};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tonic::Status;
use tonic::codegen::BoxStream;
use tracing::Instrument as _;

use crate::error::Error;

/// The stream, one part ahead of its caller. Dropping it ends the task.
pub(crate) fn ahead<T: Send + 'static>(source: impl Stream<Item = Result<T, Status>> + Send + 'static) -> BoxStream<T> {
    let (sender, receiver) = mpsc::channel(1);
    let work = async move {
        let mut source = std::pin::pin!(source);
        while let Some(part) = source.next().await {
            if sender.send(part).await.is_err() {
                return;
            }
        }
    };
    let task = Task(tokio::spawn(work.in_current_span()));
    let parts = futures::stream::unfold(Some((receiver, task)), |state| async move {
        let (mut receiver, mut task) = state?;
        match receiver.recv().await {
            Some(part) => Some((part, Some((receiver, task)))),
            // A task that panicked has not come to the end of its stream.
            None => (&mut task.0).await.err().map(|lost| (Err(Error::internal(lost).into()), None)),
        }
    });
    Box::pin(parts)
}

struct Task(JoinHandle<()>);

impl Drop for Task {
    fn drop(&mut self) {
        self.0.abort();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    fn counted(made: &Arc<AtomicUsize>) -> impl Stream<Item = Result<usize, Status>> + Send + 'static {
        let made = Arc::clone(made);
        futures::stream::iter(0..10).map(move |part| {
            made.fetch_add(1, Ordering::SeqCst);
            Ok(part)
        })
    }

    #[tokio::test]
    async fn parts_are_made_without_a_caller_who_takes_them_and_not_far_ahead() {
        let made = Arc::new(AtomicUsize::new(0));
        let mut stream = ahead(counted(&made));
        for _ in 0..100 {
            tokio::task::yield_now().await;
        }
        assert_eq!(made.load(Ordering::SeqCst), 2, "one in the channel, one in hand");
        let mut taken = Vec::new();
        while let Some(part) = stream.next().await {
            taken.push(part.unwrap());
        }
        assert_eq!(taken, (0..10).collect::<Vec<_>>());
    }

    #[tokio::test]
    async fn a_panic_is_no_end_of_the_stream() {
        let source = futures::stream::iter(0..3).map(|part| {
            assert!(part < 1, "no such part");
            Ok(part)
        });
        let parts: Vec<_> = ahead(source).collect().await;
        assert!(
            matches!(parts.as_slice(), [Ok(0), Err(status)] if status.code() == tonic::Code::Internal),
            "{parts:?}"
        );
    }
}
