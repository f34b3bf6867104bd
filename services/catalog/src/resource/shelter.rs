//! Shelters.

use domain::{Fault, Id, Shelter};

use super::{Resource, stored_as};
use crate::filter::Field;
use crate::view::ShelterView;

stored_as!(Shelter, ShelterView);

impl Resource for Shelter {
    const COLLECTION: &'static str = "shelters";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::number("floor_length_m", "body ->> '$.floor.rectangle.length_m'"),
        Field::number("floor_width_m", "body ->> '$.floor.rectangle.width_m'"),
        Field::number("floor_diameter_m", "body ->> '$.floor.circle.diameter_m'"),
        Field::number("wall_clearance_m", "body ->> '$.wall_clearance_m'"),
        Field::number("min_ice_web_m", "body ->> '$.min_ice_web_m'"),
        Field::number("hole_radius_m", "body ->> '$.hole_radius_m'"),
        // Holes that are drilled are as good as people to somebody who looks for room.
        Field::number("party_size", "coalesce(body ->> '$.holes.party', json_array_length(body, '$.holes.drilled'))"),
        Field::flag("transducers_recessed", "body ->> '$.transducers_recessed'"),
        Field::time("create_time", "create_time"),
        Field::time("update_time", "update_time"),
    ];

    fn id(&self) -> &Id {
        &self.id
    }

    fn faults(&self) -> Vec<Fault> {
        self.check()
    }
}
