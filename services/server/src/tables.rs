//! The tables of neighbours between processes: read from the file beside the database when the first one is missing, and written there behind the calls.

use std::path::Path;
use std::time::Duration;

use catalog::{Aside, TableFile};
use planning::selection::kept;
use tokio::sync::watch;
use tokio::task::JoinHandle;

/// How long new tables wait for others to be written with.
const BATCH: Duration = Duration::from_secs(2);

/// Keeps tables until it is stopped.
pub(crate) struct TableKeeper {
    stop: watch::Sender<bool>,
    keeps: JoinHandle<()>,
}

impl TableKeeper {
    /// Begins to keep the tables of a service on a database. Nothing is read before a table is missing.
    pub(crate) fn start(database: &Path) -> Self {
        let file = TableFile::beside(database, kept::MODEL, kept::BYTES, kept::MOST);
        let source = file.clone();
        kept::recall_from(move || recalled(&source));
        let (stop, stopped) = watch::channel(false);
        Self { stop, keeps: tokio::spawn(keep(file, stopped)) }
    }

    /// Writes what is left, and says what there was to do.
    pub(crate) async fn stop(self) {
        let _ = self.stop.send(true);
        let _ = self.keeps.await;
        tracing::info!(computed = kept::computed(), "tables of neighbours");
    }
}

async fn keep(file: TableFile, mut stopped: watch::Receiver<bool>) {
    let mut left = Vec::new();
    let mut failing = false;
    let mut last = false;
    while !last {
        let stop = stopped.wait_for(|stop| *stop);
        last = tokio::time::timeout(BATCH, stop).await.is_ok();
        left.extend(kept::take_new());
        // What waits for another process is bounded as what is kept.
        let over = left.len().saturating_sub(kept::MOST * kept::BYTES);
        left.drain(..over);
        if left.is_empty() {
            continue;
        }
        let (batch, to) = (std::mem::take(&mut left), file.clone());
        let written = tokio::task::spawn_blocking(move || (to.add(&batch), batch)).await;
        match written {
            Ok((Ok(true), _)) => failing = false,
            Ok((Ok(false), batch)) => left = batch,
            // They stay in memory; once is enough to say so.
            Ok((Err(error), _)) => {
                if !failing {
                    tracing::warn!(file = %file.path().display(), %error, "tables of neighbours are not kept; the next start works them out again");
                }
                failing = true;
            }
            Err(_) => return,
        }
    }
}

fn recalled(file: &TableFile) -> Vec<u8> {
    let path = file.path().display();
    match file.read() {
        Ok(found) => {
            match found.aside {
                Aside::Nothing => {}
                Aside::Damaged => {
                    tracing::warn!(file = %path, "tables of neighbours are damaged; those are worked out again")
                }
                Aside::OtherModel => {
                    tracing::info!(file = %path, "tables of neighbours are of another version; they are worked out again")
                }
                Aside::Foreign => {
                    tracing::warn!(file = %path, "this is no file of tables of neighbours; it is replaced")
                }
            }
            found.records
        }
        Err(error) => {
            tracing::warn!(file = %path, %error, "tables of neighbours cannot be read; they are worked out again");
            Vec::new()
        }
    }
}
