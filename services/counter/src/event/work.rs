//! Rules that are computed for a desk: started by a form, looked at until they are there, stopped on request.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use proto::v1;
use tokio::sync::watch;
use tokio::task::AbortHandle;
use tonic::Status;

use crate::client::Client;
use crate::stop::Stop;

/// So long a page waits before it says that it is computing.
const PATIENCE: Duration = Duration::from_millis(950);

/// The rules that a desk waits for.
#[derive(Default)]
pub(crate) struct Deriving(Mutex<Option<Running>>);

struct Running {
    done: watch::Receiver<Option<Result<String, Status>>>,
    task: AbortHandle,
    since: Instant,
}

/// How far it is.
pub(super) enum State {
    Nothing,
    Computing {
        since: Duration,
    },
    /// Name of the rules.
    Done(String),
}

impl Deriving {
    /// Starts, and ends what was computed before.
    pub(super) fn start(&self, client: Client, spec: v1::RulesSpec) {
        let (sender, done) = watch::channel(None);
        let work = async move {
            let request = v1::DeriveShelterRulesRequest { spec: Some(spec) };
            let answer = client.rules().derive_shelter_rules(request).await;
            sender.send_replace(Some(answer.map(|rules| rules.into_inner().name)));
        };
        let task = tokio::spawn(work).abort_handle();
        *self.lock() = Some(Running { done, task, since: Instant::now() });
    }

    pub(super) fn stop(&self) {
        *self.lock() = None;
    }

    /// Waits for as long as a page does.
    pub(super) async fn state(&self) -> Result<State, Stop> {
        let (mut done, since) = match &*self.lock() {
            Some(running) => (running.done.clone(), running.since),
            None => return Ok(State::Nothing),
        };
        let ended = tokio::time::timeout(PATIENCE, done.wait_for(Option::is_some)).await;
        let answer = match ended {
            Ok(Ok(answer)) => answer.clone(),
            Ok(Err(_)) => None,
            Err(_) => return Ok(State::Computing { since: since.elapsed() }),
        };
        self.stop();
        match answer {
            Some(answer) => Ok(State::Done(answer?)),
            None => Ok(State::Nothing),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Option<Running>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Nobody waits for it any more.
impl Drop for Running {
    fn drop(&mut self) {
        self.task.abort();
    }
}
