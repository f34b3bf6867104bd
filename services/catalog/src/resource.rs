//! Records of the catalog, and what can be done with any of them.

use std::collections::HashMap;

use domain::Id;
use domain::field::Value as Cell;
use jiff::Timestamp;
use sqlx::sqlite::{SqliteConnection, SqliteRow};
use sqlx::{Connection as _, Row as _, Sqlite, Transaction};

use crate::error::StoreError;
use crate::filter::{Filter, Value};
use crate::kinds::Resource;
use crate::remove::{Referrers, refuse_referred};
use crate::rows::{Query, Values, columns, fill, hash, list_table, read, timestamp, values};
use crate::store::{Store, Write, audit, safe};

/// A record as it is stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored<R> {
    /// The record.
    pub record: R,
    /// Fingerprint of the record's content.
    pub etag: String,
    /// When it was created.
    pub create_time: Timestamp,
    /// When it was last written.
    pub update_time: Timestamp,
}

/// What to list.
#[derive(Debug, Clone, Default)]
pub struct ListQuery {
    /// Which records; all without one.
    pub filter: Option<Filter>,
    /// At most this many.
    pub limit: u32,
    /// Only ids after this one.
    pub after: Option<Id>,
}

/// A page of a listing, ordered by id.
#[derive(Debug, Clone, PartialEq)]
pub struct Page<T> {
    /// The items.
    pub items: Vec<T>,
    /// Whether more follow the last item.
    pub more: bool,
    /// How many match in all.
    pub total: u64,
}

/// A record as it goes into its rows.
pub(crate) struct Rows {
    pub(crate) values: Values,
    /// By list, the values of its entries.
    pub(crate) lists: Vec<Vec<Values>>,
    pub(crate) etag: String,
}

impl Rows {
    pub(crate) fn of<R: Resource>(record: &R) -> Self {
        let values = values(R::FIELDS, record);
        let lists: Vec<_> = R::LISTS.iter().map(|list| list.rows(record)).collect();
        let mut hasher = blake3::Hasher::new();
        hash(&mut hasher, &values);
        for list in &lists {
            hasher.update(b"l");
            list.iter().for_each(|values| hash(&mut hasher, values));
        }
        let etag = hasher.finalize().to_hex().get(..20).unwrap_or_default().to_owned();
        Self { values, lists, etag }
    }
}

/// The columns that a record is read from.
fn selected<R: Resource>() -> String {
    let mut names = columns(R::FIELDS);
    names.extend(["etag", "create_time", "update_time"].map(str::to_owned));
    names.join(", ")
}

/// Records of some rows, with the entries of their lists; to be called in a transaction, so that both are of one moment.
async fn read_all<R: Resource>(
    connection: &mut SqliteConnection,
    rows: &[SqliteRow],
) -> Result<Vec<Stored<R>>, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    let count = columns(R::FIELDS).len();
    let mut found = Vec::with_capacity(rows.len());
    for row in rows {
        let mut record = R::blank(Id::stand_in());
        fill(R::FIELDS, &mut record, read(row, 0, count)?)?;
        let time = |at: usize| row.try_get(at).map_err(bad).and_then(timestamp);
        let (create_time, update_time) = (time(count + 1)?, time(count + 2)?);
        found.push(Stored { record, etag: row.try_get(count).map_err(bad)?, create_time, update_time });
    }
    for list in R::LISTS {
        let names = list.columns();
        let mut entries: HashMap<String, Vec<Values>> = HashMap::new();
        for part in found.chunks(500) {
            let marks = vec!["?"; part.len()].join(", ");
            let (table, names) = (list_table(R::COLLECTION, *list), names.join(", "));
            let sql = format!("SELECT owner, {names} FROM {table} WHERE owner IN ({marks}) ORDER BY owner, place");
            let query =
                part.iter().fold(sqlx::query(safe(sql)), |query, stored| query.bind(stored.record.id().as_str()));
            for row in query.fetch_all(&mut *connection).await.map_err(StoreError::Database)? {
                let owner = row.try_get(0).map_err(bad)?;
                entries.entry(owner).or_default().push(read(&row, 1, list.columns().len())?);
            }
        }
        for stored in &mut found {
            if let Some(rows) = entries.remove(stored.record.id().as_str()) {
                list.fill(&mut stored.record, rows)?;
            }
        }
    }
    Ok(found)
}

impl Store {
    /// One record.
    ///
    /// # Errors
    /// There is none.
    pub async fn get<R: Resource>(&self, id: &Id) -> Result<Stored<R>, StoreError> {
        let mut reader = self.reader().await?;
        let mut tx = reader.begin().await.map_err(|e| self.fail(e))?;
        find::<R>(&mut tx, id).await.map_err(|e| self.told(e))?.ok_or_else(|| not_found::<R>(id))
    }

