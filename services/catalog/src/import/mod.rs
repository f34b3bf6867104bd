//! Storing many records at once: every fault of every row, and all or nothing unless bad rows are to be skipped.
//!
//! A file is stored while it is still being read, all in one transaction. What is held at any time is a few parts of it, its ids,
//! and the faults that are listed.

mod feed;
mod ids;
mod strangers;

use std::collections::HashMap;
use std::sync::Arc;

use domain::field::Value;
use domain::{Fault, FaultReason};
use sqlx::{Row as _, Sqlite, SqliteConnection, Transaction};

use self::feed::{ImportMessage, Part, Ready, row_fault};
use self::ids::{ROWS_A_STATEMENT, statement_of_ids};
use crate::error::StoreError;
use crate::exchange::RowFault;
use crate::kinds::Resource;
use crate::rows::{Values, bind, columns, list_table};
use crate::store::{Store, Write, audit, crash_point, safe};

pub use self::feed::{Fed, Feed, feed};

/// How an import treats what it meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ImportMode {
    /// Store the good rows and list the bad ones.
    pub skip_bad: Skip,
    /// Overwrite records whose id exists.
    pub existing: Existing,
    /// Check only, or store.
    pub commit: Commit,
}

/// What to do about bad rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Skip {
    /// One bad row refuses the whole file.
    #[default]
    Nothing,
    /// Good rows are stored, bad ones listed.
    BadRows,
}

/// What to do about ids that exist.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Existing {
    /// They are faults.
    #[default]
    Refuse,
    /// They are overwritten.
    Replace,
}

/// Whether to store.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Commit {
    /// Store.
    #[default]
    Store,
    /// Check everything and store nothing. Whether what is referred to is stored is not asked: it may come with another file.
    CheckOnly,
}

/// What an import did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ImportOutcome {
    /// Rows read, header not counted.
    pub rows_read: u32,
    /// Records stored anew (or that would be).
    pub created: u32,
    /// Records overwritten (or that would be).
    pub replaced: u32,
    /// How many faults there are.
    pub fault_count: u32,
    /// The first [`LISTED_FAULTS`] of them, by line.
    pub faults: Vec<RowFault>,
    /// Columns of the file that are of no known field and were left aside.
    pub unused: Vec<String>,
}

/// Faults that an outcome lists; a long file in which every line is wrong would take more memory than the file.
pub const LISTED_FAULTS: usize = 1_000;

impl Store {
    /// Stores records as they are read from a file. Faults of the reader count like the store's own.
    ///
    /// # Errors
    /// The database fails, or the feed ends before the file does; nothing is stored then. Faulty rows are no error: they are listed.
    pub async fn import<R: Resource>(
        &self,
        mut fed: Fed,
        mode: ImportMode,
        write: &Write,
    ) -> Result<ImportOutcome, StoreError> {
        let mut import = Import::new(self, mode, write);
        loop {
            match fed.receiver.recv().await.transpose()? {
                Some(ImportMessage::Part(part)) => import.take::<R>(part).await?,
                Some(ImportMessage::End) => return import.finish::<R>().await,
                // Dropping the transaction takes back what was stored.
                None => return Err(StoreError::ImportBroken),
            }
        }
    }
}

/// An import under way.
struct Import<'s> {
    store: &'s Store,
    mode: ImportMode,
    write: &'s Write,
    outcome: ImportOutcome,
    /// Begun with the first row to be stored, and given up with the first fault that refuses the file.
    transaction: Option<Transaction<'static, Sqlite>>,
}

impl<'s> Import<'s> {
    fn new(store: &'s Store, mode: ImportMode, write: &'s Write) -> Self {
        Self { store, mode, write, outcome: ImportOutcome::default(), transaction: None }
    }

    /// Whether a fault refuses the whole file.
    fn refused(&self) -> bool {
        self.mode.skip_bad == Skip::Nothing && self.outcome.fault_count > 0
    }

    /// Whether rows are stored, rather than only looked at.
    fn stores(&self) -> bool {
        self.mode.commit == Commit::Store && !self.refused()
    }

