//! Bytes that are held for callers, in memory or on the disk, shared among them.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::error::Error;

/// A budget of bytes, of which one caller gets half.
#[derive(Debug, Clone)]
pub(crate) struct ByteBudget {
    total: usize,
    /// What the bytes are, for who gets no more.
    what: &'static str,
    held: Arc<Mutex<HashMap<String, usize>>>,
}

/// Bytes that one file holds; given back when it is dropped.
#[derive(Debug)]
pub(crate) struct Held {
    budget: ByteBudget,
    caller: String,
    bytes: usize,
}

impl ByteBudget {
    pub(crate) fn new(total: usize, what: &'static str) -> Self {
        Self { total, what, held: Arc::default() }
    }

    /// A file of a caller, which holds nothing yet.
    pub(crate) fn begin(&self, caller: &str) -> Held {
        Held { budget: self.clone(), caller: caller.to_owned(), bytes: 0 }
    }

    fn change(&self, caller: &str, change: impl FnOnce(&mut HashMap<String, usize>) -> Option<usize>) -> bool {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(new) = change(&mut held) else { return false };
        if new == 0 {
            held.remove(caller);
        } else {
            held.insert(caller.to_owned(), new);
        }
        true
    }
}

impl Held {
    /// Room for more bytes of the same file.
    pub(crate) fn more(&mut self, bytes: usize) -> Result<(), Error> {
        let ByteBudget { total, what, .. } = self.budget;
        let granted = self.budget.change(&self.caller, |held| {
            let own = held.get(&self.caller).copied().unwrap_or_default() + bytes;
            let all = held.values().sum::<usize>() + bytes;
            (own <= total / 2 && all <= total).then_some(own)
        });
        if !granted {
            let what = format!(
                "{what} fill the {} MiB that are set aside for them, of which one caller gets half",
                total / (1024 * 1024)
            );
            return Err(Error::Overloaded { what });
        }
        self.bytes += bytes;
        Ok(())
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        let (caller, bytes) = (&self.caller, self.bytes);
        self.budget.change(caller, |held| Some(held.get(caller).copied().unwrap_or_default().saturating_sub(bytes)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_caller_gets_half_and_gives_it_back() {
        let uploads = ByteBudget::new(100, "files");
        let (mut first, mut second) = (uploads.begin("greedy"), uploads.begin("greedy"));
        first.more(40).unwrap();
        second.more(10).unwrap();
        assert!(second.more(1).is_err());
        let mut other = uploads.begin("modest");
        other.more(50).unwrap();
        assert!(uploads.begin("third").more(1).is_err());
        drop(first);
        second.more(40).unwrap();
        drop((second, other));
        assert!(uploads.held.lock().unwrap().is_empty());
    }
}
