//! Holes of a shelter: as drilled, or laid out as far apart as the floor allows (max-min dispersion).
//!
//! The spreads that the search finds are compared in tests with the published best-known ones.

mod search;

use crate::PlanningError;
use acoustics::units::Metres;
use domain::area::Area;
use domain::{Cancel, Cancelled, HolePlan, Point, Shelter};
use search::Frame;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// The holes of a shelter: as drilled, or laid out for its party. An error when they come closer together than the
/// least web of ice allows, when nothing fits, or when the work is cancelled.
pub fn holes(shelter: &Shelter, cancel: &Cancel) -> Result<Vec<Point>, PlanningError> {
    Layouts::default().holes(shelter, cancel)
}

/// `count` points in the area as far apart as the search finds; deterministic. One point lies in the middle.
///
/// # Errors
/// The work is cancelled.
pub fn disperse(area: Area, count: u32, cancel: &Cancel) -> Result<Vec<Point>, Cancelled> {
    Layouts::default().disperse(area, count, cancel)
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
    ///
    /// # Errors
    /// The work is cancelled.
    pub fn disperse(&self, area: Area, count: u32, cancel: &Cancel) -> Result<Vec<Point>, Cancelled> {
        let scale = size(area);
        if count <= 1 || scale == 0.0 {
            return Ok(vec![middle(area); usize::try_from(count).unwrap_or_default()]);
        }
        let frame = unit(area, scale);
        let key = (frame.proportions(), count);
        let known = self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        let points = match known {
            Some(known) => known,
            None => {
                let found = Arc::new(search::spread(frame, count, cancel)?);
                self.known.lock().unwrap_or_else(PoisonError::into_inner).insert(key, Arc::clone(&found));
                found
            }
        };
        Ok(points.iter().map(|point| place(area, *point, scale)).collect())
    }

    /// As [`holes`], with the same answer.
    ///
    /// # Errors
    /// As [`holes`].
    pub fn holes(&self, shelter: &Shelter, cancel: &Cancel) -> Result<Vec<Point>, PlanningError> {
        let people = match &shelter.holes {
            HolePlan::Drilled(holes) => return Ok(holes.clone()),
            HolePlan::Party(people) => *people,
        };
        let clearance = shelter.wall_clearance;
        let area = Area::of(&shelter.floor, clearance)
            .ok_or_else(|| PlanningError::NoRoomForHole { shelter: shelter.id.to_string(), clearance })?;
        let points = self.disperse(area, people, cancel)?;
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

/// A point of the unit frame on the floor; the clamp takes back what rounding put outside.
fn place(area: Area, [x, y]: [f64; 2], scale: f64) -> Point {
    let middle = middle(area);
    let (px, py) = (middle.x.get() + x * scale, middle.y.get() + y * scale);
    let (px, py) = match area {
        Area::Rectangle { x, y, length, width } => {
            (px.clamp(x.get(), x.get() + length.get()), py.clamp(y.get(), y.get() + width.get()))
        }
        Area::Circle { .. } => (px, py),
    };
    Point { x: Metres::new(px), y: Metres::new(py) }
}

fn middle(area: Area) -> Point {
    match area {
        Area::Rectangle { x, y, length, width } => Point { x: x + length / 2.0, y: y + width / 2.0 },
        Area::Circle { centre, .. } => Point { x: centre, y: centre },
    }
}

/// Longest extent, m.
fn size(area: Area) -> f64 {
    match area {
        Area::Rectangle { length, width, .. } => length.get().max(width.get()),
        Area::Circle { radius, .. } => 2.0 * radius.get(),
    }
}

/// The area scaled to a longest extent of 1 about its middle.
fn unit(area: Area, scale: f64) -> Frame {
    match area {
        Area::Rectangle { length, width, .. } => {
            Frame::Rectangle([0.5 * length.get() / scale, 0.5 * width.get() / scale])
        }
        Area::Circle { .. } => Frame::Circle,
    }
}
