//! Marks that several pings must confirm: how much of a neighbour's interference still shows.

use crate::units::Seconds;

/// Most pings that a sensor looks at.
pub const MOST_PINGS: usize = 10;
/// Lengths of a mark in the table, evenly in the logarithm, from the second figure to the whole interval of the neighbour.
const LENGTHS: usize = 121;
const SHORTEST: f64 = 1e-5;
/// Cells along a mark between which a shift moves it.
const CELLS: usize = 32;
/// Sums of so many intervals keep the exact shape of their jitter; longer ones are normal to within a per cent by then.
const EXACT: u32 = 4;
/// A jitter under this part of the other one is left out: it would move the sum of both by less than 0.1 %.
const SLIGHT: f64 = 0.02;

/// How a unit pings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timing {
    /// Mean time from ping to ping.
    pub interval: Seconds,
    /// Spread of the interval as a fraction of it: half the width of a uniform one, the standard deviation of a normal one.
    pub jitter: f64,
}

/// How intervals lie about their mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JitterShape {
    /// Evenly between mean less and mean plus jitter.
    Uniform,
    /// Normally.
    Normal,
}

/// In what part of the range cells a display draws marks of a neighbour when m of the last n pings must confirm them.
///
/// After each ping of the neighbour there are marks of lengths ℓₐ at delays tₐ, one for each path. From one ping of the unit to a later one
/// they move by the difference of the intervals and by their jitters: D = kT + Σu on a circle as long as the neighbour's interval T'. Which
/// pings show a mark in a cell follows from the chance that all pings k₁ < … < kⱼ of a set A do,
///
/// H(A) = (1/T') ∫ dx₁ … ∫ dxⱼ Π g(xᵢ₊₁ − xᵢ), each x inside a mark, g the density of the shift over kᵢ₊₁ − kᵢ pings,
///
/// by Q(B) = Σ (−1)^|A| H(A) over A ⊆ B, the chance that none of B does. Neighbours are independent of each other, so their Q(B) multiply, and
/// the chance that just A shows it is Σ (−1)^|A \ C| Q(not C) over C ⊆ A. Chains that stay in one mark are integrated as they stand; chains that change from path to path take their steps as independent of where in the mark they are. Marks that stay where
/// they are (equal steady intervals) are confirmed by all pings or by none; marks that move by more than their length are as good as
/// independent.
///
/// Symbols: T, T' intervals in s; ℓ length of a mark in s; m of n pings.
///
/// Validity: 1 to 10 pings, jitters 0 to 0.5. Against a simulation of the ping trains the clear gain agrees within 1 dB for jitters of 0 to
/// 20 %, uniform and normal, equal and unequal intervals (`services/acoustics/tests/confirmation.rs`).
///
/// W. Feller, An Introduction to Probability Theory and Its Applications, vol. 1, 3rd ed. (1968), section IV.3 (realization of m among n
/// events), ISBN 978-0-471-25708-0.
#[derive(Debug, Clone, PartialEq)]
pub struct Confirmer {
    marks: usize,
    pings: usize,
    period: f64,
    /// H(A) of one mark over ℓ/T', by length; A as the bits of its place.
    hits: Box<[Box<[f64]>]>,
    /// Second antiderivative of the density of the shift, by how many pings lie between.
    shifts: Box<[Wound]>,
}

/// A mark of a neighbour, in seconds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mark {
    /// From the neighbour's ping to the mark.
    pub delay: f64,
    /// How long it is.
    pub length: f64,
}

/// Most paths over which a neighbour's ping arrives: the bounces and the direct one.
pub(super) const PATHS: usize = super::BOUNCES as usize + 1;

impl Confirmer {
    /// A unit's display among neighbours of one timing. More pings than [`MOST_PINGS`] count as so many, and `marks` is kept within 1 and
    /// the number of pings.
    #[must_use]
    pub fn new(own: Timing, other: Timing, (marks, pings): (u32, u32), shape: JitterShape) -> Self {
        let whole = |count: u32| usize::try_from(count).unwrap_or(MOST_PINGS).clamp(1, MOST_PINGS);
        let (pings, period) = (whole(pings), other.interval.get());
        let shifts: Vec<Shift> = (1..pings).map(|lag| Shift::new(own, other, lag, shape)).collect();
        let hits = match shifts.as_slice() {
            [] => Box::default(),
            shifts => (0..LENGTHS).map(|index| hits_of(shifts, period, length_at(index))).collect(),
        };
        let shifts = shifts.iter().map(|shift| Wound::new(shift, period)).collect();
        Self { marks: whole(marks).min(pings), pings, period, hits, shifts }
    }

