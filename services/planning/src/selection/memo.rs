//! What was worked out before, kept in memory from run to run: bounded, and keyed by a hash of all that it depends on. What comes out of it is what
//! would be worked out anew.

use std::collections::{HashMap, VecDeque};
use std::hash::{Hash, Hasher};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use acoustics::units::Db;
use domain::PatternKind;

/// Length of a key in bytes.
pub(crate) const KEY_BYTES: usize = 16;

/// A hash of 128 bits: among a thousand million keys two are alike once in 10²⁰ times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Key(pub(crate) [u8; KEY_BYTES]);

/// Makes a key from everything that a result depends on; the same one in every process of a machine, as some results are kept from one to the next.
#[derive(Debug, Clone)]
pub(crate) struct Fingerprint(blake3::Hasher);

/// Gives the standard library's hashing another hash under it.
struct Into<'a>(&'a mut blake3::Hasher);

impl Hasher for Into<'_> {
    fn write(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    fn finish(&self) -> u64 {
        let [first, ..] = *self.0.finalize().as_bytes();
        u64::from(first)
    }
}

impl Fingerprint {
    pub(crate) fn new() -> Self {
        Self(blake3::Hasher::new())
    }

    pub(crate) fn with(mut self, part: impl Hash) -> Self {
        part.hash(&mut Into(&mut self.0));
        self
    }

    pub(crate) fn figures(mut self, figures: impl IntoIterator<Item = f64>) -> Self {
        for figure in figures {
            self.0.update(&figure.to_bits().to_le_bytes());
        }
        self
    }

    /// A beam pattern with its floor.
    pub(crate) fn pattern(self, pattern: &PatternKind, floor: Db) -> Self {
        let with = self.figures([floor.get()]);
        let width = |beamwidth: &acoustics::units::Beamwidth| [beamwidth.full.get(), beamwidth.at.db().get()];
        match pattern {
            PatternKind::CircularPiston { beamwidth } => with.with(0_u8).figures(width(&beamwidth.value)),
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
                with.with(1_u8).figures(width(&beamwidth.value)).figures([peak_side_lobe.value.get()])
            }
            PatternKind::Rectangular { along, across } => {
                with.with(2_u8).figures(width(&along.value)).figures(width(&across.value))
            }
            PatternKind::Tabulated { points, .. } => {
                with.with(3_u8).figures(points.iter().flat_map(|point| [point.angle.get(), point.level.get()]))
            }
        }
    }

    pub(crate) fn key(&self) -> Key {
        let mut key = [0; KEY_BYTES];
        self.0.finalize_xof().fill(&mut key);
        Key(key)
    }
}

/// Results by key, at most so many: the oldest go first.
pub(crate) struct Memo<V> {
    most: usize,
    kept: LazyLock<Mutex<Kept<V>>>,
}

struct Kept<V> {
    results: HashMap<Key, Arc<V>>,
    order: VecDeque<Key>,
}

impl<V> Memo<V> {
    pub(crate) const fn new(most: usize) -> Self {
        Self { most, kept: LazyLock::new(|| Mutex::new(Kept { results: HashMap::new(), order: VecDeque::new() })) }
    }

    /// The result under a key, made if it is not known. Two who ask at once may both make it.
    pub(crate) fn of<E>(&self, key: Key, make: impl FnOnce() -> Result<V, E>) -> Result<Arc<V>, E> {
        if let Some(known) = self.get(key) {
            return Ok(known);
        }
        let made = Arc::new(make()?);
        self.put(key, Arc::clone(&made));
        Ok(made)
    }

    /// The result under a key, if it is known.
    pub(crate) fn get(&self, key: Key) -> Option<Arc<V>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).results.get(&key).map(Arc::clone)
    }

    /// Keeps a result.
    pub(crate) fn put(&self, key: Key, made: Arc<V>) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.results.insert(key, made).is_none() {
            kept.order.push_back(key);
        }
        while kept.order.len() > self.most {
            let Some(oldest) = kept.order.pop_front() else { break };
            kept.results.remove(&oldest);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_bounded_and_comes_back_as_it_was() {
        let memo: Memo<usize> = Memo::new(3);
        let key = |n: usize| Fingerprint::new().with(n).key();
        let made = |n: usize| memo.of::<()>(key(n), || Ok(n * n)).map(|value| *value);
        for n in 0..10 {
            assert_eq!(made(n), Ok(n * n));
        }
        assert_eq!(memo.of::<()>(key(9), || Err(())).map(|value| *value), Ok(81));
        assert_eq!(memo.of::<()>(key(0), || Err(())).map(|value| *value), Err(()));
        assert!(Fingerprint::new().figures([1.0, 2.0]).key() != Fingerprint::new().figures([2.0, 1.0]).key());
    }
}
