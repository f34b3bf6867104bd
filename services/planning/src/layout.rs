//! Holes of a shelter: as drilled, or laid out as far apart as the floor allows (max-min dispersion).
//!
//! The search relaxes overlapping discs: from many starts, a wanted spacing is raised step by step and points that come
//! closer than it are pushed apart inside the area, until no step is reached any more. The spreads found are compared in
//! tests with the published best-known ones.

use crate::PlanningError;
use crate::domain::{Floor, HolePlan, Point, Shelter};
use acoustics::units::Metres;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Starts of the search; enough for the best-known spread of up to 20 points in a square.
const STARTS: u64 = 48;
/// Seed of the starts: any fixed number serves, it only has to stay the same.
const SEED: u64 = 0x1ce;
/// First relative rise of the wanted spacing.
const FIRST_RISE: f64 = 0.1;
/// The search ends when a relative rise this small is not reached.
const LAST_RISE: f64 = 2.0e-5;
/// Sweeps to reach one wanted spacing.
const SWEEPS: u32 = 120;

/// Where the centres of holes may lie: the floor less its wall clearance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Area {
    /// A rectangle from `(x, y)`; either side may be 0, which leaves a line.
    Rectangle {
        /// Left edge.
        x: Metres,
        /// Lower edge.
        y: Metres,
        /// Along x.
        length: Metres,
        /// Along y.
        width: Metres,
    },
    /// A circle; the radius may be 0, which leaves a point.
    Circle {
        /// Centre, both coordinates.
        centre: Metres,
        /// Radius.
        radius: Metres,
    },
}

/// The holes of a shelter: as drilled, or laid out for its party. An error when they come closer together than the
/// least web of ice allows, or when nothing fits.
pub fn holes(shelter: &Shelter) -> Result<Vec<Point>, PlanningError> {
    let people = match &shelter.holes {
        HolePlan::Drilled(holes) => return Ok(holes.clone()),
        HolePlan::Party(people) => *people,
    };
    let clearance = shelter.wall_clearance;
    let area = Area::of(&shelter.floor, clearance)
        .ok_or_else(|| PlanningError::NoRoomForHole { shelter: shelter.id.to_string(), clearance })?;
    let points = disperse(area, people);
    let needed = shelter.hole_radius * 2.0 + shelter.min_ice_web;
    match least_spacing(&points) {
        // The search stops a hair short of the true optimum, which must not refuse a layout that just fits.
        Some(spacing) if spacing < needed * (1.0 - 1.0e-4) => {
            Err(PlanningError::HolesTooClose { shelter: shelter.id.to_string(), people, spacing, needed })
        }
        _ => Ok(points),
    }
}

/// `count` points in the area as far apart as the search finds; deterministic. One point lies in the middle.
#[must_use]
pub fn disperse(area: Area, count: u32) -> Vec<Point> {
    let scale = area.size();
    if count <= 1 || scale == 0.0 {
        return vec![area.middle(); usize::try_from(count).unwrap_or_default()];
    }
    let frame = area.unit(scale);
    let mut best: Option<(f64, Vec<[f64; 2]>)> = None;
    for start in 0..STARTS {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        rng.set_stream(start);
        let mut points: Vec<[f64; 2]> =
            (0..count).map(|_| frame.clamp([rng.random_range(-0.5..0.5), rng.random_range(-0.5..0.5)])).collect();
        let spread = spread_out(frame, &mut points);
        if best.as_ref().is_none_or(|(most, _)| spread > *most) {
            best = Some((spread, points));
        }
    }
    let middle = area.middle();
    let place = |[x, y]: [f64; 2]| Point { x: middle.x + Metres::new(x * scale), y: middle.y + Metres::new(y * scale) };
    best.map_or_else(Vec::new, |(_, points)| points.into_iter().map(place).collect())
}

/// Least distance between two of the points; none for fewer than two.
#[must_use]
pub fn least_spacing(points: &[Point]) -> Option<Metres> {
    let mut least: Option<f64> = None;
    for (index, a) in points.iter().enumerate() {
        for b in points.iter().take(index) {
            let distance = libm::hypot(a.x.get() - b.x.get(), a.y.get() - b.y.get());
            least = Some(least.map_or(distance, |so_far| so_far.min(distance)));
        }
    }
    least.map(Metres::new)
}

/// An upper bound of how many points at least `spacing` apart fit in a compact convex area of area A and perimeter P:
/// `2/√3 · A/m² + P/(2m) + 1` (Oler 1961, An inequality in the geometry of numbers, Acta Math. 105, 19-48,
/// doi:10.1007/BF02559533).
#[must_use]
pub fn most_that_fit(area: Area, spacing: Metres) -> f64 {
    let m = spacing.get();
    let (surface, perimeter) = match area {
        Area::Rectangle { length, width, .. } => (length.get() * width.get(), 2.0 * (length.get() + width.get())),
        Area::Circle { radius, .. } => {
            let r = radius.get();
            (std::f64::consts::PI * r * r, std::f64::consts::TAU * r)
        }
    };
    2.0 / libm::sqrt(3.0) * surface / (m * m) + perimeter / (2.0 * m) + 1.0
}