    /// A unit that draws each mark of neighbours on an interval at once.
    #[must_use]
    pub fn at_once(interval: Seconds) -> Self {
        Self { marks: 1, pings: 1, period: interval.get(), hits: Box::default(), shifts: Box::default() }
    }

    /// Interval of the neighbours.
    #[must_use]
    pub fn interval(&self) -> Seconds {
        Seconds::new(self.period)
    }

    /// Whether each mark is drawn at once.
    #[must_use]
    pub fn is_at_once(&self) -> bool {
        self.pings == 1
    }

    /// Q(B) of no neighbours: 1 for each set of pings.
    #[must_use]
    pub fn silence(&self) -> Vec<f64> {
        vec![1.0; 1 << self.pings]
    }

    /// Adds a neighbour with its marks to Q(B).
    pub(super) fn add(&self, silence: &mut [f64], marks: &[Mark; PATHS]) {
        if self.is_at_once() {
            let part: f64 = marks.iter().map(|mark| mark.length).sum::<f64>() / self.period;
            if let Some(none) = silence.last_mut() {
                *none *= 1.0 - part.min(1.0);
            }
            return;
        }
        let mut own = self.hits(marks);
        for (set, hit) in own.iter_mut().enumerate() {
            if set.count_ones() % 2 == 1 {
                *hit = -*hit;
            }
        }
        over_subsets(self.pings, &mut own, |sum, without| sum + without);
        // Steps between marks are not quite chances of one process, and marks may fill the whole interval: more pings are never silent more
        // often than fewer.
        for set in 1..own.len() {
            let fewer = (0..self.pings).filter(|ping| set & (1 << ping) != 0).map(|ping| set ^ (1 << ping));
            let most = fewer.filter_map(|fewer| own.get(fewer)).copied().fold(1.0, f64::min);
            if let Some(none) = own.get_mut(set) {
                *none = none.clamp(0.0, most);
            }
        }
        for (sum, none) in silence.iter_mut().zip(own) {
            *sum *= none;
        }
    }

    /// The part of the range cells in which marks are drawn, from Q(B) of all neighbours: the product of what [`Received::silence`] answers for each.
    ///
    /// [`Received::silence`]: super::Received::silence
    #[must_use]
    pub fn drawn(&self, silence: &[f64]) -> f64 {
        // Chance that no ping outside a set shows a mark; then, by differences, that just this set does.
        let mut just: Vec<f64> = silence.iter().rev().copied().collect();
        over_subsets(self.pings, &mut just, |sum, without| sum - without);
        // Rounding and the cells of the table leave chances a little under nothing.
        let sets =
            just.iter().enumerate().filter(|(set, _)| self.marks <= usize::try_from(set.count_ones()).unwrap_or(0));
        sets.map(|(_, chance)| chance.max(0.0)).sum::<f64>().min(1.0)
    }

    /// H(A) of all marks of a neighbour, 1 for no ping.
    fn hits(&self, marks: &[Mark; PATHS]) -> Vec<f64> {
        let marks = marks.map(|mark| Mark { length: mark.length.min(self.period), ..mark });
        let mut hits = vec![0.0; 1 << self.pings];
        let mut paths = 0;
        for mark in marks.iter().filter(|mark| mark.length > 0.0) {
            paths += 1;
            self.add_hits_of_one(mark.length / self.period, &mut hits);
        }
        if paths > 1 {
            let steps: Vec<Steps> = self.shifts.iter().map(|shift| shift.steps(&marks)).collect();
            let staying: Vec<Steps> = steps.iter().map(Steps::staying).collect();
            let start = marks.map(|mark| mark.length / self.period);
            let along =
                |steps: &[Steps]| chains(self.pings, start, |lag, before| steps.get(lag).map(|by| by.take(before)));
            // All chains of steps less those that stay in one mark, which are counted already.
            for ((hit, all), one) in hits.iter_mut().zip(along(&steps)).zip(along(&staying)) {
                *hit += (all.iter().sum::<f64>() - one.iter().sum::<f64>()).max(0.0);
            }
        }
        if let Some(first) = hits.first_mut() {
            *first = 1.0;
        }
        hits
    }

