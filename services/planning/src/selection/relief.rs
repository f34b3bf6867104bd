//! Boulders and logs as bodies: an outline, seen wherever the beam touches it first.

use acoustics::units::Metres;
use domain::{Relief, ReliefKind};

/// Points of an outline from the foot that is nearer to the hole up to the point that is nearest in range.
const POINTS: u32 = 6;
/// Halvings in which the nearest point is found.
const SEARCH_STEPS: u32 = 24;

/// Half width of a body as a part of its height: a boulder lies broader than it stands, a log is round.
#[must_use]
pub(crate) fn half_width(kind: ReliefKind) -> f64 {
    match kind {
        ReliefKind::Boulder => 0.75,
        ReliefKind::Log => 0.5,
    }
}

/// The outline of a boulder or log: half an ellipse on the bottom.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Body {
    points: [Point; POINTS as usize],
}

/// A point of the outline.
#[derive(Debug, Clone, Copy, Default)]
struct Point {
    range: f64,
    angle: f64,
    /// 20 lg(r/d): what its range costs against the depth's, one way.
    spreading: f64,
}

impl Body {
    /// The outline of something that stands on the bottom at a depth.
    pub(crate) fn new(item: &Relief, depth: Metres) -> Self {
        let (d, h) = (depth.get(), item.height.get().min(0.9 * depth.get()));
        let (x, a) = (item.offset.get(), half_width(item.kind) * h);
        let at = |t: f64| (x - a * libm::cos(t), d - h * libm::sin(t));
        let square = |t: f64| {
            let (x, z) = at(t);
            x * x + z * z
        };
        // Range has one least value over the half ellipse.
        let (mut low, mut high) = (0.0, std::f64::consts::PI);
        for _ in 0..SEARCH_STEPS {
            let (one, two) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if square(one) > square(two) { low = one } else { high = two }
        }
        let nearest = 0.5 * (low + high);
        let mut points = [Point::default(); POINTS as usize];
        for (index, point) in (0..POINTS).zip(&mut points) {
            let (x, z) = at(nearest * f64::from(index) / f64::from(POINTS - 1));
            let range = libm::hypot(x, z);
            *point = Point { range, angle: libm::atan2(x.abs(), z), spreading: 20.0 * libm::log10(range / d) };
        }
        Self { points }
    }

    /// The least range of what shows of it, where a one-way level is just enough at the depth of the bottom; infinite where nothing shows.
    pub(crate) fn first_range(&self, beam: impl Fn(f64) -> f64, level: f64) -> f64 {
        let mut first = f64::INFINITY;
        let mut before: Option<(f64, f64)> = None;
        for point in &self.points {
            let over = beam(point.angle) - point.spreading - level;
            if over >= 0.0 {
                first = first.min(point.range);
            }
            // Between a point that shows and one that does not, the last that shows.
            if let Some((range, margin)) = before
                && (over >= 0.0) != (margin >= 0.0)
            {
                first = first.min(range + (point.range - range) * margin / (margin - over));
            }
            before = Some((point.range, over));
        }
        first
    }
}
