//! Findings of a run: stored by chunk, read by spot and rank.

use std::collections::HashMap;
use std::hash::{Hash, Hasher};

use acoustics::units::{Db, Metres};
use domain::selection::{Assumption, Criteria, Desirability, Finding, Gains};
use sqlx::sqlite::SqliteRow;
use sqlx::{Row as _, Sqlite, Transaction};

use super::{StoredRun, as_i64};
use crate::error::StoreError;
use crate::store::{Store, crash_point, safe};
use crate::view::{AssumptionsView, DetailView, decode, encode};

/// Columns of a finding beside its run, in the order in which they are bound.
const COLUMNS: [&str; 25] = [
    "spot",
    "rank",
    "option",
    "score",
    "coverage_radius_m",
    "coverage_area_m2",
    "watch_footprint_m",
    "range_cell_m",
    "single_fish_probability",
    "dead_zone_height_m",
    "lure_over_vegetation_db",
    "headroom_db",
    "interference_fraction",
    "lure_gain_db",
    "bottom_gain_db",
    "working_gain_db",
    "clear_gain_db",
    "search_gain_db",
    "max_gain_db",
    "desirability_coverage",
    "desirability_clutter",
    "desirability_resolution",
    "desirability_interference",
    "detail",
    "assumptions",
];
/// Rows in one statement: enough to spread the cost of a call, few enough that the statement stays small in the cache.
const ROWS_A_STATEMENT: usize = 64;

/// Where a finding stands in the order of reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct FindingKey {
    /// Index of the spot in the run.
    pub spot: usize,
    /// Rank at the spot.
    pub rank: u32,
    /// Index of the option in the run.
    pub option: usize,
}

impl FindingKey {
    /// The key of a finding.
    #[must_use]
    pub const fn of(finding: &Finding) -> Self {
        Self { spot: finding.spot, rank: finding.rank, option: finding.option }
    }
}

/// Which findings to read.
#[derive(Debug, Clone, Copy, Default)]
pub struct FindingsQuery {
    /// Only this spot.
    pub spot: Option<usize>,
    /// Only ranks up to this.
    pub max_rank: Option<u32>,
    /// Only what comes after this one.
    pub after: Option<FindingKey>,
    /// At most this many.
    pub limit: u32,
}

impl Store {
    /// Stores the findings of a chunk together with its done-mark; nothing happens if the chunk is done already.
    ///
    /// # Errors
    /// The run has ended, or the database fails; nothing of the chunk is stored then.
    pub async fn save_chunk(&self, run: &StoredRun, chunk: u32, findings: &[Finding]) -> Result<(), StoreError> {
        let mut lists = AssumptionLists::default();
        let rows: Vec<_> = findings.iter().map(|finding| lists.row(finding)).collect::<Result<_, _>>()?;
        let mut tx = self.begin().await?;
        let marked = sqlx::query("INSERT OR IGNORE INTO run_chunks (run, chunk) VALUES (?, ?)")
            .bind(run.seq)
            .bind(i64::from(chunk))
            .execute(&mut *tx)
            .await
            .map_err(|error| self.fail(error))?;
        if marked.rows_affected() == 0 {
            return Ok(());
        }
        let counted = sqlx::query(
            "UPDATE runs SET findings_done = findings_done + ? WHERE seq = ? AND state IN ('PENDING', 'RUNNING')",
        )
        .bind(as_i64(findings.len()))
        .bind(run.seq)
        .execute(&mut *tx)
        .await
        .map_err(|error| self.fail(error))?;
        if counted.rows_affected() == 0 {
            return Err(StoreError::RunEnded { id: run.id.clone() });
        }
        crash_point(format_args!("chunk-{chunk}-marked"));
        put_lists(&mut tx, run.seq, &lists).await.map_err(|error| self.fail(error))?;
        put_findings(&mut tx, run.seq, &rows).await.map_err(|error| self.fail(error))?;
        crash_point(format_args!("chunk-{chunk}-written"));
        self.commit(tx).await?;
        crash_point(format_args!("chunk-{chunk}-committed"));
        Ok(())
    }

