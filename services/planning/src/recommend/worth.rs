//! What each sensor is worth at each place: the best of its options for each use, in the recorded figures and in each draw.

use rayon::prelude::*;

use super::draws::Draws;
use super::types::{Total, Use, Worth};
use crate::selection::{Body, Case, Evaluation, Perturbation, Prepared, PreparedOption, Rules};
use crate::unknown_place::DrawnPlace;
use acoustics::units::Metres;
use domain::goal::{DESIRABILITY_FLOOR, Weighing};
use domain::{Cancel, Cancelled};

/// Draws that one task of a thread takes.
const DRAWS_AT_ONCE: usize = 16;

/// Shared by all evaluations.
pub(super) struct Judge<'a> {
    pub(super) prepared: &'a Prepared,
    pub(super) uses: &'a [Use],
    /// Spots of the run that are the places.
    pub(super) spots: &'a [usize],
    /// Rules of each use.
    rules: Vec<Rules>,
}

/// One sensor at one place in the recorded figures.
#[derive(Debug, Clone)]
pub(super) struct Judged {
    pub(super) worth: Worth,
    /// By use: the option that it is used with, by position in `RunInput::options`.
    pub(super) options: Vec<Option<usize>>,
}

/// What the draws gave.
pub(super) struct Drawn {
    /// By draw, then sensor.
    pub(super) totals: Vec<Vec<Total>>,
    /// By sensor, then place: the mean over the draws.
    pub(super) expected: Vec<Vec<Total>>,
}

/// The best option of a sensor for a use.
#[derive(Clone, Copy)]
struct Best {
    option: Option<usize>,
    score: f64,
    works: bool,
    tie: u32,
}

impl Best {
    const NONE: Self = Self { option: None, score: -1.0, works: false, tie: u32::MAX };

    /// Takes another option where it works and this one does not; of two alike the one that scores higher, of equals the first by name. A
    /// switch position more never makes a sensor worse.
    fn offer(&mut self, other: Self) {
        let (this, that) = ((self.works, self.score), (other.works, other.score));
        if that > this || (that == this && other.tie < self.tie) {
            *self = other;
        }
    }
}

impl<'a> Judge<'a> {
    pub(super) fn new(prepared: &'a Prepared, uses: &'a [Use], spots: &'a [usize]) -> Self {
        let rules = uses.iter().map(|u| Rules { weighing: u.goal.weighing(), ..prepared.rules }).collect();
        Self { prepared, uses, spots, rules }
    }

    /// The spot of a place.
    pub(super) fn spot(&self, place: usize) -> Option<usize> {
        self.spots.get(place).copied()
    }

    /// The rules of a use.
    pub(super) fn rules(&self, use_index: usize) -> Option<&Rules> {
        self.rules.get(use_index)
    }

    /// Every sensor at a place in the recorded figures.
    pub(super) fn nominal(&self, place: usize) -> Vec<Judged> {
        let best = self.best(place, |_| Perturbation::NONE, None);
        best.chunks(self.uses.len())
            .map(|row| Judged { worth: self.worth(row), options: row.iter().map(|best| best.option).collect() })
            .collect()
    }

    /// Totals by draw and sensor, and the mean over the draws by sensor and place. Sums run over places and draws in their order, so that
    /// they do not depend on threads.
    pub(super) fn totals(
        &self,
        draws: &Draws,
        count: u32,
        weights: &[f64],
        cancel: &Cancel,
        done: &(dyn Fn(usize) + Sync),
    ) -> Result<Drawn, Cancelled> {
        let all: Vec<usize> = (0..usize::try_from(count).unwrap_or(0)).collect();
        let empty = || vec![vec![Total::default(); weights.len()]; self.prepared.input.sensors.len()];
        let parts: Vec<Drawn> = all
            .par_chunks(DRAWS_AT_ONCE)
            .map(|chunk| {
                let mut part = Drawn { totals: Vec::with_capacity(chunk.len()), expected: empty() };
                for draw in chunk {
                    cancel.check()?;
                    let totals = self.draw(draws, *draw, weights, &mut part.expected);
                    part.totals.push(totals);
                }
                done(chunk.len());
                Ok(part)
            })
            .collect::<Result<_, _>>()?;
        let mut drawn = Drawn { totals: Vec::with_capacity(all.len()), expected: empty() };
        for part in parts {
            drawn.totals.extend(part.totals);
            for (sum, more) in drawn.expected.iter_mut().flatten().zip(part.expected.into_iter().flatten()) {
                *sum = Total { works: sum.works + more.works, value: sum.value + more.value };
            }
        }
        let of = crate::selection::count(all.len().max(1));
        for sum in drawn.expected.iter_mut().flatten() {
            *sum = Total { works: sum.works / of, value: sum.value / of };
        }
        Ok(drawn)
    }

