//! Tokens as they stand in the file, for every call that comes.
//!
//! Another program adds and revokes tokens while the service runs, and the next call must know. So the file is asked with every call whether
//! it has changed; but calls that come while it is being asked share the next answer, however many they are.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use jiff::Timestamp;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{SqliteConnection, SqlitePool, SqliteRow};
use sqlx::{Row as _, Sqlite};
use tokio::sync::Mutex;

use crate::error::StoreError;
use crate::rows::timestamp;

/// All tokens by their keys.
pub(crate) type Tokens = Arc<HashMap<String, StoredToken>>;

/// What is known of the tokens.
#[derive(Debug, Clone)]
pub(crate) struct Gate {
    pool: SqlitePool,
    /// How often the file has been asked.
    rounds: Arc<AtomicU64>,
    known: Arc<Mutex<Known>>,
}

#[derive(Debug, Default)]
struct Known {
    /// Kept from round to round: what the file says of its changes is told to each connection by itself.
    connection: Option<PoolConnection<Sqlite>>,
    round: u64,
    version: i64,
    tokens: Tokens,
}

impl Gate {
    pub(crate) fn new(pool: SqlitePool) -> Self {
        Self { pool, rounds: Arc::default(), known: Arc::default() }
    }

    pub(crate) async fn close(&self) {
        self.known.lock().await.connection = None;
        self.pool.close().await;
    }

    /// The tokens, as a round has them that began after this was called.
    pub(crate) async fn tokens(&self) -> Result<Tokens, sqlx::Error> {
        let before = self.rounds.load(Ordering::Acquire);
        let mut known = self.known.lock().await;
        if known.round > before {
            return Ok(Arc::clone(&known.tokens));
        }
        let round = self.rounds.fetch_add(1, Ordering::AcqRel) + 1;
        let fresh = known.connection.is_none();
        let mut connection = match known.connection.take() {
            Some(connection) => connection,
            None => self.pool.acquire().await?,
        };
        // It changes with every commit of another connection, whichever program's.
        let version: i64 = sqlx::query_scalar("PRAGMA data_version").fetch_one(&mut *connection).await?;
        if fresh || version != known.version {
            known.tokens = Arc::new(all_tokens(&mut connection).await?);
            known.version = version;
        }
        known.round = round;
        known.connection = Some(connection);
        Ok(Arc::clone(&known.tokens))
    }
}

/// What a token allows; each role allows all that the ones before it do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Look at everything, and compute what is not stored.
    Read,
    /// Also change records, start runs, derive and render.
    Write,
    /// Also read the audit trail.
    Admin,
}

impl Role {
    /// Every role, the least first.
    pub const ALL: [Self; 3] = [Self::Read, Self::Write, Self::Admin];

    /// The role as people write it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Write => "write",
            Self::Admin => "admin",
        }
    }

    pub(crate) const fn column(self) -> &'static str {
        match self {
            Self::Read => "READ",
            Self::Write => "WRITE",
            Self::Admin => "ADMIN",
        }
    }

    fn of_column(text: &str) -> Result<Self, StoreError> {
        Self::ALL
            .into_iter()
            .find(|role| role.column() == text)
            .ok_or_else(|| StoreError::BadRecord(format!("a token has the role {text}")))
    }
}

/// A token as it is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredToken {
    /// Who holds it.
    pub name: String,
    /// By which its row is found.
    pub key: String,
    /// Hash of its secret.
    pub hash: [u8; 32],
    /// What it allows.
    pub role: Role,
    /// When it was made.
    pub create_time: Timestamp,
    /// When it becomes worthless.
    pub expire_time: Option<Timestamp>,
    /// When it was made worthless.
    pub revoke_time: Option<Timestamp>,
    /// When it was last used, to the minute.
    pub last_use_time: Option<Timestamp>,
}

impl StoredToken {
    /// Whether it is worth anything at that time.
    #[must_use]
    pub fn is_good(&self, now: Timestamp) -> bool {
        self.revoke_time.is_none() && self.expire_time.is_none_or(|end| now < end)
    }

    pub(crate) fn read(row: &SqliteRow) -> Result<Self, StoreError> {
        let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
        let time = |column: &str| -> Result<Option<Timestamp>, StoreError> {
            row.try_get::<Option<i64>, _>(column).map_err(bad)?.map(timestamp).transpose()
        };
        let hash: Vec<u8> = row.try_get("hash").map_err(bad)?;
        let role: String = row.try_get("role").map_err(bad)?;
        Ok(Self {
            name: row.try_get("name").map_err(bad)?,
            key: row.try_get("key").map_err(bad)?,
            hash: hash.try_into().map_err(|_| StoreError::BadRecord("a token's hash is cut short".to_owned()))?,
            role: Role::of_column(&role)?,
            create_time: timestamp(row.try_get("create_time").map_err(bad)?)?,
            expire_time: time("expire_time")?,
            revoke_time: time("revoke_time")?,
            last_use_time: time("last_use_time")?,
        })
    }
}

/// Every token by its key; a row that does not read lets nobody in.
async fn all_tokens(connection: &mut SqliteConnection) -> Result<HashMap<String, StoredToken>, sqlx::Error> {
    let rows = sqlx::query("SELECT * FROM tokens").fetch_all(connection).await?;
    let tokens = rows.iter().map(|row| StoredToken::read(row).map_err(|error| sqlx::Error::Decode(error.into())));
    tokens.map(|token| token.map(|token| (token.key.clone(), token))).collect()
}