    /// Findings of a run, ordered by spot, then rank.
    ///
    /// # Errors
    /// The database fails.
    pub async fn findings(&self, run: &StoredRun, query: &FindingsQuery) -> Result<Vec<Finding>, StoreError> {
        // Row values compare like the primary key, which is therefore walked from the right place on.
        let after = query.after.map_or((-1, -1, -1), |key| (as_i64(key.spot), i64::from(key.rank), as_i64(key.option)));
        let at_spot = if query.spot.is_some() { "spot = ?" } else { "spot >= ?" };
        let sql = format!(
            "SELECT {}, (SELECT body FROM run_assumptions AS list WHERE list.run = found.run AND key = assumptions) \
             AS assumption_list FROM findings AS found \
             WHERE run = ? AND {at_spot} AND rank <= ? AND (spot, rank, option) > (?, ?, ?) \
             ORDER BY spot, rank, option LIMIT ?",
            COLUMNS.join(", ")
        );
        let rows = sqlx::query(safe(sql))
            .bind(run.seq)
            .bind(query.spot.map_or(after.0, as_i64))
            .bind(i64::from(query.max_rank.unwrap_or(u32::MAX)))
            .bind(after.0)
            .bind(after.1)
            .bind(after.2)
            .bind(i64::from(query.limit))
            .fetch_all(&mut *self.reader().await?)
            .await
            .map_err(|error| self.fail(error))?;
        let mut lists = HashMap::new();
        rows.iter().map(|row| read_finding(row, &mut lists)).collect()
    }

    /// The finding of one option at one spot.
    ///
    /// # Errors
    /// There is none (the chunk is not done), or the database fails.
    pub async fn finding(&self, run: &StoredRun, spot: usize, option: usize) -> Result<Finding, StoreError> {
        let query = FindingsQuery { spot: Some(spot), limit: u32::MAX, ..FindingsQuery::default() };
        let found = self.findings(run, &query).await?.into_iter().find(|finding| finding.option == option);
        found.ok_or_else(|| StoreError::NotFound {
            collection: "findings",
            id: format!("spot {spot}, option {option} of runs/{}", run.id),
        })
    }
}

/// The lists of assumptions of a chunk, each once: the same sentences recur from spot to spot.
#[derive(Default)]
struct AssumptionLists<'f> {
    keys: HashMap<ListOf<'f>, usize>,
    /// Key and JSON of each list.
    written: Vec<([u8; 16], String)>,
}

/// A finding with its JSON parts written.
struct FindingRow<'f> {
    finding: &'f Finding,
    detail: Option<String>,
    /// Key of its list of assumptions.
    assumptions: Option<[u8; 16]>,
}

impl<'f> AssumptionLists<'f> {
    fn row(&mut self, finding: &'f Finding) -> Result<FindingRow<'f>, StoreError> {
        let detail = DetailView::of(finding).map(|detail| encode(&detail)).transpose()?;
        let assumptions = if finding.assumptions.is_empty() { None } else { Some(self.key(&finding.assumptions)?) };
        Ok(FindingRow { finding, detail, assumptions })
    }

    fn key(&mut self, assumptions: &'f [Assumption]) -> Result<[u8; 16], StoreError> {
        if let Some((key, _)) = self.keys.get(&ListOf(assumptions)).and_then(|at| self.written.get(*at)) {
            return Ok(*key);
        }
        let body = encode(&AssumptionsView::from(assumptions))?;
        // The fingerprint of the content is the same in every chunk and after every restart.
        let mut key = [0; 16];
        blake3::Hasher::new().update(body.as_bytes()).finalize_xof().fill(&mut key);
        self.keys.insert(ListOf(assumptions), self.written.len());
        self.written.push((key, body));
        Ok(key)
    }
}

/// A list that is compared by what it says.
#[derive(PartialEq)]
struct ListOf<'f>(&'f [Assumption]);

// The figures in it are told or measured, and never NaN: equality is total.
impl Eq for ListOf<'_> {}

impl Hash for ListOf<'_> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        for Assumption { field, sentence } in self.0 {
            (field, &sentence.key).hash(state);
        }
    }
}

async fn put_lists(
    tx: &mut Transaction<'static, Sqlite>,
    run: i64,
    lists: &AssumptionLists<'_>,
) -> Result<(), sqlx::Error> {
    for (key, body) in &lists.written {
        sqlx::query("INSERT OR IGNORE INTO run_assumptions (run, key, body) VALUES (?, ?, ?)")
            .bind(run)
            .bind(key.as_slice())
            .bind(body.as_str())
            .execute(&mut **tx)
            .await?;
    }
    Ok(())
}

