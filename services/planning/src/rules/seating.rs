//! Who sits where with what: a search that is exact, or says how far it got.
//!
//! People are placed one after the other. Somebody more can only make it louder for those who sit already, so that a place at which one of them
//! is disturbed need not be looked into further. People with the same choice of kinds are told apart by nothing: of their arrangements one is tried.

use domain::{Cancel, Cancelled};

/// A kind of unit at a hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Taken {
    pub(super) kind: usize,
    pub(super) hole: usize,
}

/// How a search ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Search {
    /// By person: an arrangement in which nobody is disturbed.
    Found(Vec<Taken>),
    /// There is none.
    Impossible,
    /// None was found in the steps that were allowed, which proves nothing.
    GaveUp,
}

/// How many looks from one unit at another a search may still take.
#[derive(Debug, Clone, Copy)]
pub(super) struct Looks(pub(super) u32);

/// Looks for an arrangement in which nobody is disturbed.
///
/// `choices` are the kinds that each person may have, the dearest to them first. `quiet` says whether a unit at a hole stays undisturbed by others;
/// it must not become true by one more of them.
pub(super) fn seat(
    choices: &[Vec<usize>],
    holes: usize,
    quiet: &mut dyn FnMut(Taken, &[Taken]) -> bool,
    (looks, cancel): (&mut Looks, &Cancel),
) -> Result<Search, Cancelled> {
    let mut order: Vec<usize> = (0..choices.len()).collect();
    // The least choice first; equals side by side, so that each finds the place of the one before.
    order.sort_by(|a, b| {
        let (a, b) = (choices.get(*a), choices.get(*b));
        a.map(Vec::len).cmp(&b.map(Vec::len)).then_with(|| a.cmp(&b))
    });
    let mut attempt = Attempt { choices, order: &order, holes, quiet, placed: Vec::new(), looks, cancel };
    let found = attempt.place()?;
    let (placed, left) = (attempt.placed, attempt.looks.0);
    if !found {
        return Ok(if left > 0 { Search::Impossible } else { Search::GaveUp });
    }
    let mut seats: Vec<(usize, Taken)> = order.into_iter().zip(placed).collect();
    seats.sort_by_key(|(person, _)| *person);
    Ok(Search::Found(seats.into_iter().map(|(_, taken)| taken).collect()))
}

struct Attempt<'a> {
    choices: &'a [Vec<usize>],
    order: &'a [usize],
    holes: usize,
    quiet: &'a mut dyn FnMut(Taken, &[Taken]) -> bool,
    /// In the order of placing.
    placed: Vec<Taken>,
    looks: &'a mut Looks,
    cancel: &'a Cancel,
}

impl Attempt<'_> {
    fn choice(&self, place: usize) -> &[usize] {
        self.order.get(place).and_then(|person| self.choices.get(*person)).map_or(&[], Vec::as_slice)
    }

    /// Places whoever is next, and all after.
    fn place(&mut self) -> Result<bool, Cancelled> {
        let next = self.placed.len();
        if next == self.order.len() {
            return Ok(true);
        }
        let twin = next.checked_sub(1).filter(|before| self.choice(*before) == self.choice(next));
        let from = twin.and_then(|before| self.placed.get(before)).map_or(0, |before| before.hole + 1);
        let kinds = self.choice(next).to_vec();
        for kind in kinds {
            for hole in from..self.holes {
                if self.placed.iter().any(|other| other.hole == hole) {
                    continue;
                }
                self.cancel.check()?;
                self.placed.push(Taken { kind, hole });
                if self.all_quiet() && self.place()? {
                    return Ok(true);
                }
                self.placed.pop();
                if self.looks.0 == 0 {
                    return Ok(false);
                }
            }
        }
        Ok(false)
    }

    /// Whether everybody who sits is undisturbed by the rest; not, once the looks are used up.
    fn all_quiet(&mut self) -> bool {
        let mut others = Vec::with_capacity(self.placed.len());
        for own in &self.placed {
            self.looks.0 = self.looks.0.saturating_sub(u32::try_from(self.placed.len()).unwrap_or(u32::MAX));
            if self.looks.0 == 0 {
                return false;
            }
            others.clear();
            others.extend(self.placed.iter().filter(|other| other.hole != own.hole));
            if !(self.quiet)(*own, &others) {
                return false;
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every arrangement, one after the other.
    fn any_arrangement(
        choices: &[Vec<usize>],
        holes: usize,
        quiet: &dyn Fn(Taken, &[Taken]) -> bool,
        placed: &mut Vec<Taken>,
    ) -> bool {
        let Some(kinds) = choices.get(placed.len()) else {
            return placed.iter().all(|own| {
                let others: Vec<Taken> = placed.iter().copied().filter(|other| other.hole != own.hole).collect();
                quiet(*own, &others)
            });
        };
        kinds.iter().any(|kind| {
            (0..holes).any(|hole| {
                if placed.iter().any(|other| other.hole == hole) {
                    return false;
                }
                placed.push(Taken { kind: *kind, hole });
                let found = any_arrangement(choices, holes, quiet, placed);
                placed.pop();
                found
            })
        })
    }

    proptest! {
        /// Held to plain enumeration: the sum of what each pair of kinds does at each distance must stay under what the kind bears.
        #[test]
        fn an_arrangement_is_found_exactly_where_one_exists(
            loud in proptest::collection::vec(0.0_f64..1.0, 9 * 5),
            bears in proptest::collection::vec(0.2_f64..1.6, 3),
            choices in proptest::collection::vec(proptest::sample::subsequence(vec![0_usize, 1, 2], 1..=3), 1..=4),
        ) {
            let quiet = |own: Taken, others: &[Taken]| {
                let sum: f64 = others
                    .iter()
                    .map(|other| loud[(own.kind * 3 + other.kind) * 5 + own.hole.abs_diff(other.hole)])
                    .sum();
                sum <= bears[own.kind]
            };
            let exists = any_arrangement(&choices, 5, &quiet, &mut Vec::new());
            let found = seat(&choices, 5, &mut |own, others| quiet(own, others), (&mut Looks(1_000_000), &Cancel::never())).unwrap();
            prop_assert_eq!(matches!(found, Search::Found(_)), exists);
            if let Search::Found(seats) = found {
                for (person, own) in seats.iter().enumerate() {
                    prop_assert!(choices[person].contains(&own.kind));
                    let others: Vec<Taken> = seats.iter().copied().filter(|other| other.hole != own.hole).collect();
                    prop_assert_eq!(others.len(), seats.len() - 1, "each hole once");
                    prop_assert!(quiet(*own, &others));
                }
            }
        }
    }

    #[test]
    fn a_search_that_is_too_long_says_so() {
        let choices = vec![(0..12).collect::<Vec<usize>>(); 10];
        // Only the last of all arrangements would do, and nothing tells before.
        let found =
            seat(&choices, 30, &mut |_, others| others.len() < 9, (&mut Looks(100_000), &Cancel::never())).unwrap();
        assert_eq!(found, Search::GaveUp);
    }
}
