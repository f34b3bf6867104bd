//! Units and their checks, one row each.

use std::ops::ControlFlow;

use acoustics::units::{Celsius, Metres};
use domain::unit::STATES;
use domain::{Id, Record as _, Unit, UnitCheck, UnitState, defaults};

use super::column::Column;
use super::form::Form;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, read_each};
use crate::exchange::Take;
use domain::scale::Scale;

const UNIT_COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "unit-07").required(),
    Column::text("display_name", "1 to 120 characters", "Unit 7").required(),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::text("sensor", "id of a sensor", "dual-9-20").required(),
    Column::text("serial", "1 to 120 characters, each serial of a sensor once", "LB-0007").required(),
    Column::text("state", "ready, in_repair, on_loan or retired; empty: ready", "ready"),
];

impl Form for Unit {
    const COLUMNS: &'static [Column] = UNIT_COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(table, read_unit, |unit| &unit.id, Unit::check, |field| column_of(UNIT_COLUMNS, &[], field), take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(UNIT_COLUMNS);
        cells.set("id", self.id.as_str());
        cells.set("display_name", &self.display_name);
        cells.set("notes", &self.notes);
        cells.set("sensor", self.sensor.as_str());
        cells.set("serial", &self.serial);
        cells.set_choice("state", &self.state, &STATES);
        rows.push(cells);
    }
}

fn read_unit(row: &mut Row) -> Option<Unit> {
    let (id, sensor) = (row.id("id"), row.reference("sensor", "sensors"));
    let (display_name, serial) = (row.required_text("display_name"), row.required_text("serial"));
    let state = row.choice("state", &STATES).unwrap_or(UnitState::Ready);
    Some(Unit { id: id?, display_name, notes: row.text("notes").to_owned(), sensor: sensor?, serial, state })
}

const CHECK_COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "unit-07-jan-15").required(),
    Column::text("unit", "id of a unit", "unit-07").required(),
    Column::text("option", "id of an option of the unit's sensor", "narrow").required(),
    Column::text("target", "id of a target of kind reference", "check-ball-38").required(),
    Column::text("day", "a day such as 2027-01-15", "2027-01-15").required(),
    Column::figure("depth_m", "metres", "0.5 to 200, of the target under the transducer", "6")
        .required()
        .also_as(&[("depth_ft", Scale::Feet)]),
    Column::text("shown_at", "the position of the dial at which the target first showed, as it reads", "11:30")
        .required(),
    Column::figure("bottom_temperature_c", "degrees Celsius", "-2 to 40; empty: 4", "4")
        .also_as(&[("bottom_temperature_f", Scale::Fahrenheit)]),
    Column::text("swap", "up to 60 characters, shared by two checks whose units were swapped in one hole", ""),
    Column::text("notes", "up to 2,000 characters", ""),
];

impl Form for UnitCheck {
    const COLUMNS: &'static [Column] = CHECK_COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(
            table,
            read_check,
            |check| &check.id,
            UnitCheck::check,
            |field| column_of(CHECK_COLUMNS, &[], field),
            take,
        )
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(CHECK_COLUMNS);
        cells.set("id", self.id.as_str());
        cells.set("unit", self.unit.as_str());
        cells.set("option", self.option.as_str());
        cells.set("target", self.target.as_str());
        cells.set("day", self.day.to_string());
        cells.set_number("depth_m", self.depth.get());
        cells.set("shown_at", &self.shown_at);
        cells.set_number("bottom_temperature_c", self.bottom_temperature.get());
        cells.set("swap", &self.swap);
        cells.set("notes", &self.notes);
        rows.push(cells);
    }
}

fn read_check(row: &mut Row) -> Option<UnitCheck> {
    let (id, unit) = (row.id("id"), row.reference("unit", "units"));
    let (option, target) = (row.reference("option", "options"), row.reference("target", "targets"));
    let (day, depth) = (row.day("day"), row.required_number("depth_m"));
    let shown_at = row.required_text("shown_at");
    let warmth = row.number("bottom_temperature_c").map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new);
    let named: Option<(Id, Id, Id, Id)> = id.zip(unit).zip(option.zip(target)).map(|((a, b), (c, d))| (a, b, c, d));
    let (id, unit, option, target) = named?;
    Some(UnitCheck {
        id,
        unit,
        option,
        target,
        day: day?,
        depth: Metres::new(depth),
        shown_at,
        bottom_temperature: warmth,
        swap: row.text("swap").to_owned(),
        notes: row.text("notes").to_owned(),
    })
}
