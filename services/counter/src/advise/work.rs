//! What a desk asks: one question at a time, the one before stopped; the last answers are kept for a while.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use proto::v1;
use proto::v1::recommend_response::Step;
use tokio::sync::watch;
use tokio::task::AbortHandle;
use tonic::Status;

use super::question::Question;
use crate::client::Client;
use crate::stop::Stop;

/// So long a page waits for its answer before it says that it is computing.
const PATIENCE: Duration = Duration::from_millis(950);
/// So long an answer is taken for true: others may change the shelf in the meantime.
const FRESH: Duration = Duration::from_secs(30);
/// Answers that a desk keeps.
const KEPT: usize = 8;

/// The work of a desk.
#[derive(Default)]
pub(crate) struct Work(Mutex<State>);

#[derive(Default)]
struct State {
    running: Option<Running>,
    /// The newest last.
    answers: Vec<Kept>,
    /// The question before the last one, for what has changed.
    before: Option<Kept>,
}

struct Running {
    key: String,
    steps: watch::Receiver<Progress>,
    task: AbortHandle,
}

/// An answer with its question.
#[derive(Clone)]
pub(super) struct Kept {
    key: String,
    pub(super) question: Question,
    pub(super) answer: Arc<v1::Recommendation>,
    at: Instant,
}

#[derive(Clone)]
enum Progress {
    At { done: usize, total: usize },
    Done(Arc<v1::Recommendation>),
    Failed(Status),
}

/// How far it is.
pub(super) enum Answered {
    Done(Arc<v1::Recommendation>),
    Computing { done: usize, total: usize },
}

impl Work {
    /// Asks, unless it is asked already or answered. Waits for the answer for as long as a page does.
    pub(super) async fn ask(
        &self,
        client: &Client,
        question: &Question,
        language: &str,
        request: v1::RecommendRequest,
    ) -> Result<Answered, Stop> {
        let key = format!("{language} {}", question.address());
        let steps = {
            let mut state = self.lock();
            if let Some(kept) = state.answers.iter().find(|kept| kept.key == key && kept.at.elapsed() < FRESH).cloned()
            {
                state.came(kept.clone());
                return Ok(Answered::Done(kept.answer));
            }
            match &state.running {
                Some(running) if running.key == key => running.steps.clone(),
                Some(_) | None => state.start(client, key.clone(), request),
            }
        };
        // Of a copy, as the step that it ends with is borrowed of what is waited on.
        let mut ends = steps.clone();
        let ended = tokio::time::timeout(PATIENCE, ends.wait_for(|step| !matches!(step, Progress::At { .. }))).await;
        let step = match ended {
            Ok(Ok(step)) => step.clone(),
            // The task is gone without an answer: another question of this desk took its place, or the service stops.
            Ok(Err(_)) => Progress::Failed(Status::unavailable("another question of this desk came in between")),
            Err(_) => steps.borrow().clone(),
        };
        match step {
            Progress::At { done, total } => Ok(Answered::Computing { done, total }),
            Progress::Failed(status) => {
                self.forget(&key);
                Err(status.into())
            }
            Progress::Done(answer) => {
                let kept = Kept { key, question: question.clone(), answer: Arc::clone(&answer), at: Instant::now() };
                self.lock().came(kept);
                Ok(Answered::Done(answer))
            }
        }
    }

    /// Stops what is computed.
    pub(super) fn stop(&self) {
        self.lock().running = None;
    }

    /// Answers no longer hold: this desk has changed the shelf.
    pub(crate) fn forget_answers(&self) {
        self.lock().answers.clear();
    }

    /// The last answer.
    pub(super) fn last(&self) -> Option<Kept> {
        self.lock().answers.last().cloned()
    }

    /// The answer before the last one, where its question was another.
    pub(super) fn before(&self) -> Option<Kept> {
        self.lock().before.clone()
    }

    fn forget(&self, key: &str) {
        let mut state = self.lock();
        if state.running.as_ref().is_some_and(|running| running.key == key) {
            state.running = None;
        }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn start(&mut self, client: &Client, key: String, request: v1::RecommendRequest) -> watch::Receiver<Progress> {
        let (sender, steps) = watch::channel(Progress::At { done: 0, total: 0 });
        let task = tokio::spawn(run(client.clone(), request, sender)).abort_handle();
        // What ran before ends with its handle.
        self.running = Some(Running { key, steps: steps.clone(), task });
        steps
    }

    /// Notes an answer as the last one.
    fn came(&mut self, kept: Kept) {
        if self.running.as_ref().is_some_and(|running| running.key == kept.key) {
            self.running = None;
        }
        if let Some(last) = self.answers.last().filter(|last| last.question != kept.question) {
            self.before = Some(last.clone());
        }
        self.answers.retain(|other| other.key != kept.key);
        self.answers.push(kept);
        if self.answers.len() > KEPT {
            self.answers.remove(0);
        }
    }
}

/// A task that ends with its handle: nobody waits for its answer any more.
impl Drop for Running {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn run(client: Client, request: v1::RecommendRequest, sender: watch::Sender<Progress>) {
    let last = match followed(client, request, &sender).await {
        Ok(answer) => Progress::Done(Arc::new(answer)),
        Err(status) => Progress::Failed(status),
    };
    sender.send_replace(last);
}

async fn followed(
    client: Client,
    request: v1::RecommendRequest,
    sender: &watch::Sender<Progress>,
) -> Result<v1::Recommendation, Status> {
    let mut stream = client.selection().recommend(request).await?.into_inner();
    while let Some(message) = stream.message().await? {
        match message.step {
            Some(Step::Progress(progress)) => {
                let count = |n: i32| usize::try_from(n).unwrap_or(0);
                let (done, total) = (count(progress.draws_done), count(progress.draws_total));
                sender.send_replace(Progress::At { done, total });
            }
            Some(Step::Recommendation(answer)) => return Ok(answer),
            None => {}
        }
    }
    Err(Status::internal("the answer ended before its end"))
}
