//! Connections that read. A statement that may look at every record stops when the call that asked for it has gone away, and when it
//! takes too long.

use std::ops::{Deref, DerefMut};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use sqlx::Sqlite;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqlitePool};

use super::Store;
use super::open::pool;
use crate::error::StoreError;

/// How long one statement of a caller may read.
pub(crate) const MOST_READING: Duration = Duration::from_secs(20);
/// Steps of SQLite's machine after which a statement asks whether it is still wanted: some hundred microseconds.
const STEPS: i32 = 10_000;
/// Connections for listings through a filter, which may look at every record: these wait for each other and for nothing else.
const SCANS: u32 = 2;

/// The pools. They are apart so that slow reading never keeps quick reading waiting.
#[derive(Debug, Clone)]
pub(crate) struct Readers {
    quick: SqlitePool,
    scans: SqlitePool,
}

impl Readers {
    /// Connections open when they are first needed: a start does not wait for them.
    pub(crate) fn new(connect: &SqliteConnectOptions, quick: u32) -> Self {
        let lazy = |connections: u32| pool(connections).connect_lazy_with(connect.clone());
        Self { quick: lazy(quick.max(1)), scans: lazy(SCANS) }
    }

    pub(crate) async fn close(&self) {
        self.scans.close().await;
        self.quick.close().await;
    }
}

/// A connection that reads for one call.
pub(crate) struct Reader {
    connection: PoolConnection<Sqlite>,
    /// Stops the statement in hand once it is set, where that may take long.
    dropped: Option<Arc<AtomicBool>>,
}

impl Reader {
    async fn quick(pool: &SqlitePool) -> Result<Self, sqlx::Error> {
        Ok(Self { connection: pool.acquire().await?, dropped: None })
    }

    /// One whose statement ends with this, and when it takes too long.
    async fn bounded(pool: &SqlitePool) -> Result<Self, sqlx::Error> {
        let mut connection = pool.acquire().await?;
        let dropped = Arc::new(AtomicBool::new(false));
        let (gone, began) = (Arc::clone(&dropped), Instant::now());
        // It takes the place of the one that the last reader left behind.
        connection
            .lock_handle()
            .await?
            .set_progress_handler(STEPS, move || !gone.load(Ordering::Relaxed) && began.elapsed() < MOST_READING);
        Ok(Self { connection, dropped: Some(dropped) })
    }
}

impl Deref for Reader {
    type Target = SqliteConnection;

    fn deref(&self) -> &SqliteConnection {
        &self.connection
    }
}

impl DerefMut for Reader {
    fn deref_mut(&mut self) -> &mut SqliteConnection {
        &mut self.connection
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        if let Some(dropped) = &self.dropped {
            dropped.store(true, Ordering::Relaxed);
        }
    }
}

impl Store {
    /// A connection for what is found by its key, and for work that takes as long as it takes.
    pub(crate) async fn reader(&self) -> Result<Reader, StoreError> {
        Reader::quick(&self.readers.quick).await.map_err(|error| self.fail(error))
    }

    /// A connection for what may look at every record.
    pub(crate) async fn scanner(&self) -> Result<Reader, StoreError> {
        Reader::bounded(&self.readers.scans).await.map_err(|error| self.fail(error))
    }
}
