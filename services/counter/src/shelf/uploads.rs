//! Files of a desk that have been looked at and wait to be stored.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use proto::v1;

use super::kind::Kind;

/// Files of a desk that wait to be stored, and for how long.
const WAITING: usize = 2;
const KEPT: Duration = Duration::from_secs(3_600);

/// Files of a desk that have been looked at and not stored yet.
#[derive(Default)]
pub(crate) struct Uploads(Mutex<Vec<Arc<Upload>>>);

/// A file that waits.
pub(super) struct Upload {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) kind: Kind,
    pub(super) format: v1::RecordFormat,
    pub(super) bytes: Bytes,
    pub(super) at: Instant,
}

impl Uploads {
    pub(super) fn put(&self, upload: Upload) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|old| old.at.elapsed() < KEPT);
        if all.len() >= WAITING {
            all.remove(0);
        }
        all.push(Arc::new(upload));
    }

    pub(super) fn get(&self, id: &str) -> Option<Arc<Upload>> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.iter().find(|upload| upload.id == id).cloned()
    }

    pub(super) fn forget(&self, id: &str) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).retain(|upload| upload.id != id);
    }
}
