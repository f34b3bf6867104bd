//! Spots.

use domain::{Fault, Id, Spot};

use super::{Resource, names, stored_as};
use crate::filter::Field;
use crate::view::SpotView;
use domain::scale::Scale;
use domain::spot::{BOTTOM_CLASSES, DENSITIES, RELIEF_KINDS};

const CLASS_NAMES: &[&str] = &names(&BOTTOM_CLASSES);
const DENSITY_NAMES: &[&str] = &names(&DENSITIES);
const RELIEF_NAMES: &[&str] = &names(&RELIEF_KINDS);

stored_as!(Spot, SpotView<'_>);

impl Resource for Spot {
    const COLLECTION: &'static str = "spots";
    // Positions in the list that a spot's body is, as the view has them.
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$[1]'"),
        Field::text("lake", "body ->> '$[2]'"),
        Field::text("notes", "body ->> '$[3]'"),
        Field::number("latitude_deg", "body ->> '$[4][0]'"),
        Field::number("longitude_deg", "body ->> '$[4][1]'"),
        Field::number("depth_m", "body ->> '$[5]'"),
        Field::number("ice_thickness_m", "body ->> '$[6]'"),
        Field::choice("bottom_class", CLASS_NAMES, "body ->> '$[7]'"),
        Field::scaled("slope_deg", Scale::Degrees, "body ->> '$[8]'"),
        Field::choice("relief.kind", RELIEF_NAMES, "entry ->> '$[0]'").of_each("$[9]"),
        Field::number("relief.height_m", "entry ->> '$[1]'").of_each("$[9]"),
        Field::number("canopy.height_m", "body ->> '$[10][0]'"),
        Field::choice("canopy.density", DENSITY_NAMES, "body ->> '$[10][1]'"),
        Field::number("fish_layer_top_m", "body ->> '$[11]'"),
        Field::number("fish_layer_bottom_m", "body ->> '$[12]'"),
        Field::number("fish_per_m3", "body ->> '$[13]'"),
        Field::number("lure_height_m", "body ->> '$[14]'"),
        Field::number("hole_radius_m", "body ->> '$[15]'"),
        Field::number("bottom_temperature_c", "body ->> '$[16]'"),
        Field::number("salinity_g_kg", "body ->> '$[17]'"),
        Field::number("ph", "body ->> '$[18]'"),
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
