//! Records of the catalog, one module a resource, and what can be done with any of them.

mod booking;
mod sensor;
mod shelter;
mod spot;
mod survey;
mod target;
mod unit;

use domain::{Fault, Id};
use jiff::Timestamp;
use sqlx::sqlite::{SqliteArguments, SqliteRow};
use sqlx::{Row as _, Sqlite, Transaction};

use crate::error::StoreError;
use crate::filter::{Field, Filter, Value};
use crate::remove::{Referrers, refuse_referred};
use crate::store::{Store, Write, audit, safe, timestamp};

/// A record of the catalog. Another one is a table, a view, and a module beside this one.
pub trait Resource: body::Body + Clone + Send + Sync + 'static {
    /// Collection in resource names, and the table that it lies in.
    const COLLECTION: &'static str;
    /// What a filter may name.
    const FIELDS: &'static [Field];
    /// The record's id.
    fn id(&self) -> &Id;
    /// Every fault of the record.
    fn faults(&self) -> Vec<Fault>;
}

/// Sealed: how a record lies in its row.
pub(crate) mod body {
    use crate::error::StoreError;

    pub trait Body: Sized {
        /// The record as JSON in SI units.
        #[doc(hidden)]
        fn encode(&self) -> Result<String, StoreError> {
            let mut body = Vec::new();
            self.encode_into(&mut body).map(str::to_owned)
        }
        /// The same, in room that is at hand.
        #[doc(hidden)]
        fn encode_into<'b>(&self, room: &'b mut Vec<u8>) -> Result<&'b str, StoreError>;
        /// The record from such JSON.
        #[doc(hidden)]
        fn decode(body: &str) -> Result<Self, StoreError>;
    }
}

/// Ties a record to its view.
macro_rules! stored_as {
    ($record:ty, $view:ty) => {
        impl crate::resource::body::Body for $record {
            fn encode_into<'b>(&self, room: &'b mut Vec<u8>) -> Result<&'b str, crate::error::StoreError> {
                crate::view::encode_into(&<$view>::from(self), room)
            }

            fn decode(body: &str) -> Result<Self, crate::error::StoreError> {
                let view: $view = crate::view::decode(body)?;
                view.try_into().map_err(|error: domain::BadId| crate::error::StoreError::BadRecord(error.to_string()))
            }
        }
    };
}
pub(crate) use stored_as;

/// The names of a table of choices.
pub(crate) const fn names<T, const N: usize>(choices: &[(&'static str, T); N]) -> [&'static str; N] {
    let mut names = [""; N];
    let mut at = 0;
    while at < N {
        #[allow(
            clippy::indexing_slicing,
            reason = "a constant is evaluated by the compiler, which refuses a wrong index"
        )]
        {
            names[at] = choices[at].0;
        }
        at += 1;
    }
    names
}

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

/// Etag of a stored body.
pub(crate) fn etag<T: for<'h> From<&'h str>>(body: &str) -> T {
    let hash = blake3::hash(body.as_bytes()).to_hex();
    T::from(hash.get(..20).unwrap_or_default())
}

fn read<R: Resource>(row: &SqliteRow) -> Result<Stored<R>, StoreError> {
    let column = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    let body: String = row.try_get("body").map_err(column)?;
    Ok(Stored {
        record: R::decode(&body)?,
        etag: row.try_get("etag").map_err(column)?,
        create_time: timestamp(row.try_get("create_time").map_err(column)?)?,
        update_time: timestamp(row.try_get("update_time").map_err(column)?)?,
    })
}

impl Store {
    /// One record.
    ///
    /// # Errors
    /// There is none.
    pub async fn get<R: Resource>(&self, id: &Id) -> Result<Stored<R>, StoreError> {
        let sql = format!("SELECT * FROM {} WHERE id = ?", R::COLLECTION);
        let row = sqlx::query(safe(sql)).bind(id.as_str()).fetch_optional(&mut *self.reader().await?).await;
        match row.map_err(|e| self.fail(e))? {
            Some(row) => read(&row),
            None => Err(not_found::<R>(id)),
        }
    }

