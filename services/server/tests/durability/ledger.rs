//! What was tried and what was acknowledged, and whether a database keeps to it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Mutex, MutexGuard};

use catalog::{FindingsQuery, ListQuery, OpenOptions, RunState, Store, StoredRun};
use domain::SpotRecord;

use crate::work::{BASE_SPOTS, BATCH, OPTIONS};

/// Larger than anything that a test stores.
const ALL: u32 = 1_000_000;

/// Everything tried, with what was acknowledged of it.
#[derive(Default)]
struct Entries {
    batches: BTreeMap<String, bool>,
    /// By request: the name of the run.
    runs: BTreeMap<String, Option<String>>,
    /// By heading: name and hash of the report.
    reports: BTreeMap<String, Option<(String, String)>>,
}

/// The book that callers keep.
#[derive(Default)]
pub(crate) struct Ledger(Mutex<Entries>);

/// What a database held when it was compared with the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Kept {
    pub(crate) batches: usize,
    pub(crate) runs: usize,
    pub(crate) finished: usize,
    pub(crate) reports: usize,
}

impl Ledger {
    fn book(&self) -> MutexGuard<'_, Entries> {
        self.0.lock().unwrap()
    }

    pub(crate) fn tried_batch(&self, batch: &str) {
        self.book().batches.entry(batch.to_owned()).or_insert(false);
    }

    pub(crate) fn has_batch(&self, batch: &str) {
        self.book().batches.insert(batch.to_owned(), true);
    }

    pub(crate) fn tried_run(&self, request: &str) {
        self.book().runs.entry(request.to_owned()).or_default();
    }

    pub(crate) fn has_run(&self, request: &str, name: &str) {
        let earlier = self.book().runs.insert(request.to_owned(), Some(name.to_owned())).flatten();
        assert!(earlier.is_none_or(|earlier| earlier == name), "{request} has two runs");
    }

    pub(crate) fn tried_report(&self, title: &str) {
        self.book().reports.entry(title.to_owned()).or_default();
    }

    pub(crate) fn has_report(&self, title: &str, name: &str, hash: &str) {
        self.book().reports.insert(title.to_owned(), Some((name.to_owned(), hash.to_owned())));
    }

    /// Batches that were acknowledged.
    pub(crate) fn batches(&self) -> usize {
        self.book().batches.values().filter(|acknowledged| **acknowledged).count()
    }

    /// Requests whose answer was lost.
    pub(crate) fn open_requests(&self) -> Vec<String> {
        let book = self.book();
        book.runs.iter().filter(|(_, name)| name.is_none()).map(|(request, _)| request.clone()).collect()
    }

    /// Names of the runs that were acknowledged.
    pub(crate) fn runs(&self) -> Vec<String> {
        self.book().runs.values().flatten().cloned().collect()
    }

    /// Looks at a copy of the files as a crash left them, so that the service recovers the real ones itself.
    pub(crate) async fn check_files(&self, database: &Path, hash: &str) -> Kept {
        let copies = tempfile::tempdir().unwrap();
        let name = database.file_name().unwrap().to_str().unwrap();
        for ending in ["", "-wal"] {
            let file = database.with_file_name(format!("{name}{ending}"));
            if file.exists() {
                std::fs::copy(&file, copies.path().join(format!("{name}{ending}"))).unwrap();
            }
        }
        let store = Store::open(copies.path().join(name), OpenOptions::default()).await.unwrap();
        let kept = self.check(&store, hash).await;
        store.close().await;
        kept
    }

    /// Integrity clean; nothing acknowledged is lost, nothing is half there, nothing is there twice.
    pub(crate) async fn check(&self, store: &Store, hash: &str) -> Kept {
        store.check_integrity().await.unwrap();
        let batches = self.check_spots(store).await;
        let runs = store.list_runs(None, ALL).await.unwrap();
        let mut finished = 0;
        for run in &runs {
            finished += usize::from(self.check_run(store, run, hash).await);
        }
        let requests: BTreeSet<_> = runs.iter().map(|run| run.request_id.clone().unwrap_or_default()).collect();
        assert_eq!(requests.len(), runs.len(), "a request has two runs");
        for (request, name) in &self.book().runs {
            let kept = name.is_none() || runs.iter().any(|run| Some(format!("runs/{}", run.id)) == *name);
            assert!(kept, "{request} was acknowledged as {name:?} and is gone");
        }
        let reports = self.check_reports(store).await;
        // The trail is written in the transaction of what it tells of.
        let trail = store.audit_trail(None, ALL).await.unwrap();
        let told = |action: &str| trail.iter().filter(|entry| entry.action == action).count();
        // Sensors, targets and the spots of the runs come before all.
        assert_eq!((told("import"), told("start"), told("render")), (batches + 3, runs.len(), reports));
        Kept { batches, runs: runs.len(), finished, reports }
    }

    async fn check_spots(&self, store: &Store) -> usize {
        let all = store.list::<SpotRecord>(&ListQuery { limit: ALL, ..ListQuery::default() }).await.unwrap();
        let mut found: BTreeMap<String, usize> = BTreeMap::new();
        for spot in &all.items {
            let id = spot.record.id.to_string();
            *found.entry(id.rsplit_once('-').unwrap().0.to_owned()).or_default() += 1;
        }
        assert_eq!(found.remove("base"), Some(BASE_SPOTS));
        let book = self.book();
        for (batch, acknowledged) in &book.batches {
            let there = found.remove(batch);
            assert!(there == Some(BATCH) || (there.is_none() && !acknowledged), "{batch}: {there:?} of {BATCH}");
        }
        assert!(found.is_empty(), "nobody imported {found:?}");
        (all.items.len() - BASE_SPOTS) / BATCH
    }

    /// Whether a run has ended, as it must: whole and with the hash of an undisturbed one.
    async fn check_run(&self, store: &Store, run: &StoredRun, hash: &str) -> bool {
        assert!(self.book().runs.contains_key(run.request_id.as_deref().unwrap()), "nobody started {run:?}");
        let findings = store.findings(run, &FindingsQuery { limit: ALL, ..FindingsQuery::default() }).await.unwrap();
        let pairs: BTreeSet<_> = findings.iter().map(|finding| (finding.spot, finding.option)).collect();
        assert_eq!(pairs.len(), findings.len(), "a finding is there twice in {}", run.id);
        let chunks = store.done_chunks(run).await.unwrap();
        let spots: u32 = chunks.iter().map(|chunk| run.chunk_spots.min(run.spot_count - chunk * run.chunk_spots)).sum();
        let marked = u64::from(spots * run.option_count);
        assert_eq!((run.findings_done, u64::try_from(findings.len()).unwrap()), (marked, marked), "{}", run.id);
        assert_eq!(usize::try_from(run.option_count).unwrap(), OPTIONS.len());
        match run.state {
            RunState::Pending | RunState::Running => false,
            RunState::Succeeded => {
                assert_eq!((run.result_hash.as_str(), run.findings_done), (hash, run.findings_total()), "{}", run.id);
                true
            }
            RunState::Failed | RunState::Cancelled => panic!("{run:?}"),
        }
    }

    async fn check_reports(&self, store: &Store) -> usize {
        let stored = store.list_reports(None, None, ALL).await.unwrap();
        let titles: BTreeSet<_> = stored.iter().map(|report| report.title.as_str()).collect();
        assert_eq!(titles.len(), stored.len(), "a report is there twice");
        for report in &stored {
            assert!(self.book().reports.contains_key(&report.title), "nobody asked for {report:?}");
            let pdf = store.report_bytes(&report.id).await.unwrap();
            assert_eq!(blake3::hash(&pdf).to_hex().as_str(), report.content_hash);
        }
        for (title, acknowledged) in &self.book().reports {
            let Some((name, hash)) = acknowledged else { continue };
            let kept = stored.iter().any(|r| format!("reports/{}", r.id) == *name && r.content_hash == *hash);
            assert!(kept, "'{title}' was acknowledged as {name} and is gone");
        }
        stored.len()
    }
}