impl Area {
    /// The floor less its wall clearance; none where nothing is left.
    #[must_use]
    pub fn of(floor: &Floor, clearance: Metres) -> Option<Self> {
        match *floor {
            Floor::Rectangle { length, width } => {
                let (length, width) = (length - clearance * 2.0, width - clearance * 2.0);
                (length.get() >= 0.0 && width.get() >= 0.0).then_some(Self::Rectangle {
                    x: clearance,
                    y: clearance,
                    length,
                    width,
                })
            }
            Floor::Circle { diameter } => {
                let (centre, radius) = (diameter / 2.0, diameter / 2.0 - clearance);
                (radius.get() >= 0.0).then_some(Self::Circle { centre, radius })
            }
        }
    }

    fn middle(self) -> Point {
        match self {
            Self::Rectangle { x, y, length, width } => Point { x: x + length / 2.0, y: y + width / 2.0 },
            Self::Circle { centre, .. } => Point { x: centre, y: centre },
        }
    }

    /// Longest extent, m.
    fn size(self) -> f64 {
        match self {
            Self::Rectangle { length, width, .. } => length.get().max(width.get()),
            Self::Circle { radius, .. } => 2.0 * radius.get(),
        }
    }

    /// The area scaled to a longest extent of 1 about its middle.
    fn unit(self, scale: f64) -> Frame {
        match self {
            Self::Rectangle { length, width, .. } => {
                Frame::Rectangle([0.5 * length.get() / scale, 0.5 * width.get() / scale])
            }
            Self::Circle { .. } => Frame::Circle,
        }
    }
}

/// An area of extent 1 about the origin.
#[derive(Clone, Copy)]
enum Frame {
    /// Half sides.
    Rectangle([f64; 2]),
    /// Radius 0.5.
    Circle,
}

impl Frame {
    /// The nearest point inside.
    fn clamp(self, [x, y]: [f64; 2]) -> [f64; 2] {
        match self {
            Self::Rectangle([hx, hy]) => [x.clamp(-hx, hx), y.clamp(-hy, hy)],
            Self::Circle => {
                let r = libm::sqrt(x * x + y * y);
                if r > 0.5 { [0.5 * x / r, 0.5 * y / r] } else { [x, y] }
            }
        }
    }
}

/// Raises the least distance of the points as far as relaxation reaches; answers it.
fn spread_out(frame: Frame, points: &mut Vec<[f64; 2]>) -> f64 {
    let mut reached = least_distance(points);
    let mut wanted = reached.max(0.3 / libm::sqrt(f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX))));
    let mut rise = FIRST_RISE;
    let mut trial = points.clone();
    while rise > LAST_RISE {
        trial.clone_from(points);
        for _ in 0..SWEEPS {
            if !push_apart(frame, &mut trial, wanted) {
                break;
            }
        }
        let distance = least_distance(&trial);
        // A step counts when it gained at least a part of what was wanted; the points then serve as the next start.
        if distance > reached * (1.0 + 0.25 * rise) {
            reached = distance;
            points.clone_from(&trial);
        } else {
            rise *= 0.5;
        }
        wanted = reached * (1.0 + rise);
    }
    reached
}

/// One sweep over all pairs: pairs nearer than `wanted` move apart by half of what is missing each. True if any moved.
#[allow(
    clippy::indexing_slicing,
    reason = "i and j run below points.len(); two elements of one slice are changed at once"
)]
fn push_apart(frame: Frame, points: &mut [[f64; 2]], wanted: f64) -> bool {
    let mut moved = false;
    for i in 1..points.len() {
        for j in 0..i {
            let (dx, dy) = (points[i][0] - points[j][0], points[i][1] - points[j][1]);
            let square = dx * dx + dy * dy;
            if square >= wanted * wanted {
                continue;
            }
            moved = true;
            let distance = libm::sqrt(square);
            // Two points on one another part along a direction that depends on their numbers alone.
            let (ux, uy) = if distance > 1.0e-12 {
                (dx / distance, dy / distance)
            } else {
                let turn = f64::from(u32::try_from(i * 7 + j).unwrap_or(0));
                (libm::cos(turn), libm::sin(turn))
            };
            let push = 0.5 * (wanted - distance);
            points[i] = frame.clamp([points[i][0] + push * ux, points[i][1] + push * uy]);
            points[j] = frame.clamp([points[j][0] - push * ux, points[j][1] - push * uy]);
        }
    }
    moved
}

fn least_distance(points: &[[f64; 2]]) -> f64 {
    let mut least = f64::INFINITY;
    for (index, a) in points.iter().enumerate() {
        for b in points.iter().take(index) {
            let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
            least = least.min(dx * dx + dy * dy);
        }
    }
    libm::sqrt(least)
}
