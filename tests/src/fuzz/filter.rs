//! Filters: a refusal points into the text, and what is accepted chooses on a real database: each record fits it or its negation.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use catalog::exchange::csv::{self, CsvRecord};
use catalog::filter::Filter;
use catalog::{Commit, Existing, ImportMode, ListQuery, OpenOptions, Skip, Store, StoreError, Write};
use jiff::Timestamp;
use tokio::runtime::{Builder, Runtime};

use super::records::{Shown, of_kind};

/// A database of the demo catalog, and what runs it.
struct Shelf {
    runtime: Runtime,
    store: Store,
    /// Removed with the process.
    _folder: tempfile::TempDir,
}

/// Opened once: filters only read.
static SHELF: OnceLock<Option<Shelf>> = OnceLock::new();

pub(crate) fn target(data: &[u8]) {
    let Some((kind, text)) = data.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    of_kind!(kind, check(text));
}

fn check<R: Shown + CsvRecord>(text: &str) {
    match Filter::parse(text, &R::filters()) {
        Ok(None) => assert!(text.trim().is_empty(), "nothing was read from '{text}'"),
        Ok(Some(filter)) => chooses::<R>(text, filter),
        Err(StoreError::BadFilter { at, problem }) => {
            let last = text.chars().count() + 1;
            assert!((1..=last).contains(&at), "character {at} of {last} in '{text}'");
            // It may name a word of the text and every field.
            assert!((1..=3_000).contains(&problem.chars().count()), "{problem}");
        }
        Err(other) => assert!(text.is_empty(), "'{text}' ends in {other:?}"),
    }
}

/// Splits the records in two with its negation, and says the same in parentheses.
fn chooses<R: Shown>(text: &str, filter: Filter) {
    let Some(shelf) = SHELF.get_or_init(Shelf::open) else { return };
    let all = shelf.ids::<R>(None, text);
    assert!(!all.is_empty(), "no {} to choose from", R::COLLECTION);
    let fit = shelf.ids::<R>(Some(filter.clone()), text);
    assert!(fit.is_subset(&all));
    if let Some(same) = longer::<R>(&format!("({text})")) {
        // Values are bound in order, so that the two differ in nothing that counts.
        assert_eq!(shelf.ids::<R>(Some(same), text), fit, "parentheses change '{text}'");
    }
    if let Some(negated) = longer::<R>(&format!("NOT ({text})")) {
        let others = shelf.ids::<R>(Some(negated), text);
        assert_eq!(others, all.difference(&fit).cloned().collect(), "NOT ({text}) is not the rest");
    }
}

/// A sound filter inside another one: refused for nothing but its length or depth.
fn longer<R: Shown>(text: &str) -> Option<Filter> {
    match Filter::parse(text, &R::filters()) {
        Ok(filter) => filter,
        Err(error) => {
            let said = error.to_string();
            assert!(said.contains("shorten it") || said.contains("simplify"), "'{text}': {said}");
            None
        }
    }
}

impl Shelf {
    /// None only where the machine has no room for a temporary file, which the first assertion tells.
    fn open() -> Option<Self> {
        let runtime = Builder::new_current_thread().enable_all().build();
        let folder = tempfile::tempdir();
        assert!(runtime.is_ok() && folder.is_ok(), "no place for a database: {:?} {:?}", runtime.err(), folder.err());
        let (runtime, folder) = (runtime.ok()?, folder.ok()?);
        let store = runtime.block_on(Store::open(folder.path().join("filter.db"), OpenOptions::default()));
        assert!(store.is_ok(), "{:?}", store.err());
        let shelf = Self { runtime, store: store.ok()?, _folder: folder };
        for kind in (0..8).chain([b'@']) {
            of_kind!(kind, stored(&shelf));
        }
        Some(shelf)
    }

    /// The ids that a filter chooses.
    fn ids<R: Shown>(&self, filter: Option<Filter>, text: &str) -> BTreeSet<String> {
        let query = ListQuery { filter, limit: 1_000, after: None };
        let page = self.runtime.block_on(self.store.list::<R>(&query));
        assert!(page.is_ok(), "an accepted filter fails: '{text}': {:?}", page.err());
        let items = page.map(|page| page.items).unwrap_or_default();
        items.iter().map(|item| item.record.id().to_string()).collect()
    }
}

/// Stores the demo catalog's records of a kind.
fn stored<R: Shown + CsvRecord>(shelf: &Shelf) {
    // `beamSurveys` lie in beam-surveys.csv.
    let hyphened =
        |c: char| if c.is_ascii_uppercase() { format!("-{}", c.to_ascii_lowercase()) } else { c.to_string() };
    let file: String = R::COLLECTION.chars().map(hyphened).collect();
    let path = format!("{}/../demo-catalog/{file}.csv", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(&path);
    assert!(bytes.is_ok(), "{path}: {:?}", bytes.err());
    let bytes = bytes.unwrap_or_default();
    let (mut feed, fed) = catalog::feed();
    let read = std::thread::spawn(move || {
        if csv::read_parts::<R>(&bytes, &std::collections::BTreeMap::new(), &mut |part| feed.put(part)).is_continue() {
            feed.finish();
        }
    });
    let mode = ImportMode { existing: Existing::Replace, skip_bad: Skip::Nothing, commit: Commit::Store };
    let write = Write { actor: "fuzz".to_owned(), at: Timestamp::UNIX_EPOCH };
    let done = shelf.runtime.block_on(shelf.store.import::<R>(fed, mode, &write));
    assert!(read.join().is_ok(), "{path} cannot be read");
    assert!(done.as_ref().is_ok_and(|done| done.faults.is_empty() && done.created > 0), "{path}: {done:?}");
}
