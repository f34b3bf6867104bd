//! Durable runs: what was asked, what is done, what was found.

use std::collections::BTreeMap;

use acoustics::units::{Db, Metres};
use jiff::Timestamp;
use planning::domain::selection::{Assumption, Criteria, Desirability, Finding, Gains, RunInput};
use sqlx::sqlite::SqliteRow;
use sqlx::{QueryBuilder, Row as _, Sqlite, Transaction};

use crate::error::StoreError;
use crate::resource::timestamp;
use crate::store::{Store, Write, audit, safe};
use crate::view::{AssumptionsView, DetailView, RunInputView};

const COLLECTION: &str = "runs";
/// Columns of a finding, in the order in which they are bound.
const COLUMNS: &str = "run, spot, option, rank, score, coverage_radius_m, coverage_area_m2, watch_footprint_m, range_cell_m, \
     single_fish_probability, shadow_height_m, cover_ratio_db, headroom_db, foreign_fraction, lure_gain_db, bottom_gain_db, \
     working_gain_db, clear_gain_db, search_gain_db, max_gain_db, desirability_coverage, desirability_clutter, \
     desirability_resolution, desirability_interference, detail, assumptions";
/// Rows in one statement: 26 values each, and SQLite takes 32,766.
const ROWS_A_STATEMENT: usize = 1_000;

/// States of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunState {
    /// Stored, not begun.
    Pending,
    /// Being worked on.
    Running,
    /// All findings stored.
    Succeeded,
    /// Ended by an error.
    Failed,
    /// Ended on request.
    Cancelled,
}

impl RunState {
    const ALL: [Self; 5] = [Self::Pending, Self::Running, Self::Succeeded, Self::Failed, Self::Cancelled];

    const fn name(self) -> &'static str {
        match self {
            Self::Pending => "PENDING",
            Self::Running => "RUNNING",
            Self::Succeeded => "SUCCEEDED",
            Self::Failed => "FAILED",
            Self::Cancelled => "CANCELLED",
        }
    }

    /// Whether the run has ended.
    #[must_use]
    pub const fn is_final(self) -> bool {
        matches!(self, Self::Succeeded | Self::Failed | Self::Cancelled)
    }
}

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

/// Which findings to read.
#[derive(Debug, Clone, Copy, Default)]
pub struct FindingsQuery {
    /// Only this spot.
    pub spot: Option<usize>,
    /// Only ranks up to this.
    pub max_rank: Option<u32>,
    /// Only after this spot and rank.
    pub after: Option<(usize, u32)>,
    /// At most this many.
    pub limit: u32,
}

impl Store {
    /// Stores a run, committed when this returns.
    ///
    /// # Errors
    /// The id or the request id is taken, or the database fails.
    pub async fn insert_run(&self, run: NewRun<'_>, write: &Write) -> Result<StoredRun, StoreError> {
        let input =
            serde_json::to_string(&RunInputView::from(run.input)).map_err(|e| StoreError::BadRecord(e.to_string()))?;
        let mut tx = self.begin().await?;
        let inserted = sqlx::query(
            "INSERT INTO runs (id, request_id, spec, input, state, spot_count, option_count, chunk_spots, create_time) \
             VALUES (?, ?, ?, ?, 'PENDING', ?, ?, ?, ?)",
        )
        .bind(&run.id)
        .bind(&run.request_id)
        .bind(&run.spec)
        .bind(input)
        .bind(as_i64(run.input.spots.len()))
        .bind(as_i64(run.input.options.len()))
        .bind(i64::from(run.chunk_spots))
        .bind(write.at.as_microsecond())
        .execute(&mut *tx)
        .await;
        if let Err(error) = inserted {
            let taken = error.as_database_error().is_some_and(|e| e.is_unique_violation());
            let id = run.request_id.unwrap_or(run.id);
            return Err(if taken {
                StoreError::AlreadyExists { collection: COLLECTION, id }
            } else {
                self.fail(error)
            });
        }
        audit(&mut tx, write, "start", &format!("runs/{}", run.id)).await.map_err(|e| self.fail(e))?;
        tx.commit().await.map_err(|e| self.fail(e))?;
        self.run(&run.id).await
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
        let sql = format!(
            "SELECT seq, id, request_id, spec, state, spot_count, option_count, chunk_spots, findings_done, \
             cancel_requested, error, result_hash, create_time, start_time, end_time FROM runs WHERE {condition}"
        );
        let rows = bind(sqlx::query(safe(sql))).fetch_all(self.readers()).await.map_err(|e| self.fail(e))?;
        rows.iter().map(read_run).collect()
    }

