//! Spots.

use planning::domain::{Fault, Id, Spot};

use super::{Resource, names, stored_as};
use crate::exchange::csv::notation::RELIEF_KINDS;
use crate::exchange::csv::spot::{BOTTOM_CLASSES, DENSITIES};
use crate::exchange::scale::Scale;
use crate::filter::Field;
use crate::view::SpotView;

const CLASS_NAMES: &[&str] = &names(&BOTTOM_CLASSES);
const DENSITY_NAMES: &[&str] = &names(&DENSITIES);
const RELIEF_NAMES: &[&str] = &names(&RELIEF_KINDS);

stored_as!(Spot, SpotView<'_>);

impl Resource for Spot {
    const COLLECTION: &'static str = "spots";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("lake", "body ->> '$.lake'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::number("latitude_deg", "body ->> '$.position.latitude_deg'"),
        Field::number("longitude_deg", "body ->> '$.position.longitude_deg'"),
        Field::number("depth_m", "body ->> '$.depth_m'"),
        Field::number("ice_thickness_m", "body ->> '$.ice_thickness_m'"),
        Field::choice("bottom_class", CLASS_NAMES, "body ->> '$.bottom_class'"),
        Field::scaled("slope_deg", Scale::Degrees, "body ->> '$.slope_rad'"),
        Field::choice("relief.kind", RELIEF_NAMES, "entry ->> '$.kind'").of_each("$.relief"),
        Field::number("relief.height_m", "entry ->> '$.height_m'").of_each("$.relief"),
        Field::number("canopy.height_m", "body ->> '$.canopy.height_m'"),
        Field::choice("canopy.density", DENSITY_NAMES, "body ->> '$.canopy.density'"),
        Field::number("fish_layer_top_m", "body ->> '$.fish_top_m'"),
        Field::number("fish_layer_bottom_m", "body ->> '$.fish_bottom_m'"),
        Field::number("fish_per_m3", "body ->> '$.fish_per_m3'"),
        Field::number("lure_height_m", "body ->> '$.lure_height_m'"),
        Field::number("hole_radius_m", "body ->> '$.hole_radius_m'"),
        Field::number("bottom_temperature_c", "body ->> '$.bottom_temperature_c'"),
        Field::number("salinity_g_kg", "body ->> '$.salinity_g_kg'"),
        Field::number("ph", "body ->> '$.ph'"),
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
