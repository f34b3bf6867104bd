//! For how long the scatter of a pulse passes each level.

use std::sync::LazyLock;

use super::axis::{place, real};

/// Points of a curve.
pub const CURVE_POINTS: usize = 224;

/// How long the scattered intensity passes a level: for levels under the peak, growing with the square of the index.
///
/// All lengths are over the depth d and durations in units of d/c; the level of a real pair is SL + `peak` − 20 lg d − α·path.
/// Durations, and not levels at fixed durations, because it is the duration that is asked for, and because at the end of a long pulse
/// the level falls off a cliff whose place in time is all that changes from one pulse or spacing to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Highest level, dB.
    pub peak: f64,
    /// For how long each level is passed; rising, zero for the peak itself. Single precision: seven digits of a duration are plenty, and
    /// twice as many are added at a time.
    pub durations: [f32; CURVE_POINTS],
}

impl Curve {
    /// Nothing arrives.
    pub const SILENT: Self = Self { peak: SILENCE, durations: [0.0; CURVE_POINTS] };

    /// How far the k-th level lies under the peak, dB.
    #[must_use]
    pub fn drop(k: usize) -> f64 {
        DROP_STEP * real(k) * real(k)
    }

    /// For how long a level that far under the peak is passed.
    #[must_use]
    pub fn duration(&self, drop: f64) -> f64 {
        if drop <= 0.0 {
            return 0.0;
        }
        let (index, _) = place(libm::sqrt(drop / DROP_STEP), CURVE_POINTS, 0);
        let (Some(early), Some(late)) = (self.durations.get(index), self.durations.get(index + 1)) else { return 0.0 };
        let (early, late) = (f64::from(*early), f64::from(*late));
        let (above, below) = (Self::drop(index), Self::drop(index + 1));
        // Under the last level nothing more is known to arrive.
        early + (late - early) * ((drop - above) / (below - above)).min(1.0)
    }
}

/// The last level of a curve lies 120 dB under the peak: past any dial.
const DROP_STEP: f64 = 120.0 / ((CURVE_POINTS - 1) * (CURVE_POINTS - 1)) as f64;
/// What stands for no intensity at all.
const SILENCE: f64 = -300.0;

/// What arrives along one path length, over the depth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    pub(super) path: f64,
    /// Intensity for each unit of path length; a straight line between rings.
    pub(super) density: f64,
    /// All that arrived up to here.
    pub(super) cumulated: f64,
}

/// For how long each level is passed by a pulse of length `pulse`, from the cumulated intensity over path length.
pub(super) fn curve_of(rings: &[Ring], pulse: f64) -> Curve {
    let heard = heard(rings, pulse);
    let peak = heard.iter().map(|(_, intensity)| *intensity).fold(0.0, f64::max);
    if peak <= 1e-30 {
        return Curve::SILENT;
    }
    // Between two edges the intensity is a straight line: part of it passes the levels between, all of it those under both.
    let mut durations = [0.0; CURVE_POINTS];
    let mut whole = [0.0; CURVE_POINTS];
    let mut before: Option<(f64, f64, usize)> = None;
    for &(path, intensity) in &heard {
        let part = intensity / peak;
        // From edge to edge an intensity moves by few levels.
        let passes = first_passed(part, before.map_or(0, |(_, _, passed)| passed));
        if let Some((from, other, passed)) = before {
            let (width, low, high) = (path - from, part.min(other), part.max(other));
            let (first, last) = (passes.min(passed), passes.max(passed));
            if let Some(slot) = whole.get_mut(last) {
                *slot += width;
            }
            for (duration, ratio) in durations.iter_mut().zip(RATIOS.iter()).take(last).skip(first) {
                *duration += width * ((high - ratio) / (high - low)).clamp(0.0, 1.0);
            }
        }
        before = Some((path, part, passes));
    }
    let mut sum = 0.0;
    for (duration, whole) in durations.iter_mut().zip(whole) {
        sum += whole;
        *duration += sum;
    }
    Curve { peak: 10.0 * libm::log10(peak), durations: durations.map(single) }
}

/// The first level of a curve that a part of the peak passes, looked for from `start`; past the end if it passes none.
fn first_passed(part: f64, start: usize) -> usize {
    let over = |level: usize| RATIOS.get(level).is_some_and(|ratio| *ratio >= part);
    let mut level = start;
    while level > 0 && !over(level - 1) {
        level -= 1;
    }
    while over(level) {
        level += 1;
    }
    level
}

/// The levels of a curve as parts of the peak.
static RATIOS: LazyLock<[f64; CURVE_POINTS]> =
    LazyLock::new(|| std::array::from_fn(|k| libm::pow(10.0, -0.1 * Curve::drop(k))));

/// What is heard at the edges of the rings, and at those edges a pulse later.
fn heard(rings: &[Ring], pulse: f64) -> Vec<(f64, f64)> {
    let (mut now, mut before) = (Cumulated::new(rings), Cumulated::new(rings));
    let mut heard: Vec<(f64, f64)> = Vec::with_capacity(2 * rings.len());
    let (mut early, mut late) = (rings.iter().peekable(), rings.iter().peekable());
    loop {
        let path = match (early.peek(), late.peek()) {
            (Some(now), Some(past)) if now.path <= past.path + pulse => early.next().map(|ring| ring.path),
            (_, Some(_)) => late.next().map(|ring| ring.path + pulse),
            (Some(_), None) => early.next().map(|ring| ring.path),
            (None, None) => None,
        };
        let Some(path) = path else { return heard };
        heard.push((path, now.at(path) - before.at(path - pulse)));
    }
}

/// All that arrived up to a path length, asked for at rising path lengths only.
struct Cumulated<'a> {
    rings: &'a [Ring],
    right: usize,
}

impl<'a> Cumulated<'a> {
    fn new(rings: &'a [Ring]) -> Self {
        Self { rings, right: 0 }
    }

    fn at(&mut self, path: f64) -> f64 {
        while self.rings.get(self.right).is_some_and(|ring| ring.path < path) {
            self.right += 1;
        }
        let left = self.right.checked_sub(1).and_then(|i| self.rings.get(i));
        match (left, self.rings.get(self.right)) {
            (None, _) => 0.0,
            (Some(last), None) => last.cumulated,
            (Some(inner), Some(outer)) => {
                let past = path - inner.path;
                let slope = (outer.density - inner.density) / (outer.path - inner.path);
                inner.cumulated + past * (inner.density + 0.5 * slope * past)
            }
        }
    }
}

/// In single precision: durations from nothing to some ten depths.
#[allow(clippy::cast_possible_truncation, reason = "rounded to the nearest, far from the limits of the type")]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}
