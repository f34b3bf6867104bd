//! Whether the database can be read and written, as far as the last use of it tells.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tokio::sync::watch;

/// Whether the database works.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// As far as is known.
    Sound,
    /// The last use failed in a way that the next one may meet too: no room, a disk that refuses, a file that is damaged.
    Failing(
        /// What was said.
        String,
    ),
}

/// What the connections tell of the database.
#[derive(Debug, Clone)]
pub(crate) struct Watched {
    condition: watch::Sender<Condition>,
    /// Whether something failed since the writer's connection was last looked at.
    suspect: Arc<AtomicBool>,
}

impl Default for Watched {
    fn default() -> Self {
        Self { condition: watch::Sender::new(Condition::Sound), suspect: Arc::default() }
    }
}

impl Watched {
    /// Takes note of an error.
    pub(crate) fn saw(&self, error: &sqlx::Error) {
        if !is_grave(error) {
            return;
        }
        self.suspect.store(true, Ordering::Release);
        let condition = Condition::Failing(error.to_string());
        self.condition.send_if_modified(|known| std::mem::replace(known, condition.clone()) != condition);
    }

    /// Takes note of a write that succeeded.
    pub(crate) fn wrote(&self) {
        self.condition.send_if_modified(|known| std::mem::replace(known, Condition::Sound) != Condition::Sound);
    }

    pub(crate) fn subscribe(&self) -> watch::Receiver<Condition> {
        self.condition.subscribe()
    }

    /// Whether something failed since this was last asked.
    pub(crate) fn take_suspect(&self) -> bool {
        self.suspect.swap(false, Ordering::AcqRel)
    }
}

/// Whether an error says that the file or the disk is at fault, and not the statement.
fn is_grave(error: &sqlx::Error) -> bool {
    // Primary result codes, https://sqlite.org/rescode.html: no memory, input or output, corrupt, full, cannot open, not a database.
    const GRAVE: [i64; 6] = [7, 10, 11, 13, 14, 26];
    let code = error.as_database_error().and_then(|said| said.code()?.parse::<i64>().ok());
    matches!(error, sqlx::Error::WorkerCrashed) || code.is_some_and(|code| GRAVE.contains(&(code & 0xff)))
}
