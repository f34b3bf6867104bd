//! Spots, one row each.

use std::ops::ControlFlow;

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};
use domain::spot::{BOTTOM_CLASSES, DENSITIES};
use domain::{BottomClass, Canopy, CanopyDensity, FishLayer, Position, Spot, defaults, notation};

use super::column::Column;
use super::form::Form;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, read_each};
use crate::exchange::Take;
use domain::scale::Scale;

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "north-bar").required(),
    Column::text("display_name", "1 to 120 characters", "North bar").required(),
    Column::text("lake", "up to 120 characters", "Invented Lake"),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::figure("latitude_deg", "degrees north, WGS 84", "-90 to 90; with longitude_deg or not at all", "46.5"),
    Column::figure("longitude_deg", "degrees east, WGS 84", "-180 to 180; with latitude_deg or not at all", "-94.25"),
    Column::figure("depth_m", "metres", "0.5 to 200", "7.3").required().also_as(FEET_DEPTH),
    Column::figure("ice_thickness_m", "metres", "0 to 3; empty: not reported", "0.4")
        .also_as(&[("ice_thickness_cm", Scale::Centimetres), ("ice_thickness_in", Scale::Inches)]),
    Column::text(
        "bottom_class",
        "organic_ooze, soft_mud, clay, silt, fine_sand, medium_sand, coarse_sand, gravel, cobble or rock",
        "fine_sand",
    )
    .required(),
    Column::figure("slope_deg", "degrees", "0 to 60; empty: 0", "3").scaled(Scale::Degrees),
    Column::figure(
        "relief",
        "metres",
        "up to 16 of: boulder or log, height, at, distance from the hole; semicolons between",
        "boulder 0.5 at 1.2; log 0.3 at 0.8",
    )
    .also_as(&[("relief_ft", Scale::Feet)]),
    Column::figure("canopy_height_m", "metres", "above 0 up to the depth; empty: no plants", "1.1")
        .also_as(&[("canopy_height_ft", Scale::Feet)]),
    Column::text("canopy_density", "sparse, moderate or dense; with canopy_height_m", "moderate"),
    Column::figure("canopy_volume_strength_db", "dB re 1 m^-1", "-80 to 0; empty: from canopy_density", ""),
    Column::figure("fish_layer_top_m", "metres under the transducer", "0 to the depth; empty: half the depth", "5")
        .also_as(&[("fish_layer_top_ft", Scale::Feet)]),
    Column::figure("fish_layer_bottom_m", "metres under the transducer", "0 to the depth; empty: the depth", "7.3")
        .also_as(&[("fish_layer_bottom_ft", Scale::Feet)]),
    Column::figure("fish_per_m3", "fish per cubic metre", "0 to 1,000; empty: 0.05", "0.05"),
    Column::figure(
        "lure_height_m",
        "metres over the bottom",
        "above 0 and less than the depth; empty: 0.5 or less",
        "0.4",
    )
    .also_as(&[
        ("lure_height_cm", Scale::Centimetres),
        ("lure_height_ft", Scale::Feet),
        ("lure_height_in", Scale::Inches),
    ]),
    Column::figure("hole_radius_m", "metres", "0.05 to 0.5; empty: 0.1", "0.1").also_as(&[
        ("hole_radius_cm", Scale::Centimetres),
        ("hole_radius_in", Scale::Inches),
        ("hole_diameter_m", Scale::DiameterMetres),
        ("hole_diameter_cm", Scale::DiameterCentimetres),
        ("hole_diameter_in", Scale::DiameterInches),
    ]),
    Column::figure("bottom_temperature_c", "degrees Celsius", "0 to 30; empty: 4", "4").also_as(&[
        ("bottom_temperature_degc", Scale::One),
        ("bottom_temperature_f", Scale::Fahrenheit),
        ("bottom_temperature_degf", Scale::Fahrenheit),
    ]),
    Column::figure("salinity_g_kg", "grams per kilogram", "0 to 40; empty: 0", "0"),
    Column::figure("ph", "", "6 to 9.5; empty: 7.5", "7.5"),
];

const FEET_DEPTH: &[(&str, Scale)] = &[("depth_ft", Scale::Feet)];

