//! Storing many records at once: every fault of every row, and all or nothing unless bad rows are to be skipped.

use std::collections::BTreeMap;

use planning::domain::{Fault, FaultReason};
use sqlx::{QueryBuilder, Row as _, Sqlite};

use crate::error::StoreError;
use crate::exchange::RowFault;
use crate::resource::{Resource, etag};
use crate::store::{Store, Write, audit, crash_point, safe};

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
    /// Check everything and store nothing.
    CheckOnly,
}

/// What an import did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ImportOutcome {
    /// Records stored anew (or that would be).
    pub created: u32,
    /// Records overwritten (or that would be).
    pub replaced: u32,
    /// Every fault, by line.
    pub faults: Vec<RowFault>,
}

/// Rows in one statement; SQLite takes 32,766 bound values, five a row.
const ROWS_A_STATEMENT: usize = 1_000;

impl Store {
    /// Stores records read from a file. `faults` are those that the reader of the file met already; they count like any other.
    ///
    /// # Errors
    /// The database fails; nothing is stored then. Faulty rows are no error: they are listed.
    pub async fn import<R: Resource>(
        &self,
        rows: Vec<(u32, R)>,
        mut faults: Vec<RowFault>,
        mode: ImportMode,
        write: &Write,
    ) -> Result<ImportOutcome, StoreError> {
        let mut good: BTreeMap<String, (u32, String)> = BTreeMap::new();
        for (line, record) in rows {
            let id = record.id().to_string();
            let mut found = record.faults();
            if let Some((first, _)) = good.get(&id) {
                let message = format!("'{id}' stands on line {first} already; give every record its own id");
                found.push(Fault::new("id", FaultReason::Duplicate, message));
            }
            if found.is_empty() {
                good.insert(id, (line, record.encode()?));
            } else {
                faults.extend(found.into_iter().map(|f| row_fault(line, &id, f)));
            }
        }
        let mut tx = self.begin().await?;
        let existing = existing::<R>(&mut tx, &good).await.map_err(|e| self.fail(e))?;
        if mode.existing == Existing::Refuse {
            for id in existing.keys() {
                if let Some((line, _)) = good.remove(id) {
                    let message =
                        format!("{}/{id} exists already; ask for replacement, or choose another id", R::COLLECTION);
                    faults.push(row_fault(line, id, Fault::new("id", FaultReason::Duplicate, message)));
                }
            }
        }
        faults.sort_by(|a, b| (a.line, &a.column).cmp(&(b.line, &b.column)));
        if !faults.is_empty() && mode.skip_bad == Skip::Nothing {
            return Ok(ImportOutcome { faults, ..ImportOutcome::default() });
        }
        let replaced = u32::try_from(good.keys().filter(|id| existing.contains_key(*id)).count()).unwrap_or(u32::MAX);
        let stored = u32::try_from(good.len()).unwrap_or(u32::MAX);
        if mode.commit == Commit::Store {
            self.put_all::<R>(&mut tx, &good, &existing, write).await.map_err(|e| self.fail(e))?;
            let what = format!("{} ({stored} records)", R::COLLECTION);
            crash_point(format_args!("import-{}-rows-written", R::COLLECTION));
            audit(&mut tx, write, "import", &what).await.map_err(|e| self.fail(e))?;
            tx.commit().await.map_err(|e| self.fail(e))?;
            crash_point(format_args!("import-{}-committed", R::COLLECTION));
        }
        Ok(ImportOutcome { created: stored - replaced, replaced, faults })
    }

    async fn put_all<R: Resource>(
        &self,
        tx: &mut sqlx::Transaction<'static, Sqlite>,
        good: &BTreeMap<String, (u32, String)>,
        existing: &BTreeMap<String, i64>,
        write: &Write,
    ) -> Result<(), sqlx::Error> {
        let now = write.at.as_microsecond();
        let rows: Vec<_> = good.iter().collect();
        for part in rows.chunks(ROWS_A_STATEMENT) {
            let mut query = QueryBuilder::<Sqlite>::new(format!(
                "INSERT OR REPLACE INTO {} (id, body, etag, create_time, update_time) ",
                R::COLLECTION
            ));
            query.push_values(part, |mut row, (id, (_, body))| {
                row.push_bind(id.as_str())
                    .push_bind(body.as_str())
                    .push_bind(etag(body))
                    .push_bind(existing.get(*id).copied().unwrap_or(now))
                    .push_bind(now);
            });
            query.build().persistent(false).execute(&mut **tx).await?;
        }
        Ok(())
    }
}

/// Ids of some rows that are stored already, with their times of creation.
async fn existing<R: Resource>(
    tx: &mut sqlx::Transaction<'static, Sqlite>,
    rows: &BTreeMap<String, (u32, String)>,
) -> Result<BTreeMap<String, i64>, sqlx::Error> {
    let ids: Vec<&String> = rows.keys().collect();
    let mut found = BTreeMap::new();
    for part in ids.chunks(ROWS_A_STATEMENT) {
        let marks = vec!["?"; part.len()].join(", ");
        let sql = format!("SELECT id, create_time FROM {} WHERE id IN ({marks})", R::COLLECTION);
        let query = part.iter().fold(sqlx::query(safe(sql)), |query, id| query.bind(id.as_str()));
        for row in query.persistent(false).fetch_all(&mut **tx).await? {
            found.insert(row.try_get(0)?, row.try_get(1)?);
        }
    }
    Ok(found)
}

fn row_fault(line: u32, id: &str, fault: Fault) -> RowFault {
    RowFault { line, column: fault.field, message: fault.message, id: id.to_owned() }
}
