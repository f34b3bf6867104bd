//! Shelters.

use acoustics::units::Metres;
use domain::{Fault, FaultReason, Floor, HolePlan, Id, Point, Shelter, defaults};
use proto::v1;

use super::Reading;

/// Reads a shelter; left-out fields take the defaults that the protocol states.
pub(crate) fn from(id: Id, message: v1::Shelter) -> Result<Shelter, Vec<Fault>> {
    let mut reading = Reading::default();
    let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
    let shelter = Shelter {
        id,
        floor: floor(&mut reading, &message),
        wall_clearance: metres(message.wall_clearance_m, defaults::WALL_CLEARANCE),
        min_ice_web: metres(message.min_ice_web_m, defaults::MIN_ICE_WEB),
        hole_radius: metres(message.hole_radius_m, defaults::HOLE_RADIUS),
        holes: holes(&mut reading, &message),
        transducers_recessed: message.transducers_recessed,
        display_name: message.display_name,
        notes: message.notes,
    };
    reading.finish(shelter, Shelter::check)
}

fn floor(reading: &mut Reading, message: &v1::Shelter) -> Floor {
    let (length, width, diameter) = (message.floor_length_m, message.floor_width_m, message.floor_diameter_m);
    let rectangle = Floor::Rectangle { length: Metres::new(length), width: Metres::new(width) };
    let accepted = "accepted: floor_length_m and floor_width_m, or floor_diameter_m";
    match (length != 0.0, width != 0.0, diameter != 0.0) {
        (true, true, false) => rectangle,
        (false, false, true) => Floor::Circle { diameter: Metres::new(diameter) },
        (false, false, false) => {
            reading.refuse("floor_length_m", FaultReason::Missing, format!("no floor is given; {accepted}"));
            rectangle
        }
        (_, _, true) => {
            let message = format!("floor_diameter_m is given beside the sides of a rectangle; {accepted}; drop one");
            reading.refuse("floor_diameter_m", FaultReason::Contradiction, message);
            rectangle
        }
        (has_length, _, false) => {
            let field = if has_length { "floor_width_m" } else { "floor_length_m" };
            reading.refuse(field, FaultReason::Missing, format!("one side of the floor is left out; {accepted}"));
            rectangle
        }
    }
}

fn holes(reading: &mut Reading, message: &v1::Shelter) -> HolePlan {
    let party = HolePlan::Party(message.party_size);
    match (message.holes.is_empty(), message.party_size) {
        (true, 0) => {
            let text = "neither holes nor party_size is given; give the drilled holes, or how many people fish";
            reading.refuse("party_size", FaultReason::Missing, text);
            party
        }
        (true, _) => party,
        (false, 0) => {
            let point = |hole: &v1::Hole| Point { x: Metres::new(hole.x_m), y: Metres::new(hole.y_m) };
            HolePlan::Drilled(message.holes.iter().map(point).collect())
        }
        (false, _) => {
            let text = "party_size is given beside holes; accepted: one of them; drop the other";
            reading.refuse("party_size", FaultReason::Contradiction, text);
            party
        }
    }
}

/// Writes a shelter, without what the store knows of it.
pub(crate) fn to(shelter: &Shelter) -> v1::Shelter {
    let (length, width, diameter) = match shelter.floor {
        Floor::Rectangle { length, width } => (length.get(), width.get(), 0.0),
        Floor::Circle { diameter } => (0.0, 0.0, diameter.get()),
    };
    let (holes, party_size) = match &shelter.holes {
        HolePlan::Drilled(points) => {
            (points.iter().map(|point| v1::Hole { x_m: point.x.get(), y_m: point.y.get() }).collect(), 0)
        }
        HolePlan::Party(size) => (Vec::new(), *size),
    };
    v1::Shelter {
        name: format!("shelters/{}", shelter.id),
        display_name: shelter.display_name.clone(),
        notes: shelter.notes.clone(),
        floor_length_m: length,
        floor_width_m: width,
        floor_diameter_m: diameter,
        wall_clearance_m: Some(shelter.wall_clearance.get()),
        min_ice_web_m: Some(shelter.min_ice_web.get()),
        hole_radius_m: Some(shelter.hole_radius.get()),
        holes,
        party_size,
        transducers_recessed: shelter.transducers_recessed,
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
