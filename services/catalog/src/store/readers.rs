//! Connections that read. A statement that may look at every record stops when the call that asked for it has gone away, and when it
//! takes too long.

use std::ops::{Deref, DerefMut};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use sqlx::Sqlite;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqlitePool, SqlitePoolOptions};

use crate::error::MOST_READING;

/// How long a caller waits for a connection before it is told that the database is busy.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(30);
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

    /// A connection for what is found by its key, and for work that takes as long as it takes.
    pub(crate) async fn quick(&self) -> Result<Reader, sqlx::Error> {
        Ok(Reader { connection: self.quick.acquire().await?, dropped: None })
    }

    /// One for what may look at every record. Its statement ends with it, and when it takes too long.
    pub(crate) async fn bounded(&self) -> Result<Reader, sqlx::Error> {
        let mut connection = self.scans.acquire().await?;
        let dropped = Arc::new(AtomicBool::new(false));
        let (gone, began) = (Arc::clone(&dropped), Instant::now());
        // It takes the place of the one that the last reader left behind.
        connection
            .lock_handle()
            .await?
            .set_progress_handler(STEPS, move || !gone.load(Ordering::Relaxed) && began.elapsed() < MOST_READING);
        Ok(Reader { connection, dropped: Some(dropped) })
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

/// A pool whose connections live as long as it does: they are local handles that cannot go stale.
pub(super) fn pool(connections: u32) -> SqlitePoolOptions {
    SqlitePoolOptions::new()
        .max_connections(connections)
        .acquire_timeout(ACQUIRE_TIMEOUT)
        .idle_timeout(None)
        .max_lifetime(None)
        .test_before_acquire(false)
}
