//! What was worked out before, kept in memory from run to run: bounded, and keyed by a hash of all that it depends on. What comes out of it is what
//! would be worked out anew.

use std::collections::{HashMap, VecDeque};
use std::hash::{DefaultHasher, Hash, Hasher as _};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use acoustics::units::Db;
use domain::PatternKind;

/// A hash of 128 bits: among a thousand million keys two are alike once in 10²⁰ times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Key(u64, u64);

/// Makes a key from everything that a result depends on.
#[derive(Debug, Clone)]
pub(crate) struct Fingerprint([DefaultHasher; 2]);

impl Fingerprint {
    pub(crate) fn new() -> Self {
        let mut second = DefaultHasher::new();
        second.write_u8(1);
        Self([DefaultHasher::new(), second])
    }

    pub(crate) fn with(mut self, part: impl Hash) -> Self {
        self.0.iter_mut().for_each(|hasher| part.hash(hasher));
        self
    }

    pub(crate) fn figures(mut self, figures: impl IntoIterator<Item = f64>) -> Self {
        for figure in figures {
            self = self.with(figure.to_bits());
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
        Key(self.0[0].finish(), self.0[1].finish())
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
        let lock = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = lock().results.get(&key) {
            return Ok(Arc::clone(known));
        }
        let made = Arc::new(make()?);
        let mut kept = lock();
        if kept.results.insert(key, Arc::clone(&made)).is_none() {
            kept.order.push_back(key);
        }
        while kept.order.len() > self.most {
            let Some(oldest) = kept.order.pop_front() else { break };
            kept.results.remove(&oldest);
        }
        Ok(made)
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
