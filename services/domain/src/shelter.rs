//! A shelter: its floor and the holes in it.

use acoustics::units::Metres;

use super::Id;

/// A shelter on the ice.
#[derive(Debug, Clone, PartialEq)]
pub struct Shelter {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// The floor.
    pub floor: Floor,
    /// Least distance from a hole's centre to a wall.
    pub wall_clearance: Metres,
    /// Least ice between the rims of two holes.
    pub min_ice_web: Metres,
    /// Radius of the holes.
    pub hole_radius: Metres,
    /// Where the holes are, or how many people fish.
    pub holes: HolePlan,
    /// Whether transducers hang inside their holes, which blocks the direct path between them.
    pub transducers_recessed: bool,
}

impl Shelter {
    /// Whether another shelter differs in nothing but what it is called: what holds in one then holds in the other.
    #[must_use]
    pub fn is_built_like(&self, other: &Self) -> bool {
        // Taken apart, so that a new field has to be decided on here.
        let Self {
            id: _,
            display_name: _,
            notes: _,
            floor,
            wall_clearance,
            min_ice_web,
            hole_radius,
            holes,
            transducers_recessed,
        } = self;
        (*floor == other.floor && *holes == other.holes)
            && (*wall_clearance == other.wall_clearance && *min_ice_web == other.min_ice_web)
            && *hole_radius == other.hole_radius
            && *transducers_recessed == other.transducers_recessed
    }
}

/// The floor of a shelter.
#[derive(Debug, Clone, PartialEq)]
pub enum Floor {
    /// A rectangle.
    Rectangle {
        /// Long side.
        length: Metres,
        /// Short side.
        width: Metres,
    },
    /// A circle.
    Circle {
        /// Diameter.
        diameter: Metres,
    },
}

/// A point on a floor, from its lower left corner (of the bounding box).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Along the length.
    pub x: Metres,
    /// Along the width.
    pub y: Metres,
}

/// Holes as drilled, or as many as anglers and laid out by us.
#[derive(Debug, Clone, PartialEq)]
pub enum HolePlan {
    /// Known holes.
    Drilled(Vec<Point>),
    /// That many holes, to be laid out.
    Party(u32),
}