async fn put_findings(
    tx: &mut Transaction<'static, Sqlite>,
    run: i64,
    rows: &[FindingRow<'_>],
) -> Result<(), sqlx::Error> {
    let full = insert_sql(run, ROWS_A_STATEMENT);
    for part in rows.chunks(ROWS_A_STATEMENT) {
        let sql = if part.len() == ROWS_A_STATEMENT { full.clone() } else { insert_sql(run, part.len()) };
        let mut query = sqlx::query(safe(sql));
        for row in part {
            query = bind_row(query, row);
        }
        query.execute(&mut **tx).await?;
    }
    Ok(())
}

/// The statement that inserts so many findings of a run.
fn insert_sql(run: i64, rows: usize) -> String {
    let values = format!("({run}{})", ", ?".repeat(COLUMNS.len()));
    format!("INSERT INTO findings (run, {}) VALUES {}", COLUMNS.join(", "), vec![values; rows].join(", "))
}

type Query<'q> = sqlx::query::Query<'q, Sqlite, sqlx::sqlite::SqliteArguments>;

fn bind_row<'q>(query: Query<'q>, row: &FindingRow<'_>) -> Query<'q> {
    let Finding { spot, option, criteria, gains, desirability, score, rank, .. } = row.finding;
    query
        .bind(as_i64(*spot))
        .bind(i64::from(*rank))
        .bind(as_i64(*option))
        .bind(*score)
        .bind(criteria.coverage_radius.get())
        .bind(criteria.coverage_area_m2)
        .bind(criteria.watch_footprint.get())
        .bind(criteria.range_cell.get())
        .bind(criteria.single_fish_probability)
        .bind(criteria.dead_zone_height.get())
        .bind(criteria.lure_over_vegetation.map(Db::get))
        .bind(criteria.headroom.map(Db::get))
        .bind(criteria.interference_fraction)
        .bind(gains.lure.get())
        .bind(gains.bottom.get())
        .bind(gains.working.get())
        .bind(gains.clear.map(Db::get))
        .bind(gains.search.get())
        .bind(gains.max.get())
        .bind(desirability.coverage)
        .bind(desirability.clutter)
        .bind(desirability.resolution)
        .bind(desirability.interference)
        .bind(row.detail.clone())
        .bind(row.assumptions.map(|key| key.to_vec()))
}

/// Reads a row by the positions of `COLUMNS`; `lists` keeps what has been read of the lists of assumptions.
fn read_finding(row: &SqliteRow, lists: &mut HashMap<String, Vec<Assumption>>) -> Result<Finding, StoreError> {
    let bad = |error: sqlx::Error| StoreError::BadRecord(error.to_string());
    let real = |at: usize| row.try_get::<f64, _>(at).map_err(bad);
    let optional = |at: usize| Ok(row.try_get::<Option<f64>, _>(at).map_err(bad)?.map(Db::new));
    let metres = |at: usize| real(at).map(Metres::new);
    let gain = |at: usize| real(at).map(Db::new);
    let index = |at: usize| -> Result<usize, StoreError> {
        let value: i64 = row.try_get(at).map_err(bad)?;
        usize::try_from(value).map_err(|error| StoreError::BadRecord(error.to_string()))
    };
    let mut finding = Finding {
        spot: index(0)?,
        rank: row.try_get(1).map_err(bad)?,
        option: index(2)?,
        score: real(3)?,
        criteria: Criteria {
            coverage_radius: metres(4)?,
            coverage_area_m2: real(5)?,
            watch_footprint: metres(6)?,
            range_cell: metres(7)?,
            single_fish_probability: real(8)?,
            dead_zone_height: metres(9)?,
            lure_over_vegetation: optional(10)?,
            headroom: optional(11)?,
            interference_fraction: real(12)?,
        },
        gains: Gains {
            lure: gain(13)?,
            bottom: gain(14)?,
            working: gain(15)?,
            clear: optional(16)?,
            search: gain(17)?,
            max: gain(18)?,
        },
        desirability: Desirability {
            coverage: real(19)?,
            clutter: real(20)?,
            resolution: real(21)?,
            interference: real(22)?,
        },
        failures: Vec::new(),
        assumptions: Vec::new(),
        notices: Vec::new(),
        uncertainty: None,
    };
    if let Some(detail) = row.try_get::<Option<&str>, _>(23).map_err(bad)? {
        decode::<DetailView>(detail)?.restore(&mut finding);
    }
    if let Some(list) = row.try_get::<Option<&str>, _>(COLUMNS.len()).map_err(bad)? {
        finding.assumptions = match lists.get(list) {
            Some(known) => known.clone(),
            None => {
                let read = Vec::from(decode::<AssumptionsView>(list)?);
                lists.insert(list.to_owned(), read.clone());
                read
            }
        };
    }
    Ok(finding)
}
