//! A shelter as it is given.

use acoustics::units::Metres;

use super::lacks;
use super::spot::HOLE_RADIUS;
use crate::area::{self, Area};
use crate::check::{Faults, plain};
use crate::field::{Accepted, Field, Holds, List, Record, within};
use crate::{Fault, FaultReason, Floor, HolePlan, Id, Point, Shelter, defaults, notation};

type HoleField = Field<Point>;
type ShelterField = Field<ShelterRecord>;

/// Most holes, and most people, of one shelter.
const MAX_HOLES: usize = 60;
/// Inside lengths of floors.
const FLOOR: Accepted = within(0.5, 50.0, "m");
/// Places of holes along a side.
const SIDE: Accepted = within(0.0, 50.0, "m");
/// Slack of a distance between holes, so that a hole drilled exactly on a limit passes; m.
const DISTANCE_SLACK: f64 = 1.0e-9;

/// A shelter as it is given: its floor, and the holes in it or how many people fish.
#[derive(Debug, Clone, PartialEq)]
pub struct ShelterRecord {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes.
    pub notes: String,
    /// Long side of a rectangle.
    pub floor_length_m: Option<f64>,
    /// Short side of a rectangle.
    pub floor_width_m: Option<f64>,
    /// Diameter of a circle.
    pub floor_diameter_m: Option<f64>,
    /// Least distance from a hole's centre to a wall.
    pub wall_clearance_m: Option<f64>,
    /// Least ice between the rims of two holes.
    pub min_ice_web_m: Option<f64>,
    /// Radius of the holes.
    pub hole_radius_m: Option<f64>,
    /// Holes as drilled.
    pub holes: Vec<Point>,
    /// How many people fish.
    pub party_size: Option<u32>,
    /// Whether transducers hang inside their holes.
    pub transducers_recessed: bool,
}

/// The fields of a hole.
pub const HOLE_FIELDS: &[Field<Point>] = &[
    HoleField::number("x_m", SIDE, |p| Some(p.x.get()), |p, v| p.x = Metres::new(v))
        .advice("measure from the lower left corner of the floor"),
    HoleField::number("y_m", SIDE, |p| Some(p.y.get()), |p, v| p.y = Metres::new(v))
        .advice("measure from the lower left corner of the floor"),
];

/// The drilled holes of a shelter.
pub const HOLES: List<ShelterRecord, Point> = List {
    path: "holes",
    fields: HOLE_FIELDS,
    get: |s| s.holes.clone(),
    set: |s, holes| s.holes = holes,
    blank: || Point { x: Metres::new(0.0), y: Metres::new(0.0) },
};

impl Record for ShelterRecord {
    type Known = Shelter;
    const COLLECTION: &'static str = "shelters";

    const FIELDS: &'static [Field<Self>] = &[
        ShelterField::id(|s| &s.id, |s, id| s.id = id).example("hut-four"),
        ShelterField::name(|s| &s.display_name, |s, text| s.display_name = text).example("Hut for four"),
        ShelterField::notes(|s| &s.notes, |s, text| s.notes = text),
        ShelterField::number("floor_length_m", FLOOR, |s| s.floor_length_m, |s, v| s.floor_length_m = Some(v))
            .accepts("inside, with floor_width_m; or else floor_diameter_m")
            .advice("give the inside length of the floor")
            .example("3"),
        ShelterField::number("floor_width_m", FLOOR, |s| s.floor_width_m, |s, v| s.floor_width_m = Some(v))
            .accepts("inside, with floor_length_m")
            .advice("give the inside width of the floor")
            .example("2.4"),
        ShelterField::number("floor_diameter_m", FLOOR, |s| s.floor_diameter_m, |s, v| s.floor_diameter_m = Some(v))
            .accepts("inside, for a round floor")
            .advice("give the inside diameter of the floor"),
        ShelterField::number(
            "wall_clearance_m",
            within(0.0, 5.0, "m"),
            |s| s.wall_clearance_m,
            |s, v| s.wall_clearance_m = Some(v),
        )
        .left_out("0.3")
        .advice("give the least distance from a hole's centre to a wall, or leave it out for 0.3 m")
        .example("0.3"),
        ShelterField::number("min_ice_web_m", within(0.0, 10.0, "m"), |s| s.min_ice_web_m, |s, v| s.min_ice_web_m = Some(v))
            .left_out("0.5")
            .advice("give the least ice between the rims of two holes, or leave it out for 0.5 m")
            .example("0.5"),
        ShelterField::number("hole_radius_m", HOLE_RADIUS, |s| s.hole_radius_m, |s, v| s.hole_radius_m = Some(v))
            .left_out("0.1")
            .advice("give the radius of the holes, or leave it out for 0.1 m")
            .example("0.1"),
        ShelterField::new(
            "holes",
            Holds::List {
                unit: "m",
                write: |s| notation::write_holes(&s.holes),
                read: |s, text, numbers| notation::read_holes(text, numbers).map(|holes| s.holes = holes),
            },
        )
        .accepts("up to 60 pairs x,y in m with decimal points from the lower left corner of the floor; semicolons between; or else party_size"),
        ShelterField::whole("party_size", within(1.0, 60.0, "people"), |s| s.party_size, |s, v| s.party_size = Some(v))
            .accepts("or else holes")
            .advice("give the holes or how many people fish")
            .example("4"),
        ShelterField::new(
            "transducers_recessed",
            Holds::Flag { get: |s| s.transducers_recessed, set: |s, flag| s.transducers_recessed = flag },
        )
        .left_out("false")
        .example("false"),
    ];

    fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            notes: String::new(),
            floor_length_m: None,
            floor_width_m: None,
            floor_diameter_m: None,
            wall_clearance_m: None,
            min_ice_web_m: None,
            hole_radius_m: None,
            holes: Vec::new(),
            party_size: None,
            transducers_recessed: false,
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Shelter, Fault> {
        self.resolve()
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        self.check_floor(&mut faults);
        match (self.holes.len(), self.party_size) {
            (0, None) => faults.missing("party_size", "give the drilled holes, or how many people fish"),
            (0, Some(_)) => {}
            (_, Some(_)) => {
                let message = "party_size is given beside holes; accepted: one of them; drop the other";
                faults.add("party_size", FaultReason::Contradiction, message.to_owned());
            }
            (given, None) => {
                let advice = "give the holes as drilled, or party_size to have them laid out";
                if !faults.count("holes", given, 1, MAX_HOLES, advice) {
                    return faults.found.into_vec();
                }
                faults.each("holes", &self.holes, HOLE_FIELDS, |_, _| {});
            }
        }
        let sizes = [
            "floor_length_m",
            "floor_width_m",
            "floor_diameter_m",
            "wall_clearance_m",
            "min_ice_web_m",
            "hole_radius_m",
            "party_size",
        ];
        if sizes.iter().any(|field| faults.has(field)) {
            return faults.found.into_vec();
        }
        // What fits is only worth checking on a floor that makes sense.
        if let Ok(shelter) = self.resolve() {
            match &shelter.holes {
                HolePlan::Drilled(holes) => shelter.check_holes(&mut faults, holes),
                HolePlan::Party(people) => shelter.check_party(&mut faults, *people),
            }
        }
        faults.found.into_vec()
    }
}

