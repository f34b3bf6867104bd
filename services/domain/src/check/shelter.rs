//! Checks of a shelter.

use super::{Faults, plain, within};
use crate::area::{self, Area};
use crate::shelter::{Floor, HolePlan, Point, Shelter};
use crate::{Fault, FaultReason};

/// Most holes, and most people, of one shelter.
const MAX_HOLES: usize = 60;
/// Slack of a distance between holes, so that a hole drilled exactly on a limit passes; m.
const DISTANCE_SLACK: f64 = 1.0e-9;

impl Shelter {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        let side = within(0.5, 50.0, "m");
        let mut sound = match self.floor {
            Floor::Rectangle { length, width } => {
                let first = faults.number("floor_length_m", length.get(), side, "give the inside length of the floor");
                faults.number("floor_width_m", width.get(), side, "give the inside width of the floor") && first
            }
            Floor::Circle { diameter } => {
                faults.number("floor_diameter_m", diameter.get(), side, "give the inside diameter of the floor")
            }
        };
        let clearance = "give the least distance from a hole's centre to a wall, or leave it out for 0.3 m";
        sound &= faults.number("wall_clearance_m", self.wall_clearance.get(), within(0.0, 5.0, "m"), clearance);
        let web = "give the least ice between the rims of two holes, or leave it out for 0.5 m";
        sound &= faults.number("min_ice_web_m", self.min_ice_web.get(), within(0.0, 10.0, "m"), web);
        let radius = "give the radius of the holes, or leave it out for 0.1 m";
        sound &= faults.number("hole_radius_m", self.hole_radius.get(), within(0.05, 0.5, "m"), radius);
        match &self.holes {
            HolePlan::Drilled(holes) => self.check_holes(&mut faults, holes, sound),
            HolePlan::Party(people) => self.check_party(&mut faults, *people, sound),
        }
        faults.found.into_vec()
    }

    /// Least distance between the centres of two holes.
    fn least_spacing(&self) -> f64 {
        2.0 * self.hole_radius.get() + self.min_ice_web.get()
    }

    fn check_holes(&self, faults: &mut Faults, holes: &[Point], sound: bool) {
        let advice = "give the holes as drilled, or party_size to have them laid out";
        if !faults.count("holes", holes.len(), 1, MAX_HOLES, advice) {
            return;
        }
        let mut placed: Vec<(usize, f64, f64)> = Vec::with_capacity(holes.len());
        for (index, hole) in holes.iter().enumerate() {
            let (x, y) = (hole.x.get(), hole.y.get());
            let side = within(0.0, 50.0, "m");
            let advice = "measure from the lower left corner of the floor";
            let x_fine = faults.number(&format!("holes[{index}].x_m"), x, side, advice);
            if faults.number(&format!("holes[{index}].y_m"), y, side, advice) && x_fine && sound {
                self.check_hole(faults, index, x, y);
                placed.push((index, x, y));
            }
        }
        let least = self.least_spacing();
        for (later, &(index, x, y)) in placed.iter().enumerate() {
            for &(other, ox, oy) in placed.iter().take(later) {
                let web = libm::hypot(x - ox, y - oy) - 2.0 * self.hole_radius.get();
                if web < least - 2.0 * self.hole_radius.get() - DISTANCE_SLACK {
                    let field = format!("holes[{index}]");
                    faults.add(
                        &field,
                        FaultReason::Contradiction,
                        format!(
                            "{field} leaves {} m of ice to holes[{other}]; accepted: at least min_ice_web_m, which is {}; move one of them apart",
                            plain(web.max(0.0)),
                            plain(self.min_ice_web.get())
                        ),
                    );
                }
            }
        }
    }

    /// A hole must keep its clearance from the wall.
    fn check_hole(&self, faults: &mut Faults, index: usize, x: f64, y: f64) {
        let to_wall = match self.floor {
            Floor::Rectangle { length, width } => x.min(length.get() - x).min(y).min(width.get() - y),
            Floor::Circle { diameter } => {
                let radius = 0.5 * diameter.get();
                radius - libm::hypot(x - radius, y - radius)
            }
        };
        if to_wall < self.wall_clearance.get() - DISTANCE_SLACK {
            let field = format!("holes[{index}]");
            let given = if to_wall < 0.0 {
                "outside the floor".to_owned()
            } else {
                format!("{} m from a wall", plain(to_wall))
            };
            faults.add(
                &field,
                FaultReason::Contradiction,
                format!(
                    "{field} is {given}; accepted: at least wall_clearance_m, which is {}, inside the floor; move it inwards",
                    plain(self.wall_clearance.get())
                ),
            );
        }
    }

    fn check_party(&self, faults: &mut Faults, people: u32, sound: bool) {
        let most = 60.0;
        if !faults.number(
            "party_size",
            f64::from(people),
            within(1.0, most, "people"),
            "give the holes or how many people fish",
        ) || !sound
        {
            return;
        }
        let Some(area) = Area::of(&self.floor, self.wall_clearance) else {
            faults.add(
                "wall_clearance_m",
                FaultReason::Contradiction,
                format!(
                    "wall_clearance_m is {}, which leaves no room for a hole on this floor; accepted: at most half of its short side; take a larger shelter or a smaller clearance",
                    plain(self.wall_clearance.get())
                ),
            );
            return;
        };
        let bound = area::most_that_fit(area, acoustics::units::Metres::new(self.least_spacing()));
        if f64::from(people) > bound {
            faults.add(
                "party_size",
                FaultReason::Contradiction,
                format!(
                    "party_size is {people}; accepted on this floor: at most {} holes {} m apart; take a larger shelter, a smaller party or a smaller min_ice_web_m",
                    plain(libm::floor(bound)),
                    plain(self.least_spacing())
                ),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use acoustics::units::Metres;

    fn drilled(count: usize) -> Vec<Fault> {
        let hole = Point { x: Metres::new(1.0), y: Metres::new(1.0) };
        let shelter = Shelter {
            id: crate::Id::parse("hut").unwrap(),
            display_name: "Hut".to_owned(),
            notes: String::new(),
            floor: Floor::Rectangle { length: Metres::new(4.0), width: Metres::new(3.0) },
            wall_clearance: crate::defaults::WALL_CLEARANCE,
            min_ice_web: crate::defaults::MIN_ICE_WEB,
            hole_radius: crate::defaults::HOLE_RADIUS,
            holes: HolePlan::Drilled(vec![hole; count]),
            transducers_recessed: false,
        };
        shelter.check()
    }

    #[test]
    fn holes_beyond_the_most_are_refused_before_any_is_looked_at() {
        let faults = drilled(100_000);
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!(faults[0].field, "holes");
    }

    #[test]
    fn equal_holes_are_a_hundred_faults_and_a_count() {
        let faults = drilled(MAX_HOLES);
        assert_eq!(faults.len(), crate::MAX_FAULTS + 1);
        let pairs = u32::try_from(MAX_HOLES * (MAX_HOLES - 1) / 2 - crate::MAX_FAULTS).unwrap();
        assert_eq!(faults.last().unwrap().reason, FaultReason::More(pairs));
    }
}
