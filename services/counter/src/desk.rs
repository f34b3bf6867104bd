//! Desks: browsers that the pages know again, what each is signed in with, and what it asked last.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use crate::advise::work::Work;
use crate::event::work::Deriving;
use crate::shelf::uploads::Uploads;

/// A desk that does nothing for so long is signed out.
const IDLE: Duration = Duration::from_secs(12 * 3_600);
/// Desks that are known at once; beyond, the one without a token that was idle longest is forgotten.
const MOST: usize = 1_024;
const ID_BYTES: usize = 32;

/// All desks.
pub(crate) struct Desks {
    /// What marks of forms are made with; it dies with the process.
    key: [u8; 32],
    known: Mutex<HashMap<String, Arc<Desk>>>,
}

/// One browser.
pub(crate) struct Desk {
    /// What its cookie holds.
    pub(crate) id: String,
    /// Mark that its forms bear, so that no other page can send one in its name.
    pub(crate) mark: String,
    /// Token that it is signed in with.
    pub(crate) token: Option<String>,
    /// What it asks on Advise.
    pub(crate) work: Work,
    /// Rules that it waits for.
    pub(crate) deriving: Deriving,
    /// Files that it has looked at on Shelf.
    pub(crate) uploads: Uploads,
    seen: Mutex<Instant>,
}

impl Desks {
    pub(crate) fn new() -> Result<Self, String> {
        let mut key = [0; 32];
        getrandom::fill(&mut key).map_err(|e| e.to_string())?;
        Ok(Self { key, known: Mutex::default() })
    }

    /// The desk of a cookie; none where it is not known, or not any more.
    pub(crate) fn known(&self, id: &str) -> Option<Arc<Desk>> {
        let mut known = self.lock();
        let desk = Arc::clone(known.get(id)?);
        let mut seen = lock(&desk.seen);
        if seen.elapsed() > IDLE {
            drop(seen);
            known.remove(id);
            return None;
        }
        *seen = Instant::now();
        drop(seen);
        Some(desk)
    }

    /// A desk with a new cookie, signed in if there is a token.
    pub(crate) fn open(&self, token: Option<String>) -> Result<Arc<Desk>, String> {
        let id = random_id()?;
        let mark = blake3::keyed_hash(&self.key, id.as_bytes()).to_hex().to_string();
        let desk = Desk {
            id: id.clone(),
            mark,
            token,
            work: Work::default(),
            deriving: Deriving::default(),
            uploads: Uploads::default(),
            seen: Mutex::new(Instant::now()),
        };
        let desk = Arc::new(desk);
        let mut known = self.lock();
        if known.len() >= MOST {
            // Those that are not signed in go first: whoever has no token signs nobody out.
            let idle = |desk: &Arc<Desk>| (desk.token.is_none(), lock(&desk.seen).elapsed());
            let longest = known.iter().max_by_key(|(_, desk)| idle(desk)).map(|(id, _)| id.clone());
            longest.map(|id| known.remove(&id));
        }
        known.insert(id, Arc::clone(&desk));
        Ok(desk)
    }

    /// Forgets a desk.
    pub(crate) fn close(&self, id: &str) {
        self.lock().remove(id);
    }

    /// A poisoned lock only means that a thread panicked while it held the map, which is whole between any two calls on it.
    fn lock(&self) -> MutexGuard<'_, HashMap<String, Arc<Desk>>> {
        lock(&self.known)
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Desk {
    /// Whether a form bears the mark of this desk.
    pub(crate) fn marked(&self, given: &str) -> bool {
        // Hashes of this library compare in constant time.
        match (blake3::Hash::from_hex(given), blake3::Hash::from_hex(&self.mark)) {
            (Ok(given), Ok(own)) => given == own,
            (Err(_), _) | (_, Err(_)) => false,
        }
    }
}

/// An id that nobody can guess.
pub(crate) fn random_id() -> Result<String, String> {
    let mut bytes = [0; ID_BYTES];
    getrandom::fill(&mut bytes).map_err(|e| e.to_string())?;
    Ok(blake3::hash(&bytes).to_hex().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_of_another_desk_is_not_taken() {
        let desks = Desks::new().unwrap();
        let (one, other) = (desks.open(None).unwrap(), desks.open(None).unwrap());
        assert!(one.marked(&one.mark) && !one.marked(&other.mark) && !one.marked(""));
        assert_ne!(one.id, other.id);
    }

    #[test]
    fn a_closed_desk_is_not_known_again_and_the_number_is_bounded() {
        let desks = Desks::new().unwrap();
        let first = desks.open(Some("token".to_owned())).unwrap();
        assert_eq!(desks.known(&first.id).unwrap().token.as_deref(), Some("token"));
        desks.close(&first.id);
        assert!(desks.known(&first.id).is_none());
        let signed_in = desks.open(Some("token".to_owned())).unwrap();
        for _ in 0..=MOST {
            desks.open(None).unwrap();
        }
        assert!(desks.lock().len() <= MOST);
        assert!(desks.known(&signed_in.id).is_some(), "desks without a token signed out one that has one");
    }
}
