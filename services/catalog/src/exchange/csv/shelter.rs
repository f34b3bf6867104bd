//! Shelters, one row each.

use std::ops::ControlFlow;

use acoustics::units::Metres;
use domain::{Floor, HolePlan, Shelter, defaults, notation};

use super::column::Column;
use super::form::Form;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, read_each};
use crate::exchange::Take;
use domain::scale::Scale;

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "hut-four").required(),
    Column::text("display_name", "1 to 120 characters", "LaidOutShelter for four").required(),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::figure("floor_length_m", "metres", "0.5 to 50, with floor_width_m; or else floor_diameter_m", "3")
        .also_as(&[("floor_length_ft", Scale::Feet)]),
    Column::figure("floor_width_m", "metres", "0.5 to 50, with floor_length_m", "2.4")
        .also_as(&[("floor_width_ft", Scale::Feet)]),
    Column::figure("floor_diameter_m", "metres", "0.5 to 50, for a round floor", "")
        .also_as(&[("floor_diameter_ft", Scale::Feet)]),
    Column::figure("wall_clearance_m", "metres", "0 to 5; empty: 0.3", "0.3")
        .also_as(&[("wall_clearance_ft", Scale::Feet), ("wall_clearance_in", Scale::Inches)]),
    Column::figure("min_ice_web_m", "metres", "0 to 10; empty: 0.5", "0.5")
        .also_as(&[("min_ice_web_ft", Scale::Feet), ("min_ice_web_in", Scale::Inches)]),
    Column::figure("hole_radius_m", "metres", "0.05 to 0.5; empty: 0.1", "0.1").also_as(&[
        ("hole_radius_cm", Scale::Centimetres),
        ("hole_radius_in", Scale::Inches),
        ("hole_diameter_m", Scale::DiameterMetres),
        ("hole_diameter_cm", Scale::DiameterCentimetres),
        ("hole_diameter_in", Scale::DiameterInches),
    ]),
    Column::figure(
        "holes",
        "metres from the lower left corner of the floor",
        "up to 60 pairs x,y with decimal points; semicolons between; or else party_size",
        "",
    )
    .also_as(&[("holes_ft", Scale::Feet)]),
    Column::figure("party_size", "", "a whole number from 1 to 60; or else holes", "4"),
    Column::text("transducers_recessed", "true or false; empty: false", "false"),
];

impl Form for Shelter {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(table, read_row, |shelter| &shelter.id, Shelter::check, |field| column_of(COLUMNS, &[], field), take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(COLUMNS);
        cells.set("id", self.id.as_str());
        cells.set("display_name", &self.display_name);
        cells.set("notes", &self.notes);
        match self.floor {
            Floor::Rectangle { length, width } => {
                cells.set_number("floor_length_m", length.get());
                cells.set_number("floor_width_m", width.get());
            }
            Floor::Circle { diameter } => cells.set_number("floor_diameter_m", diameter.get()),
        }
        cells.set_number("wall_clearance_m", self.wall_clearance.get());
        cells.set_number("min_ice_web_m", self.min_ice_web.get());
        cells.set_number("hole_radius_m", self.hole_radius.get());
        match &self.holes {
            HolePlan::Drilled(holes) => cells.set("holes", notation::write_holes(holes)),
            HolePlan::Party(people) => cells.set("party_size", people.to_string()),
        }
        cells.set("transducers_recessed", self.transducers_recessed.to_string());
        rows.push(cells);
    }
}

fn read_row(row: &mut Row) -> Option<Shelter> {
    let id = row.id("id")?;
    let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
    Some(Shelter {
        id,
        display_name: row.required_text("display_name"),
        notes: row.text("notes").to_owned(),
        floor: floor(row),
        wall_clearance: metres(row.number("wall_clearance_m"), defaults::WALL_CLEARANCE),
        min_ice_web: metres(row.number("min_ice_web_m"), defaults::MIN_ICE_WEB),
        hole_radius: metres(row.number("hole_radius_m"), defaults::HOLE_RADIUS),
        holes: holes(row),
        transducers_recessed: row.flag("transducers_recessed").unwrap_or(false),
    })
}

fn floor(row: &mut Row) -> Floor {
    let given = |row: &Row, column: &str| !row.text(column).is_empty();
    let sides = [given(row, "floor_length_m"), given(row, "floor_width_m")];
    match (sides, given(row, "floor_diameter_m")) {
        ([true, true], false) | ([false, false], true) => {}
        ([false, false], false) => row.refuse(
            "floor_length_m",
            "no floor is given; accepted: floor_length_m and floor_width_m, or floor_diameter_m; give one of them"
                .to_owned(),
        ),
        (_, true) => row.refuse(
            "floor_diameter_m",
            "a diameter is given beside a side; accepted: two sides, or a diameter; empty one of them".to_owned(),
        ),
        ([has_length, _], false) => {
            let lacks = if has_length { "floor_width_m" } else { "floor_length_m" };
            row.refuse(lacks, "only one side of the floor is given; give the other one too".to_owned());
        }
    }
    let mut metres = |column: &str| row.number(column).map(Metres::new);
    let (length, width, diameter) = (metres("floor_length_m"), metres("floor_width_m"), metres("floor_diameter_m"));
    // Where a side is refused, a floor that is large enough for anything stands in.
    let usual = Metres::new(50.0);
    match (length, width, diameter) {
        (None, None, Some(diameter)) => Floor::Circle { diameter },
        _ => Floor::Rectangle { length: length.unwrap_or(usual), width: width.unwrap_or(usual) },
    }
}

fn holes(row: &mut Row) -> HolePlan {
    let (holes, people) = (!row.text("holes").is_empty(), !row.text("party_size").is_empty());
    if holes && people {
        row.refuse("party_size", "it is given beside holes; accepted: one of the two; empty one of them".to_owned());
    } else if !holes && !people {
        row.refuse("party_size", "neither holes nor a party size is given; give one of them".to_owned());
    }
    let drilled = row.notation("holes", notation::read_holes);
    let party = row.whole("party_size");
    match drilled {
        Some(drilled) => HolePlan::Drilled(drilled),
        None => HolePlan::Party(party.unwrap_or(1)),
    }
}