    /// Adds H(A) of one mark that is this part of the interval.
    fn add_hits_of_one(&self, part: f64, hits: &mut [f64]) {
        let place = (libm::log(part / SHORTEST) / -libm::log(SHORTEST) * super::axis::real(LENGTHS - 1)).max(0.0);
        let (index, share) = super::axis::place(place, LENGTHS, 0);
        let (Some(below), Some(above)) = (self.hits.get(index), self.hits.get(index + 1)) else { return };
        for (slot, (a, b)) in hits.iter_mut().zip(below.iter().zip(above)) {
            *slot += part * (a + share * (b - a));
        }
    }
}

/// Joins the value of each set with those of its subsets, one ping after another.
fn over_subsets(pings: usize, values: &mut [f64], join: impl Fn(f64, f64) -> f64) {
    for ping in 0..pings {
        for set in (0..values.len()).filter(|set| set & (1 << ping) != 0) {
            let without = values.get(set ^ (1 << ping)).copied().unwrap_or(0.0);
            if let Some(value) = values.get_mut(set) {
                *value = join(*value, without);
            }
        }
    }
}

/// What is left along the pings of each set, by the bits of its place: `step` moves it on over so many pings and one more.
fn chains<T: Copy + Default>(pings: usize, start: T, step: impl Fn(usize, &T) -> Option<T>) -> Vec<T> {
    let mut chains: Vec<T> = vec![T::default(); 1 << pings];
    for set in 1_usize..1 << pings {
        // The same pings later show the same.
        let shifted = set >> set.trailing_zeros();
        let last = shifted.ilog2();
        let before = shifted ^ (1 << last);
        let value = if before == 0 {
            Some(start)
        } else if shifted < set {
            chains.get(shifted).copied()
        } else {
            let lag = usize::try_from(last - before.ilog2() - 1).unwrap_or(0);
            chains.get(before).and_then(|chain| step(lag, chain))
        };
        if let (Some(slot), Some(value)) = (chains.get_mut(set), value) {
            *slot = value;
        }
    }
    chains
}

/// Chances to come from one mark into another; by from and to.
#[derive(Debug, Clone, Copy)]
struct Steps([[f64; PATHS]; PATHS]);

impl Steps {
    /// Those that stay in one mark.
    fn staying(&self) -> Self {
        Self(std::array::from_fn(|from| {
            std::array::from_fn(|to| if from == to { entry(&self.0, from, to) } else { 0.0 })
        }))
    }

    /// One step.
    fn take(&self, before: &[f64; PATHS]) -> [f64; PATHS] {
        std::array::from_fn(|to| before.iter().enumerate().map(|(from, value)| value * entry(&self.0, from, to)).sum())
    }
}

fn entry(matrix: &[[f64; PATHS]; PATHS], row: usize, column: usize) -> f64 {
    matrix.get(row).and_then(|row| row.get(column)).copied().unwrap_or(0.0)
}

/// A length of the table over the neighbour's interval.
fn length_at(index: usize) -> f64 {
    libm::pow(SHORTEST, 1.0 - super::axis::real(index) / super::axis::real(LENGTHS - 1))
}

/// H(A) of one mark over ℓ/T'.
fn hits_of(shifts: &[Shift], period: f64, part: f64) -> Box<[f64]> {
    let cell = part * period / super::axis::real(CELLS);
    let moves: Vec<[f64; 2 * CELLS - 1]> = shifts.iter().map(|shift| shift.moves(period, cell)).collect();
    // Where in the mark the last ping of a set finds itself.
    let start = Cells([1.0 / super::axis::real(CELLS); CELLS]);
    let chains = chains(shifts.len() + 1, start, |lag, before: &Cells| {
        let mut after = Cells::default();
        move_by(moves.get(lag)?, &before.0, &mut after.0);
        Some(after)
    });
    chains.iter().map(|cells| cells.0.iter().sum()).collect()
}

