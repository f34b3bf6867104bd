//! Places that callers take in turns: who asks for much waits for itself, not for others.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::oneshot;

/// A number of places, how many of them one caller may have, and how many may wait for one. Places go round the callers that wait, one each. Where all waiting places are
/// taken, a newcomer gets that of the caller who has most of them, as long as it has fewer itself.
#[derive(Debug)]
pub struct Turns {
    places: usize,
    of_a_caller: usize,
    waiting: usize,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    free: usize,
    /// Places of each caller that has any.
    held: HashMap<String, usize>,
    /// One queue a caller that waits; the first one is next.
    queues: VecDeque<Queue>,
}

#[derive(Debug)]
struct Queue {
    caller: String,
    waiting: VecDeque<oneshot::Sender<Turn>>,
}

/// A place; it is given back when this is dropped.
#[derive(Debug)]
pub struct Turn {
    turns: Arc<Turns>,
    caller: String,
}

/// As many wait as may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{limit} wait already")]
pub struct NoRoom {
    /// How many may wait.
    pub limit: usize,
}

impl Turns {
    /// That many places, at least one, of which a caller may have some, at least one; and that many who may wait.
    #[must_use]
    pub fn new(places: usize, of_a_caller: usize, waiting: usize) -> Arc<Self> {
        let places = places.max(1);
        let state = State { free: places, held: HashMap::new(), queues: VecDeque::new() };
        Arc::new(Self { places, of_a_caller: of_a_caller.max(1), waiting, state: Mutex::new(state) })
    }

    /// A place for `caller`, after its turn.
    ///
    /// # Errors
    /// As many wait as may.
    pub async fn take(self: &Arc<Self>, caller: &str) -> Result<Turn, NoRoom> {
        let full = NoRoom { limit: self.waiting };
        let turn = match self.ask(caller)? {
            Asked::Free => return Ok(Turn { turns: Arc::clone(self), caller: caller.to_owned() }),
            Asked::Waits(turn) => turn,
        };
        turn.await.map_err(|_| full)
    }

    fn ask(&self, caller: &str) -> Result<Asked, NoRoom> {
        let mut state = self.lock();
        state.forget_the_gone();
        if state.free > 0 && state.has_room(caller, self.of_a_caller) {
            state.free -= 1;
            state.hold(caller);
            return Ok(Asked::Free);
        }
        if state.waiting() >= self.waiting && !state.push_out_for(caller) {
            return Err(NoRoom { limit: self.waiting });
        }
        let (sender, receiver) = oneshot::channel();
        match state.queues.iter_mut().find(|queue| queue.caller == caller) {
            Some(queue) => queue.waiting.push_back(sender),
            None => state.queues.push_back(Queue { caller: caller.to_owned(), waiting: [sender].into() }),
        }
        Ok(Asked::Waits(receiver))
    }

    /// How many places are taken.
    #[must_use]
    pub fn taken(&self) -> usize {
        self.places.saturating_sub(self.lock().free)
    }

    fn give_back(self: &Arc<Self>, caller: &str) {
        let next = {
            let mut state = self.lock();
            state.let_go(caller);
            let next = state.next(self.of_a_caller);
            if next.is_none() {
                state.free += 1;
            }
            next
        };
        // Where the one who waited has gone away, the place comes back and goes to the next.
        if let Some((caller, next)) = next {
            drop(next.send(Turn { turns: Arc::clone(self), caller }));
        }
    }

    /// A poisoned lock only means that a thread panicked while it held the queues, which are whole between any two calls on them.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

enum Asked {
    Free,
    Waits(oneshot::Receiver<Turn>),
}

impl State {
    fn waiting(&self) -> usize {
        self.queues.iter().map(|queue| queue.waiting.len()).sum()
    }

    fn forget_the_gone(&mut self) {
        for queue in &mut self.queues {
            queue.waiting.retain(|sender| !sender.is_closed());
        }
        self.queues.retain(|queue| !queue.waiting.is_empty());
    }

    /// Gives up the last place of the caller who waits most, if that has more of them than `caller` would.
    fn push_out_for(&mut self, caller: &str) -> bool {
        let own = self.queues.iter().find(|queue| queue.caller == caller).map_or(0, |queue| queue.waiting.len());
        let most = self.queues.iter_mut().max_by_key(|queue| queue.waiting.len());
        match most {
            Some(queue) if queue.waiting.len() > own + 1 => queue.waiting.pop_back().is_some(),
            _ => false,
        }
    }

