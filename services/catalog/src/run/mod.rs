//! Durable runs: what was asked, what is done, what was found.

mod finding;
pub(crate) mod state;

use domain::selection::RunInput;
use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{Row as _, Sqlite};

use crate::error::StoreError;
use crate::rows::timestamp;
use crate::store::{Store, Write, audit, crash_point, safe};
use crate::view::{RunInputView, decode, encode};

pub use finding::{FindingKey, FindingsQuery};
pub use state::RunState;

const COLLECTION: &str = "runs";
const COLUMNS: &str = "seq, id, request_id, spec, state, spot_count, option_count, chunk_spots, findings_done, \
     cancel_requested, error, result_hash, create_time, start_time, end_time";

/// A run to be stored.
#[derive(Debug, Clone)]
pub struct NewRun<'a> {
    /// Id of the run.
    pub id: String,
    /// The caller's own name for the request, if any.
    pub request_id: Option<String>,
    /// What was asked, in a form of the caller's; given back as it is.
    pub spec: Vec<u8>,
    /// Everything it is computed from.
    pub input: &'a RunInput,
    /// Spots in a chunk.
    pub chunk_spots: u32,
}

/// A run as it is stored.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredRun {
    /// Position in the order of creation.
    pub seq: i64,
    /// Id.
    pub id: String,
    /// The caller's own name for the request.
    pub request_id: Option<String>,
    /// What was asked.
    pub spec: Vec<u8>,
    /// State.
    pub state: RunState,
    /// Spots in the run.
    pub spot_count: u32,
    /// Options in the run.
    pub option_count: u32,
    /// Spots in a chunk.
    pub chunk_spots: u32,
    /// Findings stored so far.
    pub findings_done: u64,
    /// Whether somebody asked to cancel it.
    pub cancel_requested: bool,
    /// What went wrong.
    pub error: String,
    /// Fingerprint of all findings.
    pub result_hash: String,
    /// When it was stored.
    pub create_time: Timestamp,
    /// When it was begun.
    pub start_time: Option<Timestamp>,
    /// When it ended.
    pub end_time: Option<Timestamp>,
}

impl StoredRun {
    /// Findings at the end.
    #[must_use]
    pub fn findings_total(&self) -> u64 {
        u64::from(self.spot_count) * u64::from(self.option_count)
    }

    /// Chunks in all.
    #[must_use]
    pub fn chunk_count(&self) -> u32 {
        self.spot_count.div_ceil(self.chunk_spots.max(1))
    }
}

impl Store {
    /// Stores a run, committed when this returns.
    ///
    /// # Errors
    /// The id or the request id is taken, or the database fails.
    pub async fn insert_run(&self, run: NewRun<'_>, write: &Write) -> Result<StoredRun, StoreError> {
        let input = encode(&RunInputView::from(run.input))?;
        let mut tx = self.begin().await?;
        let inserted = sqlx::query(safe(format!(
            "INSERT INTO runs (id, request_id, spec, state, spot_count, option_count, chunk_spots, create_time) \
             VALUES (?, ?, ?, 'PENDING', ?, ?, ?, ?) RETURNING {COLUMNS}"
        )))
        .bind(&run.id)
        .bind(&run.request_id)
        .bind(&run.spec)
        .bind(as_i64(run.input.spots.len()))
        .bind(as_i64(run.input.options.len()))
        .bind(i64::from(run.chunk_spots))
        .bind(write.at.as_microsecond())
        .fetch_one(&mut *tx)
        .await
        .map_err(|error| match error.as_database_error() {
            Some(said) if said.is_unique_violation() => {
                StoreError::AlreadyExists { collection: COLLECTION, id: run.id.clone() }
            }
            _ => self.fail(error),
        })?;
        let stored = read_run(&inserted)?;
        sqlx::query("INSERT INTO run_inputs (run, body) VALUES (?, ?)")
            .bind(stored.seq)
            .bind(input)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        audit(&mut tx, write, "start", &format!("runs/{}", run.id)).await.map_err(|e| self.fail(e))?;
        crash_point(format_args!("run-written"));
        self.commit(tx).await?;
        crash_point(format_args!("run-committed"));
        Ok(stored)
    }

    /// One run.
    ///
    /// # Errors
    /// There is none.
    pub async fn run(&self, id: &str) -> Result<StoredRun, StoreError> {
        let found = self.runs_where("id = ?", |q| q.bind(id.to_owned())).await?.pop();
        found.ok_or_else(|| StoreError::NotFound { collection: COLLECTION, id: id.to_owned() })
    }

    /// The run of a request id, if there is one.
    ///
    /// # Errors
    /// The database fails.
    pub async fn run_by_request_id(&self, request_id: &str) -> Result<Option<StoredRun>, StoreError> {
        Ok(self.runs_where("request_id = ?", |q| q.bind(request_id.to_owned())).await?.pop())
    }

