//! What the handlers work with. Everything is passed in: no globals, no ambient configuration.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use catalog::{Store, StoredRun, Write};
use domain::selection::{OptionSummary, RunInput};
use planning::selection::Summarizer;
use runs::{Clock, RunEngine};
use tokio::sync::Semaphore;

use crate::error::Error;
use crate::render::Renderer;
use crate::selection_service::each_spot;

/// Makes identifiers of requests, and what the short ids of runs, reports and documents are made from. A trait, because randomness stays out of tests.
pub trait Ids: Send + Sync {
    /// A new identifier: 1 to 40 lower-case letters and digits, never given out before.
    fn next(&self) -> String;
}

/// Random identifiers.
#[derive(Debug, Clone, Copy, Default)]
pub struct RandomIds;

impl Ids for RandomIds {
    fn next(&self) -> String {
        uuid::Uuid::new_v4().simple().to_string()
    }
}

/// What bounds the calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of one import.
    pub upload_bytes: usize,
    /// Bytes of one message of a caller.
    pub message_bytes: usize,
    /// Reports that are rendered at once; others wait.
    pub renders: usize,
    /// Reports that may wait to be rendered.
    pub waiting_renders: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { upload_bytes: 64 * 1024 * 1024, message_bytes: 4 * 1024 * 1024, renders: 2, waiting_renders: 32 }
    }
}

/// Who calls, for the audit trail. The server puts it into the extensions of a request once it knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller(pub String);

/// Whoever calls without a name: only loopback may.
pub(crate) const ANONYMOUS: &str = "local";

/// What the services are built from.
#[derive(Clone)]
pub struct Context {
    /// Where everything is kept.
    pub store: Store,
    /// What works on runs.
    pub engine: RunEngine,
    /// What makes PDFs.
    pub renderer: Arc<dyn Renderer>,
    /// What bounds the calls.
    pub limits: Limits,
    /// The time of day.
    pub clock: Arc<dyn Clock>,
    /// Identifiers of runs and reports.
    pub ids: Arc<dyn Ids>,
}

/// The context and what the services share besides.
pub(crate) struct Shared {
    pub(crate) context: Context,
    pub(crate) renders: Arc<Semaphore>,
    pub(crate) waiting_renders: Semaphore,
    inputs: Latest<RunInput>,
    summaries: Latest<Vec<OptionSummary>>,
}

impl Shared {
    pub(crate) fn new(context: Context) -> Self {
        let renders = Arc::new(Semaphore::new(context.limits.renders.max(1)));
        let waiting_renders = Semaphore::new(context.limits.waiting_renders);
        Self { context, renders, waiting_renders, inputs: Latest::default(), summaries: Latest::default() }
    }

    pub(crate) fn store(&self) -> &Store {
        &self.context.store
    }

    /// Who writes, and when.
    pub(crate) fn write(&self, caller: Option<Caller>) -> Write {
        let actor = caller.map_or_else(|| ANONYMOUS.to_owned(), |caller| caller.0);
        Write { actor, at: self.context.clock.now() }
    }

    /// What a run was computed from. It never changes, so the latest ones are kept at hand: a page of findings needs it.
    pub(crate) async fn input(&self, run: &StoredRun) -> Result<Arc<RunInput>, Error> {
        if let Some(input) = self.inputs.get(&run.id) {
            return Ok(input);
        }
        let input = Arc::new(self.store().run_input(&run.id).await?);
        self.inputs.put(&run.id, &input);
        Ok(input)
    }

    /// How each option did over all spots of a run that has ended, which takes all of its findings to say: a sheet for every spot asks again and
    /// again.
    pub(crate) async fn summary(&self, run: &StoredRun) -> Result<Arc<Vec<OptionSummary>>, Error> {
        if let Some(summary) = self.summaries.get(&run.id) {
            return Ok(summary);
        }
        let mut summarizer = Summarizer::new(self.input(run).await?.options.len());
        each_spot(self, run, |findings| summarizer.add_spot(findings)).await?;
        let summary = Arc::new(summarizer.finish());
        self.summaries.put(&run.id, &summary);
        Ok(summary)
    }
}

/// What was worked out for the runs that were asked for last.
struct Latest<T> {
    latest: Mutex<VecDeque<(String, Arc<T>)>>,
}

impl<T> Default for Latest<T> {
    fn default() -> Self {
        Self { latest: Mutex::default() }
    }
}

impl<T> Latest<T> {
    const SIZE: usize = 4;

    fn get(&self, id: &str) -> Option<Arc<T>> {
        let latest = self.latest.lock().unwrap_or_else(PoisonError::into_inner);
        latest.iter().find(|(known, _)| known == id).map(|(_, found)| Arc::clone(found))
    }

    fn put(&self, id: &str, found: &Arc<T>) {
        let mut latest = self.latest.lock().unwrap_or_else(PoisonError::into_inner);
        latest.retain(|(known, _)| known != id);
        latest.truncate(Self::SIZE - 1);
        latest.push_front((id.to_owned(), Arc::clone(found)));
    }
}