impl Form for Spot {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_rows(table, take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(COLUMNS);
        cells.set("id", self.id.as_str());
        cells.set("display_name", &self.display_name);
        cells.set("lake", &self.lake);
        cells.set("notes", &self.notes);
        if let Some(position) = self.position {
            cells.set_number("latitude_deg", position.latitude_deg);
            cells.set_number("longitude_deg", position.longitude_deg);
        }
        cells.set_number("depth_m", self.depth.get());
        if let Some(ice) = self.ice_thickness {
            cells.set_number("ice_thickness_m", ice.get());
        }
        cells.set_choice("bottom_class", &self.bottom, &BOTTOM_CLASSES);
        cells.set_number("slope_deg", self.slope.get());
        cells.set("relief", notation::write_relief(&self.relief));
        if let Some(canopy) = &self.canopy {
            cells.set_number("canopy_height_m", canopy.height.get());
            cells.set_choice("canopy_density", &canopy.density, &DENSITIES);
            if let Some(strength) = canopy.volume_strength {
                cells.set_number("canopy_volume_strength_db", strength.get());
            }
        }
        cells.set_number("fish_layer_top_m", self.fish_layer.top.get());
        cells.set_number("fish_layer_bottom_m", self.fish_layer.bottom.get());
        cells.set_number("fish_per_m3", self.fish_layer.per_cubic_metre);
        cells.set_number("lure_height_m", self.lure_height.get());
        cells.set_number("hole_radius_m", self.hole_radius.get());
        cells.set_number("bottom_temperature_c", self.bottom_temperature.get());
        cells.set_number("salinity_g_kg", self.salinity.get());
        cells.set_number("ph", self.ph);
        rows.push(cells);
    }
}

/// Reads rows of any source.
pub(crate) fn read_rows(rows: impl Iterator<Item = Row>, take: &mut Take<'_, Spot>) -> ControlFlow<()> {
    read_each(rows, read_row, |spot| &spot.id, Spot::check, |field| column_of(COLUMNS, &[], field), take)
}

fn read_row(row: &mut Row) -> Option<Spot> {
    let id = row.id("id")?;
    let depth = Metres::new(row.required_number("depth_m"));
    let usual = usual(depth);
    let layer = defaults::fish_layer(usual);
    let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
    Some(Spot {
        id,
        display_name: row.required_text("display_name"),
        lake: row.text("lake").to_owned(),
        notes: row.text("notes").to_owned(),
        position: position(row),
        depth,
        ice_thickness: row.number("ice_thickness_m").map(Metres::new),
        bottom: row.required_choice("bottom_class", &BOTTOM_CLASSES).unwrap_or(BottomClass::Silt),
        slope: Angle::new(row.number("slope_deg").unwrap_or(0.0)),
        relief: row.notation("relief", notation::read_relief).unwrap_or_default(),
        canopy: canopy(row),
        fish_layer: FishLayer {
            top: metres(row.number("fish_layer_top_m"), layer.top),
            bottom: metres(row.number("fish_layer_bottom_m"), layer.bottom),
            per_cubic_metre: row.number("fish_per_m3").unwrap_or(layer.per_cubic_metre),
        },
        lure_height: metres(row.number("lure_height_m"), defaults::lure_height(usual)),
        hole_radius: metres(row.number("hole_radius_m"), defaults::HOLE_RADIUS),
        bottom_temperature: row.number("bottom_temperature_c").map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new),
        salinity: row.number("salinity_g_kg").map_or(defaults::SALINITY, GramsPerKilogram::new),
        ph: row.number("ph").unwrap_or(defaults::PH),
    })
}

/// The depth that defaults go by: where it is refused anyway, it must not make the defaults absurd, or a file would be
/// told of faults in cells that it left empty.
fn usual(depth: Metres) -> Metres {
    Metres::new(depth.get().clamp(0.01, 200.0))
}

fn position(row: &mut Row) -> Option<Position> {
    let given = |row: &Row, column: &str| !row.text(column).is_empty();
    let (north, east) = (given(row, "latitude_deg"), given(row, "longitude_deg"));
    if north != east {
        let (lacks, has) = if north { ("longitude_deg", "latitude_deg") } else { ("latitude_deg", "longitude_deg") };
        row.refuse(lacks, format!("the cell is empty while {has} is given; give both or neither"));
    }
    let (latitude, longitude) = (row.number("latitude_deg"), row.number("longitude_deg"));
    latitude.zip(longitude).map(|(latitude_deg, longitude_deg)| Position { latitude_deg, longitude_deg })
}

fn canopy(row: &mut Row) -> Option<Canopy> {
    const ALL: [&str; 3] = ["canopy_height_m", "canopy_density", "canopy_volume_strength_db"];
    if ALL.iter().all(|column| row.text(column).is_empty()) {
        return None;
    }
    for column in ["canopy_height_m", "canopy_density"] {
        if row.text(column).is_empty() {
            row.refuse(
                column,
                "the cell is empty while other cells of the plants are given; give height and density, or neither"
                    .to_owned(),
            );
        }
    }
    Some(Canopy {
        height: Metres::new(row.number("canopy_height_m").unwrap_or(0.01)),
        density: row.choice("canopy_density", &DENSITIES).unwrap_or(CanopyDensity::Moderate),
        volume_strength: row.number("canopy_volume_strength_db").map(VolumeStrength::new),
    })
}
