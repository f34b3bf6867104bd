//! Holes of a shelter: as drilled, or laid out as far apart as the floor allows (max-min dispersion).
//!
//! The spreads that the search finds are compared in tests with the published best-known ones.

mod search;

use crate::PlanningError;
use crate::domain::{Floor, HolePlan, Point, Shelter};
use acoustics::units::Metres;
use search::Frame;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

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
    holes_while(shelter, &|| true)
}

/// As [`holes`]; `wanted` is asked now and then whether anybody still waits for them.
///
/// # Errors
/// As [`holes`], or nobody waits any more.
pub fn holes_while(shelter: &Shelter, wanted: &(dyn Fn() -> bool + Sync)) -> Result<Vec<Point>, PlanningError> {
    Layouts::default().holes_while(shelter, wanted)
}

/// `count` points in the area as far apart as the search finds; deterministic. One point lies in the middle.
#[must_use]
pub fn disperse(area: Area, count: u32) -> Vec<Point> {
    Layouts::default().disperse(area, count)
}

/// Layouts that were found already, by the proportions of their area: floors of one make differ in size at most, and a
/// search takes far longer than a look-up.
#[derive(Debug, Default)]
pub struct Layouts {
    known: Mutex<HashMap<(Proportions, u32), Places>>,
}

/// The shape of an area, its size apart.
type Proportions = (bool, u64, u64);
/// Points of a layout, in shares of its area.
type Places = Arc<Vec<[f64; 2]>>;

impl Layouts {
    /// As [`disperse`], with the same answer, but searched for once only.
    #[must_use]
    pub fn disperse(&self, area: Area, count: u32) -> Vec<Point> {
        // It ends early only when it is told to.
        self.disperse_while(area, count, &|| true).unwrap_or_default()
    }

    fn disperse_while(&self, area: Area, count: u32, wanted: &(dyn Fn() -> bool + Sync)) -> Option<Vec<Point>> {
        let scale = area.size();
        if count <= 1 || scale == 0.0 {
            return Some(vec![area.middle(); usize::try_from(count).unwrap_or_default()]);
        }
        let frame = area.unit(scale);
        let key = (frame.proportions(), count);
        let known = self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        let points = match known {
            Some(known) => known,
            None => {
                let found = Arc::new(search::spread(frame, count, &|| wanted())?);
                self.known.lock().unwrap_or_else(PoisonError::into_inner).insert(key, Arc::clone(&found));
                found
            }
        };
        Some(points.iter().map(|point| area.place(*point, scale)).collect())
    }

    /// As [`holes`], with the same answer.
    ///
    /// # Errors
    /// As [`holes`].
    pub fn holes(&self, shelter: &Shelter) -> Result<Vec<Point>, PlanningError> {
        self.holes_while(shelter, &|| true)
    }

    /// As [`holes_while`], with the same answer.
    ///
    /// # Errors
    /// As [`holes_while`].
    pub fn holes_while(
        &self,
        shelter: &Shelter,
        wanted: &(dyn Fn() -> bool + Sync),
    ) -> Result<Vec<Point>, PlanningError> {
        let people = match &shelter.holes {
            HolePlan::Drilled(holes) => return Ok(holes.clone()),
            HolePlan::Party(people) => *people,
        };
        let clearance = shelter.wall_clearance;
        let area = Area::of(&shelter.floor, clearance)
            .ok_or_else(|| PlanningError::NoRoomForHole { shelter: shelter.id.to_string(), clearance })?;
        let points = self.disperse_while(area, people, wanted).ok_or(PlanningError::NotWanted)?;
        let needed = shelter.hole_radius * 2.0 + shelter.min_ice_web;
        match least_spacing(&points) {
            // The search stops a hair short of the true optimum, which must not refuse a layout that just fits.
            Some(spacing) if spacing < needed * (1.0 - 1.0e-4) => {
                Err(PlanningError::HolesTooClose { shelter: shelter.id.to_string(), people, spacing, needed })
            }
            _ => Ok(points),
        }
    }
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

    /// A point of the unit frame on the floor; the clamp takes back what rounding put outside.
    fn place(self, [x, y]: [f64; 2], scale: f64) -> Point {
        let middle = self.middle();
        let (px, py) = (middle.x.get() + x * scale, middle.y.get() + y * scale);
        let (px, py) = match self {
            Self::Rectangle { x, y, length, width } => {
                (px.clamp(x.get(), x.get() + length.get()), py.clamp(y.get(), y.get() + width.get()))
            }
            Self::Circle { .. } => (px, py),
        };
        Point { x: Metres::new(px), y: Metres::new(py) }
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