/// Chances by cell along a mark.
#[derive(Debug, Clone, Copy)]
struct Cells([f64; CELLS]);

impl Default for Cells {
    fn default() -> Self {
        Self([0.0; CELLS])
    }
}

/// Adds what comes out of the cells of one ping in those of a later one.
fn move_by(moves: &[f64; 2 * CELLS - 1], before: &[f64; CELLS], after: &mut [f64; CELLS]) {
    for (to, slot) in after.iter_mut().enumerate() {
        // Cell `from` lies `to − from` before: place `to − from + CELLS − 1` of the table, falling with `from`.
        let reversed = moves.iter().skip(to).take(CELLS).rev();
        *slot += before.iter().zip(reversed).map(|(value, part)| value * part).sum::<f64>();
    }
}

/// How far a neighbour's mark moves over some pings.
#[derive(Debug, Clone, Copy)]
struct Shift {
    mean: f64,
    spread: Spread,
}

#[derive(Debug, Clone, Copy)]
enum Spread {
    /// Sum of `own` uniform jitters of one half width and `others` of another.
    Uniform { own: (u32, f64), others: (u32, f64) },
    /// Normal with this standard deviation; zero for none.
    Normal(f64),
}

impl Shift {
    fn new(own: Timing, other: Timing, lag: usize, shape: JitterShape) -> Self {
        let lag = super::axis::real(lag);
        let (elapsed, period) = (lag * own.interval.get(), other.interval.get());
        // How many pings the neighbour has sent in the meantime.
        let sent = elapsed / period;
        let (a, b) = (own.interval.get() * own.jitter.abs(), period * other.jitter.abs());
        let spread = match shape {
            JitterShape::Normal => Spread::Normal(libm::sqrt(lag * a * a + sent * b * b)),
            JitterShape::Uniform => {
                let own = counted(lag, a, b);
                let others = counted(libm::round(sent), b, a);
                if own.0 + others.0 > EXACT {
                    Spread::Normal(libm::sqrt((lag * a * a + sent * b * b) / 3.0))
                } else {
                    Spread::Uniform { own, others }
                }
            }
        };
        Self { mean: elapsed - period * libm::round(sent), spread }
    }

    /// Second antiderivative of the density on the circle at −1.5 to 1.5 turns: all turns that reach there together. Only its second differences
    /// are ever taken.
    fn wound(&self, x: f64, period: f64) -> f64 {
        if self.is_anywhere(period) {
            return 0.5 * x * x / period;
        }
        let turns = libm::ceil(self.spread.reach() / period) + 2.0;
        let (mut sum, mut turn) = (0.0, -turns);
        while turn <= turns {
            sum += self.spread.second_antiderivative(x - self.mean - turn * period);
            turn += 1.0;
        }
        sum
    }

    /// Whether a mark may be anywhere on the circle alike. A normal shift wound up has harmonics of exp(−2π²(nσ/T)²), 1e-34 at two turns; the turns
    /// that reach a place would be thousands where an interval of two seconds meets one of five milliseconds.
    fn is_anywhere(&self, period: f64) -> bool {
        matches!(self.spread, Spread::Normal(deviation) if deviation >= ANYWHERE * period)
    }

    /// Part of a cell that a shift moves into the cell so many places on, from CELLS − 1 before to CELLS − 1 after it.
    fn moves(&self, period: f64, cell: f64) -> [f64; 2 * CELLS - 1] {
        let edges: [f64; 2 * CELLS + 1] = std::array::from_fn(|index| {
            self.wound((super::axis::real(index) - super::axis::real(CELLS)) * cell, period)
        });
        let mut moves = [0.0; 2 * CELLS - 1];
        for (slot, window) in moves.iter_mut().zip(edges.windows(3)) {
            if let [before, here, after] = window {
                *slot = ((after - here) - (here - before)).max(0.0) / cell;
            }
        }
        moves
    }
}

/// Turns of the circle from which on a normal shift is spread evenly.
const ANYWHERE: f64 = 2.0;
/// Points of a table over three turns of the circle.
const WOUND_POINTS: usize = 1537;