    async fn take<R: Resource>(&mut self, part: Part) -> Result<(), StoreError> {
        let Part { rows_read, mut rows, mut faults, unused } = part;
        if self.mode.commit == Commit::Store {
            let found = match &mut self.transaction {
                Some(transaction) => strangers::refuse::<R>(transaction, &mut rows).await,
                None => strangers::refuse::<R>(&mut *self.store.reader().await?, &mut rows).await,
            };
            faults.extend(found.map_err(|e| self.store.fail(e))?);
        }
        self.outcome.unused.extend(unused);
        self.outcome.rows_read = self.outcome.rows_read.saturating_add(rows_read);
        // The order of ids is that of the table's index.
        rows.sort_unstable_by(|one, other| one.id.cmp(&other.id));
        let news = self.mode.existing == Existing::Refuse && self.mode.skip_bad == Skip::Nothing;
        if news && faults.is_empty() && self.stores() {
            // Mostly all ids are new, and the table tells for nothing if one is not.
            let ids: Vec<_> = rows.iter().map(|row| (row.line, Arc::clone(&row.id))).collect();
            if self.put::<R>(rows, &HashMap::new()).await? {
                self.outcome.created = self.outcome.created.saturating_add(count(ids.len()));
                return Ok(());
            }
            self.give_up().await?;
            let existing = self.existing::<R>(ids.iter().map(|(_, id)| id)).await?;
            let known = ids.iter().filter(|(_, id)| existing.contains_key(&**id));
            self.refuse(known.map(|(line, id)| exists_already::<R>(*line, id)).collect());
            return if self.refused() { Ok(()) } else { Err(given_twice()) };
        }
        let existing = self.existing::<R>(rows.iter().map(|row| &row.id)).await?;
        if self.mode.existing == Existing::Refuse {
            let known = |row: &Ready| existing.contains_key(&*row.id);
            faults.extend(rows.iter().filter(|row| known(row)).map(|row| exists_already::<R>(row.line, &row.id)));
            rows.retain(|row| !known(row));
        }
        self.refuse(faults);
        if self.refused() {
            return self.give_up().await;
        }
        let replaced = rows.iter().filter(|row| existing.contains_key(&*row.id)).count();
        self.outcome.replaced = self.outcome.replaced.saturating_add(count(replaced));
        self.outcome.created = self.outcome.created.saturating_add(count(rows.len() - replaced));
        if self.stores() && !self.put::<R>(rows, &existing).await? {
            return Err(given_twice());
        }
        Ok(())
    }

    /// Lists faults of a part.
    fn refuse(&mut self, mut faults: Vec<RowFault>) {
        faults.sort_by(|a, b| (a.line, &a.column).cmp(&(b.line, &b.column)));
        self.outcome.fault_count = self.outcome.fault_count.saturating_add(count(faults.len()));
        let room = LISTED_FAULTS.saturating_sub(self.outcome.faults.len());
        self.outcome.faults.extend(faults.into_iter().take(room));
    }

    /// Takes back what was stored, so that nobody waits for a file that is refused anyway.
    async fn give_up(&mut self) -> Result<(), StoreError> {
        (self.outcome.created, self.outcome.replaced) = (0, 0);
        match self.transaction.take() {
            Some(transaction) => transaction.rollback().await.map_err(|e| self.store.fail(e)),
            None => Ok(()),
        }
    }

    /// Ids of some rows that are stored already, with their times of creation.
    async fn existing<R: Resource>(
        &mut self,
        ids: impl Iterator<Item = &Arc<str>>,
    ) -> Result<HashMap<String, i64>, StoreError> {
        let ids: Vec<_> = ids.collect();
        let found = match &mut self.transaction {
            Some(transaction) => existing::<R>(transaction, &ids).await,
            None => existing::<R>(&mut *self.store.reader().await?, &ids).await,
        };
        found.map_err(|e| self.store.fail(e))
    }

    /// Stores rows. It answers whether all ids were new where they must be; if not, the transaction is to be given up.
    async fn put<R: Resource>(
        &mut self,
        rows: Vec<Ready>,
        existing: &HashMap<String, i64>,
    ) -> Result<bool, StoreError> {
        if rows.is_empty() {
            return Ok(true);
        }
        let transaction = match &mut self.transaction {
            Some(transaction) => transaction,
            none => none.insert(self.store.begin().await?),
        };
        let now = self.write.at.as_microsecond();
        let mut rows = rows.into_iter().peekable();
        while rows.peek().is_some() {
            let part: Vec<_> = rows.by_ref().take(ROWS_A_STATEMENT).collect();
            match insert::<R>(transaction, part, existing, (self.mode, now)).await {
                Ok(()) => {}
                Err(sqlx::Error::Database(said)) if said.is_unique_violation() => return Ok(false),
                Err(error) => return Err(self.store.fail(error)),
            }
        }
        Ok(true)
    }

    async fn finish<R: Resource>(mut self) -> Result<ImportOutcome, StoreError> {
        if self.stores() {
            let mut tx = match self.transaction.take() {
                Some(transaction) => transaction,
                None => self.store.begin().await?,
            };
            let stored = self.outcome.created.saturating_add(self.outcome.replaced);
            let what = format!("{} ({stored} records)", R::COLLECTION);
            crash_point(format_args!("import-{}-rows-written", R::COLLECTION));
            audit(&mut tx, self.write, "import", &what).await.map_err(|e| self.store.fail(e))?;
            self.store.commit_large(tx).await?;
            crash_point(format_args!("import-{}-committed", R::COLLECTION));
        }
        Ok(self.outcome)
    }
}