    /// Those of some ids that exist, in no order.
    ///
    /// # Errors
    /// The database fails.
    pub async fn get_many<R: Resource>(&self, ids: &[Id]) -> Result<Vec<Stored<R>>, StoreError> {
        let mut found = Vec::with_capacity(ids.len());
        for part in ids.chunks(500) {
            let marks = vec!["?"; part.len()].join(", ");
            let sql = format!("SELECT {} FROM {} WHERE id IN ({marks})", selected::<R>(), R::COLLECTION);
            let query = part.iter().fold(sqlx::query(safe(sql)), |query, id| query.bind(id.as_str()));
            let mut reader = self.reader().await?;
            let mut tx = reader.begin().await.map_err(|e| self.fail(e))?;
            let rows = query.fetch_all(&mut *tx).await.map_err(|e| self.fail(e))?;
            found.extend(read_all::<R>(&mut tx, &rows).await.map_err(|e| self.told(e))?);
        }
        Ok(found)
    }

    /// A page of records ordered by id.
    ///
    /// # Errors
    /// The database fails.
    pub async fn list<R: Resource>(&self, query: &ListQuery) -> Result<Page<Stored<R>>, StoreError> {
        let condition = query.filter.as_ref().map_or("TRUE", Filter::sql);
        let mut reader = if query.filter.is_some() { self.scanner().await? } else { self.reader().await? };
        let mut tx = reader.begin().await.map_err(|e| self.fail(e))?;
        let total_sql = format!("SELECT count(*) FROM {} WHERE {condition}", R::COLLECTION);
        let total = bind(sqlx::query(safe(total_sql)), query.filter.as_ref())
            .fetch_one(&mut *tx)
            .await
            .and_then(|row| row.try_get::<i64, _>(0))
            .map_err(|e| self.fail(e))?;
        let sql = format!(
            "SELECT {} FROM {} WHERE ({condition}) AND id > ? ORDER BY id LIMIT ?",
            selected::<R>(),
            R::COLLECTION
        );
        let rows = bind(sqlx::query(safe(sql)), query.filter.as_ref())
            .bind(query.after.as_ref().map_or("", Id::as_str))
            .bind(i64::from(query.limit) + 1)
            .fetch_all(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        let limit = usize::try_from(query.limit).unwrap_or(usize::MAX);
        let more = rows.len() > limit;
        let items = read_all::<R>(&mut tx, rows.get(..limit).unwrap_or(&rows)).await.map_err(|e| self.told(e))?;
        Ok(Page { items, more, total: u64::try_from(total).unwrap_or(0) })
    }

    /// Stores a new record.
    ///
    /// # Errors
    /// The record is faulty, or its id is taken.
    pub async fn create<R: Resource>(&self, record: &R, write: &Write) -> Result<Stored<R>, StoreError> {
        checked(record)?;
        let mut tx = self.begin().await?;
        if find::<R>(&mut tx, record.id()).await.map_err(|e| self.told(e))?.is_some() {
            return Err(StoreError::AlreadyExists { collection: R::COLLECTION, id: record.id().to_string() });
        }
        put::<R>(&mut tx, record, write, None, "create").await.map_err(|e| self.fail(e))?;
        self.commit(tx).await?;
        self.get(record.id()).await
    }

    /// Replaces a record.
    ///
    /// # Errors
    /// There is none, the record is faulty, or the etag given is not the stored one.
    pub async fn update<R: Resource>(
        &self,
        record: &R,
        expected_etag: Option<&str>,
        write: &Write,
    ) -> Result<Stored<R>, StoreError> {
        self.update_all(&[(record, expected_etag)], write).await?;
        self.get(record.id()).await
    }

    /// Changes records, each if it is the one whose etag is expected (none: whichever it is), all or none.
    ///
    /// # Errors
    /// One is missing or faulty, or an etag given is not the stored one.
    pub async fn update_all<R: Resource>(
        &self,
        records: &[(&R, Option<&str>)],
        write: &Write,
    ) -> Result<(), StoreError> {
        for (record, _) in records {
            checked(*record)?;
        }
        let mut tx = self.begin().await?;
        for (record, expected_etag) in records {
            let stored = self.expect::<R>(&mut tx, record.id(), *expected_etag).await?;
            put::<R>(&mut tx, record, write, Some(stored.create_time), "update").await.map_err(|e| self.fail(e))?;
        }
        self.commit(tx).await
    }

    /// Removes a record.
    ///
    /// # Errors
    /// There is none, the etag given is not the stored one, or others refer to it and `referrers` refuses.
    pub async fn delete<R: Resource>(
        &self,
        id: &Id,
        expected_etag: Option<&str>,
        referrers: Referrers,
        write: &Write,
    ) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        self.expect::<R>(&mut tx, id, expected_etag).await?;
        if referrers == Referrers::Refuse {
            refuse_referred(&mut tx, R::COLLECTION, id.as_str()).await?;
        }
        let sql = format!("DELETE FROM {} WHERE id = ?", R::COLLECTION);
        sqlx::query(safe(sql)).bind(id.as_str()).execute(&mut *tx).await.map_err(|e| self.fail(e))?;
        audit(&mut tx, write, "delete", &name::<R>(id)).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }

    /// An error of the database as callers are told of it.
    fn told(&self, error: StoreError) -> StoreError {
        match error {
            StoreError::Database(error) => self.fail(error),
            other => other,
        }
    }

    /// The stored record, if its etag is the expected one.
    async fn expect<R: Resource>(
        &self,
        tx: &mut Transaction<'static, Sqlite>,
        id: &Id,
        expected: Option<&str>,
    ) -> Result<Stored<R>, StoreError> {
        let stored = find::<R>(tx, id).await.map_err(|e| self.told(e))?.ok_or_else(|| not_found::<R>(id))?;
        match expected {
            Some(given) if given != stored.etag => Err(StoreError::StaleEtag {
                collection: R::COLLECTION,
                id: id.to_string(),
                given: given.to_owned(),
                stored: stored.etag,
            }),
            _ => Ok(stored),
        }
    }
}

/// Refuses a record that does not pass its own check.
fn checked<R: Resource>(record: &R) -> Result<(), StoreError> {
    let faults = record.check();
    if faults.is_empty() { Ok(()) } else { Err(StoreError::Faulty(faults)) }
}

fn not_found<R: Resource>(id: &Id) -> StoreError {
    StoreError::NotFound { collection: R::COLLECTION, id: id.to_string() }
}

fn name<R: Resource>(id: &Id) -> String {
    format!("{}/{id}", R::COLLECTION)
}

async fn find<R: Resource>(connection: &mut SqliteConnection, id: &Id) -> Result<Option<Stored<R>>, StoreError> {
    let sql = format!("SELECT {} FROM {} WHERE id = ?", selected::<R>(), R::COLLECTION);
    let rows = sqlx::query(safe(sql)).bind(id.as_str()).fetch_all(&mut *connection).await;
    Ok(read_all::<R>(connection, &rows.map_err(StoreError::Database)?).await?.pop())
}

/// Stores a record in the place of the one that has its id, if there is one.
async fn put<R: Resource>(
    tx: &mut Transaction<'static, Sqlite>,
    record: &R,
    write: &Write,
    created: Option<Timestamp>,
    action: &str,
) -> Result<(), sqlx::Error> {
    let times = (created.unwrap_or(write.at).as_microsecond(), write.at.as_microsecond());
    insert::<R>(tx, Rows::of(record), times).await?;
    audit(tx, write, action, &name::<R>(record.id())).await
}

/// Writes the rows of a record, with its times of creation and of the last write.
pub(crate) async fn insert<R: Resource>(
    connection: &mut SqliteConnection,
    rows: Rows,
    (created, updated): (i64, i64),
) -> Result<(), sqlx::Error> {
    let id = rows.values.first().cloned().unwrap_or(Cell::Null);
    let names = selected::<R>();
    let marks = vec!["?"; rows.values.len() + 3].join(", ");
    // A record that is replaced goes with the entries of its lists.
    let sql = format!("INSERT OR REPLACE INTO {} ({names}) VALUES ({marks})", R::COLLECTION);
    let query = rows.values.into_iter().fold(sqlx::query(safe(sql)), crate::rows::bind);
    query.bind(rows.etag).bind(created).bind(updated).execute(&mut *connection).await?;
    for (list, entries) in R::LISTS.iter().zip(rows.lists) {
        let (table, names) = (list_table(R::COLLECTION, *list), list.columns());
        let marks = vec!["?"; names.len() + 2].join(", ");
        let sql = format!("INSERT INTO {table} (owner, place, {}) VALUES ({marks})", names.join(", "));
        for (place, values) in (0_i64..).zip(entries) {
            let query = crate::rows::bind(sqlx::query(safe(sql.clone())), id.clone()).bind(place);
            values.into_iter().fold(query, crate::rows::bind).execute(&mut *connection).await?;
        }
    }
    Ok(())
}

/// Binds what a filter compares with.
fn bind<'q>(query: Query<'q>, filter: Option<&'q Filter>) -> Query<'q> {
    filter.map_or_else(Vec::new, |f| f.values().iter().collect()).into_iter().fold(query, |query, value| match value {
        Value::Text(text) => query.bind(text.as_str()),
        Value::Number(number) => query.bind(*number),
        Value::Integer(integer) => query.bind(*integer),
    })
}