    /// Those of some ids that exist, in no order.
    ///
    /// # Errors
    /// The database fails.
    pub async fn get_many<R: Resource>(&self, ids: &[Id]) -> Result<Vec<Stored<R>>, StoreError> {
        let mut found = Vec::with_capacity(ids.len());
        for part in ids.chunks(500) {
            let marks = vec!["?"; part.len()].join(", ");
            let sql = format!("SELECT * FROM {} WHERE id IN ({marks})", R::COLLECTION);
            let query = part.iter().fold(sqlx::query(safe(sql)), |query, id| query.bind(id.as_str()));
            for row in query.fetch_all(&mut *self.reader().await?).await.map_err(|e| self.fail(e))? {
                found.push(read(&row)?);
            }
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
        let total_sql = format!("SELECT count(*) FROM {} WHERE {condition}", R::COLLECTION);
        let total = bind(sqlx::query(safe(total_sql)), query.filter.as_ref())
            .fetch_one(&mut *reader)
            .await
            .and_then(|row| row.try_get::<i64, _>(0))
            .map_err(|e| self.fail(e))?;
        let sql = format!("SELECT * FROM {} WHERE ({condition}) AND id > ? ORDER BY id LIMIT ?", R::COLLECTION);
        let rows = bind(sqlx::query(safe(sql)), query.filter.as_ref())
            .bind(query.after.as_ref().map_or("", Id::as_str))
            .bind(i64::from(query.limit) + 1)
            .fetch_all(&mut *reader)
            .await
            .map_err(|e| self.fail(e))?;
        let mut items = rows.iter().map(read).collect::<Result<Vec<_>, _>>()?;
        let limit = usize::try_from(query.limit).unwrap_or(usize::MAX);
        let more = items.len() > limit;
        items.truncate(limit);
        Ok(Page { items, more, total: u64::try_from(total).unwrap_or(0) })
    }

    /// Stores a new record.
    ///
    /// # Errors
    /// The record is faulty, or its id is taken.
    pub async fn create<R: Resource>(&self, record: &R, write: &Write) -> Result<Stored<R>, StoreError> {
        let body = checked(record)?;
        let mut tx = self.begin().await?;
        if find::<R>(&mut tx, record.id()).await.map_err(|e| self.fail(e))?.is_some() {
            return Err(StoreError::AlreadyExists { collection: R::COLLECTION, id: record.id().to_string() });
        }
        put::<R>(&mut tx, record, &body, write, None, "create").await.map_err(|e| self.fail(e))?;
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
        let body = checked(record)?;
        let mut tx = self.begin().await?;
        let stored = self.expect::<R>(&mut tx, record.id(), expected_etag).await?;
        put::<R>(&mut tx, record, &body, write, Some(stored.create_time), "update").await.map_err(|e| self.fail(e))?;
        self.commit(tx).await?;
        self.get(record.id()).await
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

    /// The stored record, if its etag is the expected one.
    async fn expect<R: Resource>(
        &self,
        tx: &mut Transaction<'static, Sqlite>,
        id: &Id,
        expected: Option<&str>,
    ) -> Result<Stored<R>, StoreError> {
        let row = find::<R>(tx, id).await.map_err(|e| self.fail(e))?.ok_or_else(|| not_found::<R>(id))?;
        let stored: Stored<R> = read(&row)?;
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

/// The record as JSON, if it passes its own checks.
fn checked<R: Resource>(record: &R) -> Result<String, StoreError> {
    let faults = record.faults();
    if faults.is_empty() { record.encode() } else { Err(StoreError::Faulty(faults)) }
}

fn not_found<R: Resource>(id: &Id) -> StoreError {
    StoreError::NotFound { collection: R::COLLECTION, id: id.to_string() }
}

fn name<R: Resource>(id: &Id) -> String {
    format!("{}/{id}", R::COLLECTION)
}

async fn find<R: Resource>(tx: &mut Transaction<'static, Sqlite>, id: &Id) -> Result<Option<SqliteRow>, sqlx::Error> {
    let sql = format!("SELECT * FROM {} WHERE id = ?", R::COLLECTION);
    sqlx::query(safe(sql)).bind(id.as_str()).fetch_optional(&mut **tx).await
}

async fn put<R: Resource>(
    tx: &mut Transaction<'static, Sqlite>,
    record: &R,
    body: &str,
    write: &Write,
    created: Option<Timestamp>,
    action: &str,
) -> Result<(), sqlx::Error> {
    let sql = format!(
        "INSERT OR REPLACE INTO {} (id, body, etag, create_time, update_time) VALUES (?, ?, ?, ?, ?)",
        R::COLLECTION
    );
    sqlx::query(safe(sql))
        .bind(record.id().as_str())
        .bind(body)
        .bind(etag::<String>(body))
        .bind(created.unwrap_or(write.at).as_microsecond())
        .bind(write.at.as_microsecond())
        .execute(&mut **tx)
        .await?;
    audit(tx, write, action, &name::<R>(record.id())).await
}

type Query<'q> = sqlx::query::Query<'q, Sqlite, SqliteArguments>;

/// Binds what a filter compares with.
fn bind<'q>(query: Query<'q>, filter: Option<&'q Filter>) -> Query<'q> {
    filter.map_or_else(Vec::new, |f| f.values().iter().collect()).into_iter().fold(query, |query, value| match value {
        Value::Text(text) => query.bind(text.as_str()),
        Value::Number(number) => query.bind(*number),
        Value::Integer(integer) => query.bind(*integer),
    })
}