/// Second antiderivative of the density of a shift on the circle, tabulated over −1.5 to 1.5 turns.
#[derive(Debug, Clone, PartialEq)]
struct Wound {
    period: f64,
    values: Box<[f64]>,
}

impl Wound {
    fn new(shift: &Shift, period: f64) -> Self {
        let at = |index: usize| (super::axis::real(index) / super::axis::real(WOUND_POINTS - 1) - 0.5) * 3.0 * period;
        Self { period, values: (0..WOUND_POINTS).map(|index| shift.wound(at(index), period)).collect() }
    }

    fn at(&self, x: f64) -> f64 {
        let place = (x / (3.0 * self.period) + 0.5) * super::axis::real(WOUND_POINTS - 1);
        let (index, share) = super::axis::place(place, WOUND_POINTS, 0);
        match (self.values.get(index), self.values.get(index + 1)) {
            (Some(a), Some(b)) => a + share * (b - a),
            _ => 0.0,
        }
    }

    /// Chances that a cell somewhere in one mark lies in another one after the shift.
    fn steps(&self, marks: &[Mark; PATHS]) -> Steps {
        Steps(marks.map(|from| {
            marks.map(|to| {
                if from.length <= 0.0 || to.length <= 0.0 {
                    return 0.0;
                }
                let apart = from.delay - to.delay;
                let apart = apart - self.period * libm::round(apart / self.period);
                // ∫∫ g(y − x + apart) over x in the one and y in the other.
                let sum = self.at(apart + from.length) - self.at(apart) - self.at(apart + from.length - to.length)
                    + self.at(apart - to.length);
                (sum / from.length).clamp(0.0, 1.0)
            })
        }))
    }
}

/// How many jitters of a width count beside one of another width.
fn counted(count: f64, width: f64, other: f64) -> (u32, f64) {
    if width <= SLIGHT * other || width <= 0.0 { (0, 0.0) } else { (small(count), width) }
}

/// A small count.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 0 … 100")]
fn small(count: f64) -> u32 {
    count.clamp(0.0, 100.0) as u32
}

impl Spread {
    /// Beyond this nothing is spread.
    fn reach(self) -> f64 {
        match self {
            Self::Uniform { own, others } => f64::from(own.0) * own.1 + f64::from(others.0) * others.1,
            Self::Normal(deviation) => 8.0 * deviation,
        }
    }

    /// ∫∫ of the density: 0 far below, x far above.
    fn second_antiderivative(self, x: f64) -> f64 {
        let reach = self.reach();
        if x >= reach {
            return x;
        }
        if x <= -reach {
            return 0.0;
        }
        match self {
            Self::Normal(deviation) => {
                let t = x / deviation;
                let below = 0.5 * libm::erfc(-t * std::f64::consts::FRAC_1_SQRT_2);
                let density = libm::exp(-0.5 * t * t) / libm::sqrt(2.0 * std::f64::consts::PI);
                x * below + deviation * density
            }
            // Σ ± (x + Σ ±w)₊^{N+1} / (N+1)! Π 2w: the density of a sum of N uniform numbers is a spline.
            Self::Uniform { own: (k, v), others: (r, w) } => {
                let order = i32::try_from(k + r + 1).unwrap_or(1);
                let mut sum = 0.0;
                for i in 0..=k {
                    for j in 0..=r {
                        let past = x + reach - 2.0 * (f64::from(i) * v + f64::from(j) * w);
                        if past > 0.0 {
                            let sign = if (i + j) % 2 == 0 { 1.0 } else { -1.0 };
                            sum += sign * binomial(k, i) * binomial(r, j) * power(past, order);
                        }
                    }
                }
                let factorial: f64 = (1..=order).map(f64::from).product();
                sum / (factorial * power(2.0 * v, order_of(k)) * power(2.0 * w, order_of(r)))
            }
        }
    }
}

fn binomial(n: u32, k: u32) -> f64 {
    (0..k).map(|i| f64::from(n - i) / f64::from(i + 1)).product()
}

fn order_of(count: u32) -> i32 {
    i32::try_from(count).unwrap_or(0)
}

/// A small power by multiplication.
fn power(base: f64, exponent: i32) -> f64 {
    (0..exponent).fold(1.0, |product, _| product * base)
}