/// Stores the rows of some records: a statement for the records, and one for the entries of each list. Columns in which none of
/// them has anything are left out, which saves most of the binding.
async fn insert<R: Resource>(
    connection: &mut SqliteConnection,
    part: Vec<Ready>,
    existing: &HashMap<String, i64>,
    (mode, now): (ImportMode, i64),
) -> Result<(), sqlx::Error> {
    let names = columns(R::FIELDS);
    let filled = |at: usize| part.iter().any(|row| row.rows.values.get(at).is_some_and(|value| *value != Value::Null));
    let used: Vec<bool> = (0..names.len()).map(filled).collect();
    let mut named: Vec<&str> =
        names.iter().zip(&used).filter(|(_, used)| **used).map(|(name, _)| name.as_str()).collect();
    named.extend(["etag", "create_time", "update_time"]);
    // FAIL leaves undoing to the transaction, which is given up as a whole: SQLite need not keep each page as it was before.
    let conflict = match mode.existing {
        Existing::Refuse => "FAIL",
        Existing::Replace => "REPLACE",
    };
    let whole = part.len() == ROWS_A_STATEMENT;
    let sql = statement(&format!("INSERT OR {conflict} INTO {}", R::COLLECTION), &named, part.len());
    let mut query = sqlx::query(safe(sql)).persistent(whole);
    let mut lists: Vec<Vec<(Arc<str>, i64, Values)>> = R::LISTS.iter().map(|_| Vec::new()).collect();
    for Ready { id, rows, .. } in part {
        let kept = rows.values.into_iter().zip(&used).filter(|(_, used)| **used);
        query = kept.fold(query, |query, (value, _)| bind(query, value));
        query = query.bind(rows.etag).bind(existing.get(&*id).copied().unwrap_or(now)).bind(now);
        for (list, entries) in lists.iter_mut().zip(rows.lists) {
            list.extend((0..).zip(entries).map(|(place, values)| (Arc::clone(&id), place, values)));
        }
    }
    query.execute(&mut *connection).await?;
    for (list, entries) in R::LISTS.iter().zip(lists) {
        let names = list.columns();
        let named: Vec<&str> = ["owner", "place"].into_iter().chain(names.iter().map(String::as_str)).collect();
        let into = format!("INSERT INTO {}", list_table(R::COLLECTION, *list));
        let mut entries = entries.into_iter().peekable();
        while entries.peek().is_some() {
            let part: Vec<_> = entries.by_ref().take(ROWS_A_STATEMENT).collect();
            let whole = part.len() == ROWS_A_STATEMENT;
            let mut query = sqlx::query(safe(statement(&into, &named, part.len()))).persistent(whole);
            for (id, place, values) in part {
                query = values.into_iter().fold(query.bind(id).bind(place), bind);
            }
            query.execute(&mut *connection).await?;
        }
    }
    Ok(())
}

/// A statement that stores some rows.
fn statement(into: &str, columns: &[&str], rows: usize) -> String {
    let row = format!("({})", vec!["?"; columns.len()].join(", "));
    format!("{into} ({}) VALUES {}", columns.join(", "), vec![row.as_str(); rows].join(", "))
}

async fn existing<R: Resource>(
    connection: &mut SqliteConnection,
    ids: &[&Arc<str>],
) -> Result<HashMap<String, i64>, sqlx::Error> {
    let mut found = HashMap::new();
    for part in ids.chunks(ROWS_A_STATEMENT) {
        let query = sqlx::query(safe(statement_of_ids(R::COLLECTION, part.len())));
        let query = part.iter().fold(query, |query, id| query.bind(Arc::clone(id)));
        for row in query.persistent(part.len() == ROWS_A_STATEMENT).fetch_all(&mut *connection).await? {
            found.insert(row.try_get(0)?, row.try_get(1)?);
        }
    }
    Ok(found)
}

fn exists_already<R: Resource>(line: u32, id: &str) -> RowFault {
    let message =
        format!("{}/{id} exists already; ask for it to be replaced (--replace), or choose another id", R::COLLECTION);
    row_fault(line, id, Fault::new("id", FaultReason::Duplicate, message))
}

/// The feed sees to it, so that this is never expected.
fn given_twice() -> StoreError {
    StoreError::BadRecord("an import was fed an id twice".to_owned())
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
