//! Shelters.

use acoustics::units::Metres;
use domain::{Fault, Id, Point, Record as _, ShelterRecord};
use proto::v1;

use super::Reading;

/// Reads a shelter.
pub(crate) fn from(id: Id, message: v1::Shelter) -> Result<ShelterRecord, Vec<Fault>> {
    // These have no presence in the protocol: 0 says nothing.
    let given = |metres: f64| (metres != 0.0).then_some(metres);
    let point = |hole: &v1::Hole| Point { x: Metres::new(hole.x_m), y: Metres::new(hole.y_m) };
    let shelter = ShelterRecord {
        id,
        floor_length_m: given(message.floor_length_m),
        floor_width_m: given(message.floor_width_m),
        floor_diameter_m: given(message.floor_diameter_m),
        wall_clearance_m: message.wall_clearance_m,
        min_ice_web_m: message.min_ice_web_m,
        hole_radius_m: message.hole_radius_m,
        holes: message.holes.iter().map(point).collect(),
        party_size: (message.party_size != 0).then_some(message.party_size),
        transducers_recessed: message.transducers_recessed,
        display_name: message.display_name,
        notes: message.notes,
    };
    Reading::default().finish(shelter, ShelterRecord::check)
}

/// Writes a shelter, without what the store knows of it.
pub(crate) fn to(shelter: &ShelterRecord) -> v1::Shelter {
    v1::Shelter {
        name: format!("shelters/{}", shelter.id),
        display_name: shelter.display_name.clone(),
        notes: shelter.notes.clone(),
        floor_length_m: shelter.floor_length_m.unwrap_or(0.0),
        floor_width_m: shelter.floor_width_m.unwrap_or(0.0),
        floor_diameter_m: shelter.floor_diameter_m.unwrap_or(0.0),
        wall_clearance_m: shelter.wall_clearance_m,
        min_ice_web_m: shelter.min_ice_web_m,
        hole_radius_m: shelter.hole_radius_m,
        holes: shelter.holes.iter().map(|hole| v1::Hole { x_m: hole.x.get(), y_m: hole.y.get() }).collect(),
        party_size: shelter.party_size.unwrap_or(0),
        transducers_recessed: shelter.transducers_recessed,
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