    /// Everything that a run is computed from.
    ///
    /// # Errors
    /// There is no such run.
    pub async fn run_input(&self, id: &str) -> Result<RunInput, StoreError> {
        let row = sqlx::query("SELECT input FROM runs WHERE id = ?")
            .bind(id)
            .fetch_optional(self.readers())
            .await
            .map_err(|e| self.fail(e))?
            .ok_or_else(|| StoreError::NotFound { collection: COLLECTION, id: id.to_owned() })?;
        let body: String = row.try_get(0).map_err(|e| self.fail(e))?;
        let view: RunInputView = serde_json::from_str(&body).map_err(|e| StoreError::BadRecord(e.to_string()))?;
        view.try_into().map_err(|e: planning::domain::BadId| StoreError::BadRecord(e.to_string()))
    }

    /// Chunks of a run that are done.
    ///
    /// # Errors
    /// The database fails.
    pub async fn done_chunks(&self, run: &StoredRun) -> Result<Vec<u32>, StoreError> {
        let rows = sqlx::query("SELECT chunk FROM run_chunks WHERE run = ? ORDER BY chunk")
            .bind(run.seq)
            .fetch_all(self.readers())
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
        tx.commit().await.map_err(|e| self.fail(e))
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
        tx.commit().await.map_err(|e| self.fail(e))
    }

    /// Stores the findings of a chunk together with its done-mark; nothing happens if the chunk is done already.
    ///
    /// # Errors
    /// The database fails; nothing of the chunk is stored then.
    pub async fn save_chunk(&self, run: &StoredRun, chunk: u32, findings: &[Finding]) -> Result<(), StoreError> {
        let mut texts = Texts::default();
        let rows: Vec<_> = findings.iter().map(|f| texts.row(f)).collect::<Result<_, _>>()?;
        let mut tx = self.begin().await?;
        let marked = sqlx::query("INSERT OR IGNORE INTO run_chunks (run, chunk) VALUES (?, ?)")
            .bind(run.seq)
            .bind(i64::from(chunk))
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        if marked.rows_affected() == 0 {
            return Ok(());
        }
        put_findings(&mut tx, run.seq, &rows, &texts).await.map_err(|e| self.fail(e))?;
        sqlx::query("UPDATE runs SET findings_done = findings_done + ? WHERE seq = ?")
            .bind(as_i64(findings.len()))
            .bind(run.seq)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        tx.commit().await.map_err(|e| self.fail(e))
    }

    /// Findings of a run, ordered by spot, then rank.
    ///
    /// # Errors
    /// The database fails.
    pub async fn findings(&self, run: &StoredRun, query: &FindingsQuery) -> Result<Vec<Finding>, StoreError> {
        let (after_spot, after_rank) = query.after.map_or((-1, 0), |(spot, rank)| (as_i64(spot), i64::from(rank)));
        let (first, last) = query.spot.map_or((0, i64::MAX), |spot| (as_i64(spot), as_i64(spot)));
        let sql = format!(
            "SELECT {COLUMNS}, (SELECT body FROM run_texts t WHERE t.run = f.run AND t.key = f.assumptions) AS text \
             FROM findings f WHERE run = ? AND spot BETWEEN max(?, ?) AND ? AND (spot > ? OR rank > ?) AND rank <= ? \
             ORDER BY spot, rank LIMIT ?"
        );
        let rows = sqlx::query(safe(sql))
            .bind(run.seq)
            .bind(first)
            .bind(after_spot)
            .bind(last)
            .bind(after_spot)
            .bind(after_rank)
            .bind(i64::from(query.max_rank.unwrap_or(u32::MAX)))
            .bind(i64::from(query.limit))
            .fetch_all(self.readers())
            .await
            .map_err(|e| self.fail(e))?;
        rows.iter().map(read_finding).collect()
    }

    /// The finding of one option at one spot.
    ///
    /// # Errors
    /// There is none (the chunk is not done), or the database fails.
    pub async fn finding(&self, run: &StoredRun, spot: usize, option: usize) -> Result<Finding, StoreError> {
        let all = self
            .findings(run, &FindingsQuery { spot: Some(spot), limit: u32::MAX, ..FindingsQuery::default() })
            .await?;
        all.into_iter().find(|f| f.option == option).ok_or_else(|| StoreError::NotFound {
            collection: "findings",
            id: format!("{} of {} at spot {spot}", option, run.id),
        })
    }
}

type Query = sqlx::query::Query<'static, Sqlite, sqlx::sqlite::SqliteArguments>;

/// The sentences of a chunk's assumptions, each once.
#[derive(Default)]
struct Texts {
    known: BTreeMap<i64, String>,
}

/// A finding with its JSON parts written.
struct FindingRow<'a> {
    finding: &'a Finding,
    detail: Option<String>,
    assumptions: Option<i64>,
}

impl Texts {
    fn row<'a>(&mut self, finding: &'a Finding) -> Result<FindingRow<'a>, StoreError> {
        let bad = |e: serde_json::Error| StoreError::BadRecord(e.to_string());
        let detail = DetailView::of(finding).map(|d| serde_json::to_string(&d)).transpose().map_err(bad)?;
        let assumptions = if finding.assumptions.is_empty() {
            None
        } else {
            let body = serde_json::to_string(&AssumptionsView::from(finding.assumptions.as_slice())).map_err(bad)?;
            let key = key_of(&body);
            self.known.entry(key).or_insert(body);
            Some(key)
        };
        Ok(FindingRow { finding, detail, assumptions })
    }
}