    fn has_room(&self, caller: &str, most: usize) -> bool {
        self.held.get(caller).is_none_or(|held| *held < most)
    }

    fn hold(&mut self, caller: &str) {
        *self.held.entry(caller.to_owned()).or_default() += 1;
    }

    fn let_go(&mut self, caller: &str) {
        if let Some(held) = self.held.get_mut(caller) {
            *held = held.saturating_sub(1);
            if *held == 0 {
                self.held.remove(caller);
            }
        }
    }

    /// The first who waits of the caller whose turn it is; that caller goes to the end of the round.
    fn next(&mut self, most: usize) -> Option<(String, oneshot::Sender<Turn>)> {
        self.forget_the_gone();
        let place = self.queues.iter().position(|queue| self.has_room(&queue.caller, most))?;
        let mut queue = self.queues.remove(place)?;
        let next = queue.waiting.pop_front()?;
        let caller = queue.caller.clone();
        if !queue.waiting.is_empty() {
            self.queues.push_back(queue);
        }
        self.hold(&caller);
        Some((caller, next))
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        self.turns.give_back(&self.caller);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures::FutureExt as _;
    use std::future::Future;
    use std::pin::Pin;

    type Waits = Pin<Box<dyn Future<Output = Result<Turn, NoRoom>>>>;

    fn asks(turns: &Arc<Turns>, caller: &'static str) -> Waits {
        let turns = Arc::clone(turns);
        let mut waits: Waits = Box::pin(async move { turns.take(caller).await });
        assert!((&mut waits).now_or_never().is_none(), "{caller} need not wait");
        waits
    }

    #[tokio::test]
    async fn a_place_goes_round_the_callers() {
        let turns = Turns::new(1, 1, 10);
        let first = turns.take("greedy").await.unwrap();
        let (mut second, mut third) = (asks(&turns, "greedy"), asks(&turns, "greedy"));
        let mut modest = asks(&turns, "modest");
        drop(first);
        let second = (&mut second).now_or_never().unwrap().unwrap();
        assert!((&mut modest).now_or_never().is_none());
        drop(second);
        let modest = (&mut modest).now_or_never().expect("the modest caller waits for its turn alone").unwrap();
        assert!((&mut third).now_or_never().is_none());
        drop(modest);
        drop((&mut third).now_or_never().unwrap().unwrap());
        assert_eq!(turns.taken(), 0);
    }

    #[tokio::test]
    async fn whoever_has_most_waiting_places_gives_one_up() {
        let turns = Turns::new(1, 1, 3);
        let held = turns.take("greedy").await.unwrap();
        let (mut a, _b, mut c) = (asks(&turns, "greedy"), asks(&turns, "greedy"), asks(&turns, "greedy"));
        assert_eq!(turns.take("greedy").now_or_never().unwrap().unwrap_err(), NoRoom { limit: 3 });
        let _modest = asks(&turns, "modest");
        assert!((&mut c).now_or_never().unwrap().is_err(), "the last of the greedy caller gives way");
        assert!((&mut a).now_or_never().is_none());
        drop(held);
    }

    #[tokio::test]
    async fn one_caller_leaves_places_free_for_others() {
        let turns = Turns::new(3, 2, 10);
        let (a, _b) = (turns.take("greedy").await.unwrap(), turns.take("greedy").await.unwrap());
        let mut c = asks(&turns, "greedy");
        let modest = turns.take("modest").now_or_never().expect("a place is left").unwrap();
        drop(modest);
        assert!((&mut c).now_or_never().is_none());
        drop(a);
        drop((&mut c).now_or_never().unwrap().unwrap());
        assert_eq!(turns.taken(), 1);
    }

    #[tokio::test]
    async fn those_who_have_gone_away_are_passed_over() {
        let turns = Turns::new(1, 1, 2);
        let held = turns.take("a").await.unwrap();
        let gone = asks(&turns, "a");
        let mut stays = asks(&turns, "b");
        drop(gone);
        let mut comes = asks(&turns, "c");
        drop(held);
        drop((&mut stays).now_or_never().unwrap().unwrap());
        drop((&mut comes).now_or_never().unwrap().unwrap());
        assert_eq!(turns.taken(), 0);
    }
}