    /// One draw: every sensor over all places, added to `sums` by sensor and place as well.
    fn draw(&self, draws: &Draws, draw: usize, weights: &[f64], sums: &mut [Vec<Total>]) -> Vec<Total> {
        let mut totals = vec![Total::default(); self.prepared.input.sensors.len()];
        for (place, weight) in weights.iter().enumerate() {
            let Some(drawn) = draws.at(place, draw) else { continue };
            let stretch = drawn.inputs.common.depth_factor();
            let shift = |gear: &PreparedOption| Perturbation {
                other: drawn.other,
                ..drawn.inputs.shift(drawn.place.bottom, gear)
            };
            let best = self.best(place, shift, Some((stretch, drawn.place)));
            for ((total, sums), row) in totals.iter_mut().zip(&mut *sums).zip(best.chunks(self.uses.len())) {
                let worth = Total::from(self.worth(row));
                total.value += weight * worth.value;
                total.works += weight * worth.works;
                if let Some(sum) = sums.get_mut(place) {
                    *sum = Total { works: sum.works + worth.works, value: sum.value + worth.value };
                }
            }
        }
        totals
    }

    /// The best option by sensor and use, one row a sensor; of a draw with the factor on the depth of the place, and what the place is.
    fn best(
        &self,
        place: usize,
        shift: impl Fn(&PreparedOption) -> Perturbation,
        drawn: Option<(f64, DrawnPlace)>,
    ) -> Vec<Best> {
        let input = &self.prepared.input;
        let uses = self.uses.len();
        let mut best = vec![Best::NONE; input.sensors.len() * uses];
        let Some(place) = self.spot(place) else { return best };
        let here = self.prepared.places.get(place).zip(input.spots.get(place));
        let moved = here.zip(drawn).map(|((here, spot), (stretch, drawn))| {
            let spot = drawn.applied(spot);
            let there = here.moved(&spot, here.depth * stretch);
            let relief: Vec<Body> = spot.relief.iter().map(|item| Body::new(item, Metres::new(there.depth))).collect();
            (there, relief, drawn)
        });
        for (option, reference) in input.options.iter().enumerate() {
            let case = match &moved {
                Some((there, relief, drawn)) => {
                    self.prepared.case_over(place, option, drawn).map(|case| Case { place: there, relief, ..case })
                }
                None => self.prepared.case(place, option),
            };
            let Some(case) = case else { continue };
            let tie = self.prepared.tie_order.get(option).copied().unwrap_or(u32::MAX);
            let shift = shift(case.gear);
            let row = best.iter_mut().skip(reference.sensor * uses).take(uses);
            for (best, rules) in row.zip(&self.rules) {
                let figures = case.evaluate(rules, &shift);
                let works = works(&figures, &rules.weighing);
                best.offer(Best { option: Some(option), score: figures.score(), works, tie });
            }
        }
        best
    }

    /// V, and whether every use works.
    fn worth(&self, row: &[Best]) -> Worth {
        let value = row.iter().zip(self.uses).map(|(best, u)| u.share * best.score.max(0.0)).sum();
        Worth { value, works: row.iter().all(|best| best.works) }
    }
}

/// Whether an option works: nothing rules it out, no criterion that counts is at its floor, and the lure shows before neighbours do. Where they
/// show first there is no setting to print.
pub(super) fn works(figures: &Evaluation, weighing: &Weighing) -> bool {
    figures.qualified()
        && !at_floor(figures, weighing).into_iter().any(|floored| floored)
        && figures.headroom.is_none_or(|headroom| headroom >= 0.0)
}

/// Which criteria that count are at their floor, in the order coverage, clutter, resolution, interference.
pub(super) fn at_floor(figures: &Evaluation, weighing: &Weighing) -> [bool; 4] {
    let (desirabilities, weights) = (figures.desirabilities(), weighing.weights.as_array());
    let mut floored = [false; 4];
    for ((slot, d), weight) in floored.iter_mut().zip(desirabilities).zip(weights) {
        *slot = weight > 0.0 && d <= DESIRABILITY_FLOOR;
    }
    floored
}