impl ShelterRecord {
    fn check_floor(&self, faults: &mut Faults) {
        let sides = (self.floor_length_m.is_some(), self.floor_width_m.is_some());
        let accepted = "accepted: floor_length_m and floor_width_m, or floor_diameter_m; give one of them";
        match (sides, self.floor_diameter_m.is_some()) {
            ((true, true), false) | ((false, false), true) => {}
            ((false, false), false) => {
                faults.add("floor_length_m", FaultReason::Missing, format!("no floor is given; {accepted}"));
            }
            (_, true) => {
                let message = format!("floor_diameter_m is given beside a side of a rectangle; {accepted}");
                faults.add("floor_diameter_m", FaultReason::Contradiction, message);
            }
            ((has_length, _), false) => {
                let field = if has_length { "floor_width_m" } else { "floor_length_m" };
                faults.add(field, FaultReason::Missing, format!("only one side of the floor is given; {accepted}"));
            }
        }
    }

    /// The shelter as it is computed with: what is not given takes its default.
    ///
    /// # Errors
    /// The record lacks a field that its check asks for.
    pub fn resolve(&self) -> Result<Shelter, Fault> {
        let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
        let needed = |given: Option<f64>, field: &str| given.map(Metres::new).ok_or_else(|| lacks(field));
        let floor = match self.floor_diameter_m {
            Some(diameter) => Floor::Circle { diameter: Metres::new(diameter) },
            None => Floor::Rectangle {
                length: needed(self.floor_length_m, "floor_length_m")?,
                width: needed(self.floor_width_m, "floor_width_m")?,
            },
        };
        let holes = if self.holes.is_empty() {
            HolePlan::Party(self.party_size.ok_or_else(|| lacks("party_size"))?)
        } else {
            HolePlan::Drilled(self.holes.clone())
        };
        Ok(Shelter {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            notes: self.notes.clone(),
            floor,
            wall_clearance: metres(self.wall_clearance_m, defaults::WALL_CLEARANCE),
            min_ice_web: metres(self.min_ice_web_m, defaults::MIN_ICE_WEB),
            hole_radius: metres(self.hole_radius_m, defaults::HOLE_RADIUS),
            holes,
            transducers_recessed: self.transducers_recessed,
        })
    }
}

impl From<&Shelter> for ShelterRecord {
    fn from(s: &Shelter) -> Self {
        let (length, width, diameter) = match s.floor {
            Floor::Rectangle { length, width } => (Some(length.get()), Some(width.get()), None),
            Floor::Circle { diameter } => (None, None, Some(diameter.get())),
        };
        let (holes, party_size) = match &s.holes {
            HolePlan::Drilled(holes) => (holes.clone(), None),
            HolePlan::Party(people) => (Vec::new(), Some(*people)),
        };
        Self {
            id: s.id.clone(),
            display_name: s.display_name.clone(),
            notes: s.notes.clone(),
            floor_length_m: length,
            floor_width_m: width,
            floor_diameter_m: diameter,
            wall_clearance_m: Some(s.wall_clearance.get()),
            min_ice_web_m: Some(s.min_ice_web.get()),
            hole_radius_m: Some(s.hole_radius.get()),
            holes,
            party_size,
            transducers_recessed: s.transducers_recessed,
        }
    }
}

impl Shelter {
    /// Every fault of what is computed with, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        ShelterRecord::from(self).check()
    }

    /// Least distance between the centres of two holes.
    fn least_spacing(&self) -> f64 {
        2.0 * self.hole_radius.get() + self.min_ice_web.get()
    }

    fn check_holes(&self, faults: &mut Faults, holes: &[Point]) {
        let mut placed: Vec<(usize, f64, f64)> = Vec::with_capacity(holes.len());
        for (index, hole) in holes.iter().enumerate() {
            let (x, y) = (hole.x.get(), hole.y.get());
            if SIDE.holds(x) && SIDE.holds(y) {
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

    fn check_party(&self, faults: &mut Faults, people: u32) {
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
