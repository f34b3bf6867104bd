//! Tables of neighbours from run to run, and from one process to the next.
//!
//! A table depends on its inputs alone, of which its key is a hash, so it is worth keeping. In a process the newest of them stay in memory. Between processes
//! somebody else keeps them: this module hands out what was worked out ([`take_new`]) and takes what there was before from a source that is asked once,
//! when the first table is missing ([`recall_from`]). It does no input or output of its own; the service keeps them in a file beside its database, and without any
//! source all works as well. A table comes back bit for bit as it was worked out.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::super::memo::{KEY_BYTES, Key, Memo};
use super::super::shift::TURNS;
use super::node::{BOUNCES, Drawn, FRACTIONS, Node};

/// How many are kept at most, in memory and by whoever keeps them longer.
pub const MOST: usize = 20_000;
/// Which model worked the tables out: a hash of the bits of some of them. A test fails where it is not that of today's; tables of another are not read.
pub const MODEL: u64 = 0x40e9_431b_b0be_522d;

/// Figures of a table: what it holds, the levels, critical level, hole and absorption, what bounces change, and what draws do.
const FIGURES: usize = 1 + FRACTIONS as usize + 3 + BOUNCES.len() + TURNS + 1;
const FIGURE_BYTES: usize = 8;
/// Length of a table as it is kept, its key included.
pub const BYTES: usize = KEY_BYTES + FIGURES * FIGURE_BYTES;

/// Has what bounces change, and has what draws change.
const BOUNCED: u64 = 1;
const DRAWN: u64 = 2;

static NODES: Memo<Node> = Memo::new(MOST);
/// Worked out and not handed out yet.
static NEW: Mutex<VecDeque<(Key, Arc<Node>)>> = Mutex::new(VecDeque::new());
static COUNTED: AtomicU64 = AtomicU64::new(0);
static SOURCE: Mutex<Option<Source>> = Mutex::new(None);

type Source = Box<dyn FnOnce() -> Vec<u8> + Send>;

/// How many tables this process has worked out so far.
#[must_use]
pub fn computed() -> u64 {
    COUNTED.load(Ordering::Relaxed)
}

/// Names the source of tables of earlier processes, each [`BYTES`] long, one after the other. It is asked when the first table is missing.
pub fn recall_from(source: impl FnOnce() -> Vec<u8> + Send + 'static) {
    *lock(&SOURCE) = Some(Box::new(source));
}

/// The tables worked out since the last call, each [`BYTES`] long, one after the other; of more than are kept the newest.
#[must_use]
pub fn take_new() -> Vec<u8> {
    let new = std::mem::take(&mut *lock(&NEW));
    let mut all = Vec::with_capacity(new.len() * BYTES);
    for (key, node) in new {
        all.extend_from_slice(&key.0);
        for figure in node.figures() {
            all.extend_from_slice(&figure.to_le_bytes());
        }
    }
    all
}

/// The table under a key, made if no process has made it yet.
pub(super) fn node<E>(key: Key, make: impl FnOnce() -> Result<Node, E>) -> Result<Arc<Node>, E> {
    if let Some(known) = NODES.get(key) {
        return Ok(known);
    }
    {
        // Whoever comes meanwhile waits: what is read need not be worked out.
        let mut waiting = lock(&SOURCE);
        if let Some(source) = waiting.take() {
            recall(&source());
        }
    }
    if let Some(known) = NODES.get(key) {
        return Ok(known);
    }
    let made = Arc::new(make()?);
    COUNTED.fetch_add(1, Ordering::Relaxed);
    NODES.put(key, Arc::clone(&made));
    let mut new = lock(&NEW);
    new.push_back((key, Arc::clone(&made)));
    if new.len() > MOST {
        new.pop_front();
    }
    Ok(made)
}

/// Takes tables of earlier processes.
fn recall(tables: &[u8]) {
    for table in tables.chunks_exact(BYTES) {
        let Some((key, figures)) = table.split_first_chunk::<KEY_BYTES>() else { continue };
        let mut figures = figures.as_chunks::<FIGURE_BYTES>().0.iter().map(|bytes| u64::from_le_bytes(*bytes));
        if let Some(node) = Node::of_figures(&mut figures) {
            NODES.put(Key(*key), Arc::new(node));
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Node {
    /// Every figure as it lies in memory; zeros for what it does not have.
    fn figures(&self) -> impl Iterator<Item = u64> {
        let bounced = if self.bounces.is_empty() { 0 } else { BOUNCED };
        let drawn = if self.drawn.is_some() { DRAWN } else { 0 };
        let none = Drawn { turns: [0.0; TURNS], confirming: 0.0 };
        let changes = self.drawn.as_deref().unwrap_or(&none);
        let bounce = |index| self.bounces.get(index).copied().unwrap_or(0.0);
        let mut figures = [0; FIGURES];
        let all = std::iter::once(bounced | drawn)
            .chain(self.levels.iter().map(|level| level.to_bits()))
            .chain([self.critical.to_bits(), u64::try_from(self.hole).unwrap_or(u64::MAX), self.absorption.to_bits()])
            .chain((0..BOUNCES.len()).map(|index| bounce(index).to_bits()))
            .chain(changes.turns.iter().map(|turn| turn.to_bits()))
            .chain([changes.confirming.to_bits()]);
        figures.iter_mut().zip(all).for_each(|(slot, figure)| *slot = figure);
        figures.into_iter()
    }

    /// The table of such figures; none if there are too few.
    fn of_figures(figures: &mut impl Iterator<Item = u64>) -> Option<Self> {
        let has = figures.next()?;
        let mut levels = [0.0; FRACTIONS as usize];
        for slot in &mut levels {
            *slot = f64::from_bits(figures.next()?);
        }
        let critical = f64::from_bits(figures.next()?);
        let hole = usize::try_from(figures.next()?).ok()?;
        let absorption = f64::from_bits(figures.next()?);
        let bounces: Vec<f64> = figures.by_ref().take(BOUNCES.len()).map(f64::from_bits).collect();
        let mut turns = [0.0; TURNS];
        for slot in &mut turns {
            *slot = f64::from_bits(figures.next()?);
        }
        let confirming = f64::from_bits(figures.next()?);
        Some(Self {
            levels,
            critical,
            hole,
            drawn: (has & DRAWN != 0).then(|| Box::new(Drawn { turns, confirming })),
            bounces: if has & BOUNCED != 0 { bounces } else { Vec::new() },
            absorption,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_table_comes_back_bit_for_bit(
            mut figures in prop::collection::vec(any::<u64>(), FIGURES), has in 0..4_u64, hole in 0..1_000_u64,
        ) {
            let after = 1 + FRACTIONS as usize;
            (figures[0], figures[after + 1]) = (has, hole);
            // What a table does not have lies there as zeros.
            let (bounces, draws) = (after + 3, after + 3 + BOUNCES.len());
            if has & BOUNCED == 0 {
                figures[bounces..draws].fill(0);
            }
            if has & DRAWN == 0 {
                figures[draws..].fill(0);
            }
            let node = Node::of_figures(&mut figures.iter().copied()).unwrap();
            prop_assert_eq!((!node.bounces.is_empty(), node.drawn.is_some()), (has & BOUNCED != 0, has & DRAWN != 0));
            prop_assert_eq!(node.figures().collect::<Vec<_>>(), figures.clone());
            prop_assert!(Node::of_figures(&mut figures.iter().copied().take(FIGURES - 1)).is_none());
        }
    }
}
