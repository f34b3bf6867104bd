//! What the handlers work with. Everything is passed in: no globals, no ambient configuration.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use catalog::{FindingKey, FindingsQuery, ListQuery, Page, Resource, Store, Stored, StoredRun, Write};
use domain::selection::{Finding, OptionSummary, RunInput};
use domain::{Cancel, CancelOnDrop};
use planning::PlanningError;
use planning::selection::{Prepared, Summarizer};
use prost::Message;
use runs::{Clock, RunEngine, Turns};

use crate::budget::ByteBudget;
use crate::error::Error;
use crate::paging::MAX_PAGE;
use crate::render::Renderer;

const MIB: usize = 1024 * 1024;
/// Messages of that many bytes are checked off the async threads, so many at once.
pub(crate) const LARGE: usize = 32 * 1024;
const CHECKS: usize = 2;
/// Listings through a filter at once: as many as the store has connections for.
const SCANS: usize = 2;
/// Bytes of spreadsheets on the disk: one caller gets half, in which the largest one (a million rows, some 200 MB) has room.
const BOOK_BYTES: usize = 512 * MIB;
/// Calls that may wait for each of those.
const WAITING: usize = 64;

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
    /// Bytes of all imports together that are taken in or worked on; one caller gets half of it.
    pub uploads_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            upload_bytes: 64 * MIB,
            message_bytes: 4 * MIB,
            renders: 2,
            waiting_renders: 32,
            uploads_bytes: 192 * MIB,
        }
    }
}

/// Who calls, for the audit trail. The server puts it into the extensions of a request once it knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller(pub String);

impl Caller {
    /// The name of a caller that may have none.
    pub(crate) fn name(caller: Option<&Self>) -> &str {
        caller.map_or(ANONYMOUS, |caller| caller.0.as_str())
    }
}

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
    pub(crate) renders: Arc<Turns>,
    /// Files that are read and stored. One at a time: they would wait for the database's one writer anyway, each with a thread.
    pub(crate) imports: Arc<Turns>,
    /// Spreadsheets that are made.
    pub(crate) books: Arc<Turns>,
    /// Listings through a filter.
    pub(crate) scans: Arc<Turns>,
    /// Large messages that are checked.
    checks: Arc<Turns>,
    /// Bytes of uploads in memory.
    pub(crate) uploads: ByteBudget,
    /// Bytes of spreadsheets that wait for their readers on the disk.
    pub(crate) book_bytes: ByteBudget,
    inputs: Latest<RunInput>,
    summaries: Latest<Vec<OptionSummary>>,
    pub(crate) tables: Arc<Tables>,
}

impl Shared {
    pub(crate) fn new(context: Context) -> Self {
        let limits = context.limits;
        Self {
            renders: Turns::new(limits.renders, limits.renders, limits.waiting_renders),
            imports: Turns::new(1, 1, WAITING),
            books: Turns::new(1, 1, WAITING),
            scans: Turns::new(SCANS, SCANS, WAITING),
            checks: Turns::new(CHECKS, 1, WAITING),
            uploads: ByteBudget::new(limits.uploads_bytes, "files of imports in hand"),
            book_bytes: ByteBudget::new(BOOK_BYTES, "spreadsheets that are yet to be taken"),
            inputs: Latest::default(),
            summaries: Latest::default(),
            tables: Arc::default(),
            context,
        }
    }

    pub(crate) fn store(&self) -> &Store {
        &self.context.store
    }

