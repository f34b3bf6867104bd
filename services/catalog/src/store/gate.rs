//! Tokens as they stand in the file, for every call that comes.
//!
//! Another program adds and revokes tokens while the service runs, and the next call must know. So the file is asked with every call whether
//! it has changed; but calls that come while it is being asked share the next answer, however many they are.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use sqlx::Sqlite;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::SqlitePool;
use tokio::sync::Mutex;

use super::Store;
use crate::error::StoreError;
use crate::token::{StoredToken, all_tokens};

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
    async fn tokens(&self) -> Result<Tokens, sqlx::Error> {
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

impl Store {
    /// The tokens as they stand in the file.
    pub(crate) async fn known_tokens(&self) -> Result<Tokens, StoreError> {
        self.gate.tokens().await.map_err(|error| self.fail(error))
    }
}
