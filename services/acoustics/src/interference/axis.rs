//! The axes of tables.

/// An axis of a table whose points stand evenly up to a bend and in proportion beyond it: bend · sinh of an even count.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    bend: f64,
    start: f64,
    step: f64,
    pub(super) points: usize,
}

impl Axis {
    pub(super) fn new(bend: f64, (low, high): (f64, f64), points: usize) -> Self {
        let start = libm::asinh(low / bend);
        Self { bend, start, step: (libm::asinh(high / bend) - start) / real(points - 1), points }
    }

    /// From zero, with as many points as a step at most that long asks for.
    pub(super) fn stepping(bend: f64, high: f64, step: f64) -> Self {
        let (last, _) = place(libm::asinh(high / bend) / step, MOST_STEPS, 0);
        Self::new(bend, (0.0, high), last + 2)
    }

    pub(super) fn at(&self, index: usize) -> f64 {
        self.bend * libm::sinh(self.start + self.step * real(index))
    }

    pub(super) fn position(&self, value: f64) -> f64 {
        (libm::asinh(value / self.bend) - self.start) / self.step
    }

    /// Index of the first of the four points around a value, and their weights: the cubic through all four.
    pub(super) fn around(&self, value: f64) -> (usize, [f64; 4]) {
        let (index, x) = place(self.position(value), self.points, 1);
        let [a, b, c, d] = [x + 1.0, x, x - 1.0, x - 2.0];
        (index - 1, [-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0])
    }

    /// Index of the point under a value, and the part of the way to the next: along the axis, and in the value itself.
    pub(super) fn between(&self, value: f64) -> (usize, [f64; 2]) {
        let (index, along) = place(self.position(value), self.points, 0);
        let (low, high) = (self.at(index), self.at(index + 1));
        (index, [along, ((value - low) / (high - low)).clamp(0.0, 1.0)])
    }
}

/// More steps than any axis has: beams of half a degree ask for 300 on theirs.
const MOST_STEPS: usize = 1_000;

/// Index of the point under a position and how far past it the position lies, with `margin` points left on both sides.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the position is clamped to the axis before it is truncated"
)]
pub(super) fn place(position: f64, points: usize, margin: usize) -> (usize, f64) {
    let position = position.clamp(0.0, real(points - 1));
    let index = (position as usize).clamp(margin, points - 2 - margin);
    (index, position - real(index))
}

/// A small count as a real number.
#[allow(clippy::cast_precision_loss, reason = "counts here are far below 2^52")]
pub(crate) fn real(count: usize) -> f64 {
    count as f64
}