    /// Computes something once it is the caller's turn.
    pub(crate) async fn compute<T: Send + 'static>(
        &self,
        caller: Option<&Caller>,
        work: impl FnOnce(&Cancel) -> T + Send + 'static,
    ) -> Result<T, Error> {
        Ok(self.context.engine.compute(Caller::name(caller), work).await?)
    }

    /// Checks a message of so many bytes: a large one off the async threads, once it is its caller's turn. What is dropped meanwhile is cancelled.
    pub(crate) async fn check<T: Send + 'static>(
        &self,
        caller: Option<&Caller>,
        bytes: usize,
        work: impl FnOnce(&Cancel) -> T + Send + 'static,
    ) -> Result<T, Error> {
        if bytes < LARGE {
            return Ok(work(&Cancel::never()));
        }
        let turn = self.checks.take(Caller::name(caller)).await?;
        let cancel = Cancel::new();
        let _ends = CancelOnDrop(cancel.clone());
        let work = move || {
            let _turn = turn;
            work(&cancel)
        };
        tokio::task::spawn_blocking(work).await.map_err(Error::internal)
    }

    /// Reads a spec, which is given back with what was read.
    pub(crate) async fn read<M: Message + 'static, T: Send + 'static>(
        &self,
        caller: Option<&Caller>,
        spec: M,
        read: fn(&M) -> T,
    ) -> Result<(M, T), Error> {
        let bytes = spec.encoded_len();
        self.check(caller, bytes, move |_| {
            let found = read(&spec);
            (spec, found)
        })
        .await
    }

    /// A page of records; through a filter once it is the caller's turn, as that may look at every record.
    pub(crate) async fn list<R: Resource>(
        &self,
        caller: Option<&Caller>,
        query: &ListQuery,
    ) -> Result<Page<Stored<R>>, Error> {
        let _turn = match &query.filter {
            Some(_) => Some(self.scans.take(Caller::name(caller)).await?),
            None => None,
        };
        Ok(self.store().list::<R>(query).await?)
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

/// Every finding of a run in order, a spot at a time.
async fn each_spot(shared: &Shared, run: &StoredRun, mut take: impl FnMut(&[Finding])) -> Result<(), Error> {
    let mut after = None;
    let mut spot: Vec<Finding> = Vec::new();
    loop {
        let query = FindingsQuery { after, limit: MAX_PAGE, ..FindingsQuery::default() };
        let found = shared.store().findings(run, &query).await?;
        let full = found.len() >= MAX_PAGE as usize;
        for finding in found {
            after = Some(FindingKey::of(&finding));
            if spot.first().is_some_and(|first| first.spot != finding.spot) {
                take(&spot);
                spot.clear();
            }
            spot.push(finding);
        }
        if !full {
            break;
        }
    }
    if !spot.is_empty() {
        take(&spot);
    }
    Ok(())
}

/// Tables of the inputs that a recommendation was asked for last: a changed budget or use needs no new ones, and neither does the next spot's
/// sheet.
#[derive(Default)]
pub(crate) struct Tables {
    latest: Mutex<VecDeque<Arc<Prepared>>>,
}

impl Tables {
    const SIZE: usize = 2;
    /// Most spots, and most pairs of option and bottom class, of an input whose tables are kept: together under 50 MiB.
    const SPOTS: usize = 2_000;
    const PAIRS: usize = 500;

    /// Whether the tables of an input are kept.
    pub(crate) fn keeps(input: &RunInput) -> bool {
        let mut bottoms: Vec<_> = input.spots.iter().flat_map(planning::unknown_place::bottoms).collect();
        bottoms.sort_unstable();
        bottoms.dedup();
        input.spots.len() <= Self::SPOTS && input.options.len().saturating_mul(bottoms.len()) <= Self::PAIRS
    }

    /// The tables of an input, made where there are none yet.
    pub(crate) fn of(&self, input: &RunInput, cancel: &Cancel) -> Result<Arc<Prepared>, PlanningError> {
        let found = self.lock().iter().find(|tables| tables.input() == input).map(Arc::clone);
        if let Some(tables) = found {
            return Ok(tables);
        }
        let tables = Arc::new(Prepared::new(input, cancel)?);
        if Self::keeps(input) {
            let mut latest = self.lock();
            latest.truncate(Self::SIZE - 1);
            latest.push_front(Arc::clone(&tables));
        }
        Ok(tables)
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, VecDeque<Arc<Prepared>>> {
        self.latest.lock().unwrap_or_else(PoisonError::into_inner)
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