/// The first 63 bits of a text's fingerprint.
fn key_of(body: &str) -> i64 {
    let hash = blake3::hash(body.as_bytes());
    let mut first = [0; 8];
    first.copy_from_slice(hash.as_bytes().first_chunk::<8>().unwrap_or(&[0; 8]));
    i64::from_le_bytes(first) & i64::MAX
}

async fn put_findings(
    tx: &mut Transaction<'static, Sqlite>,
    run: i64,
    rows: &[FindingRow<'_>],
    texts: &Texts,
) -> Result<(), sqlx::Error> {
    for (key, body) in &texts.known {
        sqlx::query("INSERT OR IGNORE INTO run_texts (run, key, body) VALUES (?, ?, ?)")
            .bind(run)
            .bind(key)
            .bind(body)
            .execute(&mut **tx)
            .await?;
    }
    for part in rows.chunks(ROWS_A_STATEMENT) {
        let mut query = QueryBuilder::<Sqlite>::new(format!("INSERT INTO findings ({COLUMNS}) "));
        query.push_values(part, |mut b, row| {
            let (f, c, g, d) = (row.finding, row.finding.criteria, row.finding.gains, row.finding.desirability);
            b.push_bind(run).push_bind(as_i64(f.spot)).push_bind(as_i64(f.option)).push_bind(i64::from(f.rank));
            for value in [
                Some(f.score),
                Some(c.coverage_radius.get()),
                Some(c.coverage_area_m2),
                Some(c.watch_footprint.get()),
                Some(c.range_cell.get()),
                Some(c.single_fish_probability),
                Some(c.shadow_height.get()),
                c.cover_ratio.map(Db::get),
                c.headroom.map(Db::get),
                Some(c.foreign_fraction),
                Some(g.lure.get()),
                Some(g.bottom.get()),
                Some(g.working.get()),
                g.clear.map(Db::get),
                Some(g.search.get()),
                Some(g.max.get()),
                Some(d.coverage),
                Some(d.clutter),
                Some(d.resolution),
                Some(d.interference),
            ] {
                b.push_bind(value);
            }
            b.push_bind(row.detail.as_deref()).push_bind(row.assumptions);
        });
        query.build().execute(&mut **tx).await?;
    }
    Ok(())
}

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

fn read_finding(row: &SqliteRow) -> Result<Finding, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    let json = |e: serde_json::Error| StoreError::BadRecord(e.to_string());
    let real = |name: &str| row.try_get::<f64, _>(name).map_err(bad);
    let optional = |name: &str| row.try_get::<Option<f64>, _>(name).map_err(bad);
    let index = |name: &str| -> Result<usize, StoreError> {
        let value: i64 = row.try_get(name).map_err(bad)?;
        usize::try_from(value).map_err(|e| StoreError::BadRecord(e.to_string()))
    };
    let mut finding = Finding {
        spot: index("spot")?,
        option: index("option")?,
        criteria: Criteria {
            coverage_radius: Metres::new(real("coverage_radius_m")?),
            coverage_area_m2: real("coverage_area_m2")?,
            watch_footprint: Metres::new(real("watch_footprint_m")?),
            range_cell: Metres::new(real("range_cell_m")?),
            single_fish_probability: real("single_fish_probability")?,
            shadow_height: Metres::new(real("shadow_height_m")?),
            cover_ratio: optional("cover_ratio_db")?.map(Db::new),
            headroom: optional("headroom_db")?.map(Db::new),
            foreign_fraction: real("foreign_fraction")?,
        },
        gains: Gains {
            lure: Db::new(real("lure_gain_db")?),
            bottom: Db::new(real("bottom_gain_db")?),
            working: Db::new(real("working_gain_db")?),
            clear: optional("clear_gain_db")?.map(Db::new),
            search: Db::new(real("search_gain_db")?),
            max: Db::new(real("max_gain_db")?),
        },
        desirability: Desirability {
            coverage: real("desirability_coverage")?,
            clutter: real("desirability_clutter")?,
            resolution: real("desirability_resolution")?,
            interference: real("desirability_interference")?,
        },
        score: real("score")?,
        rank: row.try_get("rank").map_err(bad)?,
        failures: Vec::new(),
        assumptions: Vec::new(),
        notices: Vec::new(),
        uncertainty: None,
    };
    if let Some(detail) = row.try_get::<Option<String>, _>("detail").map_err(bad)? {
        serde_json::from_str::<DetailView>(&detail).map_err(json)?.restore(&mut finding);
    }
    if let Some(text) = row.try_get::<Option<String>, _>("text").map_err(bad)? {
        let view: AssumptionsView = serde_json::from_str(&text).map_err(json)?;
        finding.assumptions = Vec::<Assumption>::from(view);
    }
    Ok(finding)
}

/// A count or an index as SQLite's integer.
fn as_i64(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
