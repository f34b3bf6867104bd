//! WatchRun: where a run stands, until it ends, the caller goes, or the service stops.

use std::sync::Arc;

use catalog::StoredRun;
use proto::v1;
use runs::Progress;
use tokio::sync::watch::Receiver;
use tonic::Status;
use tonic::codegen::BoxStream;

use super::stored::run_message;
use crate::ahead::ahead;
use crate::context::Shared;
use crate::error::Error;

/// What the next message is made from.
enum Next {
    /// The run as it stands, then its changes.
    First(Box<StoredRun>),
    /// After a change.
    Change,
    /// Nothing more.
    Done,
}

/// The first message tells where the run stands; the last one that it has ended.
pub(super) fn watch(shared: Arc<Shared>, run: StoredRun) -> BoxStream<v1::WatchRunResponse> {
    let id = run.id.clone();
    // Subscribed before the run is read again, so that no change falls between.
    let changes = shared.context.engine.watch(&id);
    let start = (shared, id, changes, Next::First(Box::new(run)));
    let stream = futures::stream::unfold(start, |(shared, id, mut changes, next)| async move {
        let answer = match next {
            Next::Done => return None,
            Next::First(run) => Ok(*run),
            Next::Change => changed(&shared, &id, &mut changes).await,
        };
        let (item, next) = match answer {
            Ok(run) => {
                let next = if run.state.is_final() { Next::Done } else { Next::Change };
                let message = run_message(&run).map(|run| v1::WatchRunResponse { run: Some(run) });
                (message.map_err(Status::from), next)
            }
            Err(error) => (Err(Status::from(error)), Next::Done),
        };
        Some((item, (shared, id, changes, next)))
    });
    ahead(stream)
}

/// The run after its next change.
async fn changed(shared: &Shared, id: &str, changes: &mut Option<Receiver<Progress>>) -> Result<StoredRun, Error> {
    if changes.is_none() {
        *changes = shared.context.engine.watch(id);
    }
    if let Some(receiver) = changes {
        tokio::select! {
            // A sender that is gone means that the run has ended; the store knows how.
            _ = receiver.changed() => {}
            () = shared.context.engine.stopping() => return Err(Error::ShuttingDown),
        }
    }
    let run = shared.store().run(id).await?;
    if changes.is_none() && !run.state.is_final() {
        // Nobody works on it and it has not ended: it waits for a restart of the service.
        return Err(Error::ShuttingDown);
    }
    Ok(run)
}
