//! Bookings, one row each.

use std::ops::ControlFlow;

use acoustics::units::Db;
use domain::booking::GOALS;
use domain::selection::Goal;
use domain::{Booking, Record as _, defaults, notation};

use super::column::Column;
use super::form::Form;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, read_each};
use crate::exchange::Take;

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "jan-15-party-of-four")
        .required(),
    Column::text("display_name", "1 to 120 characters", "Party of four").required(),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::text("spot", "id of a spot", "vesper-basin").required(),
    Column::text("shelter", "id of a shelter; empty: in the open, far apart", "rental-hut-five"),
    Column::figure("anglers", "", "a whole number from 1 to 60", "4").required(),
    Column::text("first_day", "a day such as 2027-01-15", "2027-01-15").required(),
    Column::text("last_day", "a day, not before the first", "2027-01-16").required(),
    Column::text("goal", "search, watch_lure, school or weed_edge; empty: watch_lure", "watch_lure"),
    Column::text("lure", "id of a target of kind lure", "tungsten-jig-5").required(),
    Column::text("fish", "id of a target of kind fish", "perch-25").required(),
    Column::figure("min_score", "", "0 to 1; empty: 0.3", "0.3"),
    Column::figure("min_headroom_db", "decibels", "-20 to 40; empty: 0", "0"),
];

impl Form for Booking {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(table, read_row, |booking| &booking.id, Booking::check, |field| column_of(COLUMNS, &[], field), take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(COLUMNS);
        cells.set("id", self.id.as_str());
        cells.set("display_name", &self.display_name);
        cells.set("notes", &self.notes);
        cells.set("spot", self.spot.as_str());
        if let Some(shelter) = &self.shelter {
            cells.set("shelter", shelter.as_str());
        }
        cells.set("anglers", self.anglers.to_string());
        cells.set("first_day", self.first_day.to_string());
        cells.set("last_day", self.last_day.to_string());
        cells.set_choice("goal", &self.goal, &GOALS);
        cells.set("lure", self.lure.as_str());
        cells.set("fish", self.fish.as_str());
        cells.set("min_score", notation::number(self.min_score));
        cells.set("min_headroom_db", notation::number(self.min_headroom.get()));
        rows.push(cells);
    }
}

fn read_row(row: &mut Row) -> Option<Booking> {
    let (id, spot) = (row.id("id"), row.reference("spot", "spots"));
    let in_shelter = !row.text("shelter").is_empty();
    let shelter = if in_shelter { row.reference("shelter", "shelters") } else { None };
    let (lure, fish) = (row.reference("lure", "targets"), row.reference("fish", "targets"));
    let (first_day, last_day) = (row.day("first_day"), row.day("last_day"));
    let anglers = row.whole("anglers");
    if row.text("anglers").is_empty() {
        row.missing("anglers");
    }
    let display_name = row.required_text("display_name");
    let goal = row.choice("goal", &GOALS).unwrap_or(Goal::WatchLure);
    let min_score = row.number("min_score").unwrap_or(defaults::MIN_SCORE);
    let min_headroom = row.number("min_headroom_db").map_or(defaults::MIN_HEADROOM, Db::new);
    Some(Booking {
        id: id?,
        display_name,
        notes: row.text("notes").to_owned(),
        spot: spot?,
        shelter,
        // Where the number is refused, one that is fine stands in.
        anglers: anglers.unwrap_or(1),
        first_day: first_day?,
        last_day: last_day?,
        goal,
        lure: lure?,
        fish: fish?,
        min_score,
        min_headroom,
    })
}