    /// Runs that have not ended, oldest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn unfinished_runs(&self) -> Result<Vec<StoredRun>, StoreError> {
        self.runs_where("state IN ('PENDING', 'RUNNING') ORDER BY seq", |q| q).await
    }

    /// Runs, newest first: at most `limit`, only those older than `before`.
    ///
    /// # Errors
    /// The database fails.
    pub async fn list_runs(&self, before: Option<i64>, limit: u32) -> Result<Vec<StoredRun>, StoreError> {
        let condition = "seq < ? ORDER BY seq DESC LIMIT ?";
        self.runs_where(condition, |q| q.bind(before.unwrap_or(i64::MAX)).bind(i64::from(limit))).await
    }

    async fn runs_where(
        &self,
        condition: &str,
        bind: impl FnOnce(Query) -> Query,
    ) -> Result<Vec<StoredRun>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM runs WHERE {condition}");
        let rows =
            bind(sqlx::query(safe(sql))).fetch_all(&mut *self.reader().await?).await.map_err(|e| self.fail(e))?;
        rows.iter().map(read_run).collect()
    }

    /// Everything that a run is computed from.
    ///
    /// # Errors
    /// There is no such run.
    pub async fn run_input(&self, id: &str) -> Result<RunInput, StoreError> {
        let row = sqlx::query("SELECT body FROM run_inputs JOIN runs ON seq = run WHERE id = ?")
            .bind(id)
            .fetch_optional(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?
            .ok_or_else(|| StoreError::NotFound { collection: COLLECTION, id: id.to_owned() })?;
        let body: String = row.try_get(0).map_err(|e| self.fail(e))?;
        decode::<RunInputView>(&body)?.try_into()
    }

    /// Chunks of a run that are done.
    ///
    /// # Errors
    /// The database fails.
    pub async fn done_chunks(&self, run: &StoredRun) -> Result<Vec<u32>, StoreError> {
        let rows = sqlx::query("SELECT chunk FROM run_chunks WHERE run = ? ORDER BY chunk")
            .bind(run.seq)
            .fetch_all(&mut *self.reader().await?)
            .await
            .map_err(|e| self.fail(e))?;
        rows.iter().map(|row| row.try_get::<u32, _>(0).map_err(|e| self.fail(e))).collect()
    }

    /// Marks a run as begun; no effect on one that was begun before.
    ///
    /// # Errors
    /// The database fails.
    pub async fn begin_run(&self, run: &StoredRun, at: Timestamp) -> Result<(), StoreError> {
        self.execute(
            sqlx::query(
                "UPDATE runs SET state = 'RUNNING', start_time = coalesce(start_time, ?) \
                 WHERE seq = ? AND state IN ('PENDING', 'RUNNING')",
            )
            .bind(at.as_microsecond())
            .bind(run.seq),
        )
        .await
    }

    /// Asks for a run to be cancelled; no effect on one that has ended.
    ///
    /// # Errors
    /// The database fails.
    pub async fn request_cancel(&self, run: &StoredRun, write: &Write) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        sqlx::query("UPDATE runs SET cancel_requested = 1 WHERE seq = ? AND state IN ('PENDING', 'RUNNING')")
            .bind(run.seq)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        audit(&mut tx, write, "cancel", &format!("runs/{}", run.id)).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }

    /// Ends a run; no effect on one that has ended.
    ///
    /// # Errors
    /// The database fails.
    pub async fn finish_run(
        &self,
        run: &StoredRun,
        state: RunState,
        error: &str,
        result_hash: &str,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        crash_point(format_args!("run-end-unwritten"));
        self.execute(
            sqlx::query(
                "UPDATE runs SET state = ?, error = ?, result_hash = ?, end_time = ? \
                 WHERE seq = ? AND state IN ('PENDING', 'RUNNING')",
            )
            .bind(state.name())
            .bind(error.to_owned())
            .bind(result_hash.to_owned())
            .bind(at.as_microsecond())
            .bind(run.seq),
        )
        .await
    }

    async fn execute(&self, query: Query) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        query.execute(&mut *tx).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }
}

type Query = sqlx::query::Query<'static, Sqlite, sqlx::sqlite::SqliteArguments>;

fn read_run(row: &SqliteRow) -> Result<StoredRun, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    let state: String = row.try_get("state").map_err(bad)?;
    let optional = |name: &str| -> Result<Option<Timestamp>, StoreError> {
        row.try_get::<Option<i64>, _>(name).map_err(bad)?.map(timestamp).transpose()
    };
    Ok(StoredRun {
        seq: row.try_get("seq").map_err(bad)?,
        id: row.try_get("id").map_err(bad)?,
        request_id: row.try_get("request_id").map_err(bad)?,
        spec: row.try_get("spec").map_err(bad)?,
        state: RunState::ALL
            .into_iter()
            .find(|s| s.name() == state)
            .ok_or_else(|| StoreError::BadRecord(format!("run state '{state}'")))?,
        spot_count: row.try_get("spot_count").map_err(bad)?,
        option_count: row.try_get("option_count").map_err(bad)?,
        chunk_spots: row.try_get("chunk_spots").map_err(bad)?,
        findings_done: u64::try_from(row.try_get::<i64, _>("findings_done").map_err(bad)?).unwrap_or(0),
        cancel_requested: row.try_get::<i64, _>("cancel_requested").map_err(bad)? != 0,
        error: row.try_get("error").map_err(bad)?,
        result_hash: row.try_get("result_hash").map_err(bad)?,
        create_time: timestamp(row.try_get("create_time").map_err(bad)?)?,
        start_time: optional("start_time")?,
        end_time: optional("end_time")?,
    })
}

/// A count or an index as SQLite's integer.
fn as_i64(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
