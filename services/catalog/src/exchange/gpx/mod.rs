//! GPX 1.1: waypoints as spots, and spots as waypoints.
//!
//! What a waypoint has of its own is taken from there: `lat` and `lon` are the position, `<name>` is the name for people,
//! `<desc>` the notes (`<cmt>` where it says something else). What else a spot needs stands in the waypoint's
//! `<extensions>`, as elements of the namespace [`NAMESPACE`] that are called like the columns of a CSV file of spots:
//!
//! ```xml
//! <gpx version="1.1" creator="…" xmlns="http://www.topografix.com/GPX/1/1" xmlns:lakebeam="urn:x-lakebeam:spot:1">
//!   <wpt lat="46.5" lon="-94.25">
//!     <name>North bar</name>
//!     <extensions>
//!       <lakebeam:depth_ft>24</lakebeam:depth_ft>
//!       <lakebeam:bottom_class>fine_sand</lakebeam:bottom_class>
//!     </extensions>
//!   </wpt>
//! </gpx>
//! ```
//!
//! Where they are left out, defaults given with the import stand in; without those too, the waypoint is refused with what
//! it lacks. An `<ele>` is the height of the ice over the sea and never a depth: it is not read, nor are extensions of
//! others, tracks and routes. Without an `<id>` the name becomes the id, in plain letters. What is written here reads
//! back to the same records, but for blanks around a text; and as the format demands, the meridian at 180° comes back as −180°,
//! and the two code points that stand for nothing (U+FFFE, U+FFFF) as U+FFFD.

mod identifier;
mod waypoints;
mod write;

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use domain::SpotRecord;
use domain::notation::cut;

use self::identifier::identifier;
use self::waypoints::{Waypoint, Waypoints};
use super::csv::fields::read_each;
use super::csv::form::Form as _;
use super::csv::layout::{Layout, Source};
use super::csv::row::Row;
use super::{Parsed, RowFault};

pub use self::waypoints::NAMESPACE;
pub use self::write::{NoPosition, head, rows, tail};

/// Reads a file; `defaults` are what waypoints do not say. Every spot that comes back has passed its check.
#[must_use]
pub fn read(bytes: &[u8], defaults: &BTreeMap<String, String>) -> Parsed<SpotRecord> {
    let mut base = Layout::new(SpotRecord::columns(), Source::Waypoints);
    let mut faults = Vec::new();
    for (name, cell) in defaults {
        if let Err(message) = base.default(name, cell) {
            faults.push(RowFault { line: 1, column: cut(name), message, id: String::new() });
        }
    }
    if !faults.is_empty() {
        return Parsed { faults, ..Parsed::default() };
    }
    let mut waypoints = Waypoints::open(bytes);
    // Only the end of the file tells whether what stands before it may be trusted.
    let mut parsed = Parsed::default();
    let _ = read_each(waypoints.by_ref().map(|waypoint| row(&base, waypoint)), &mut |part| {
        parsed.append(part);
        ControlFlow::Continue(())
    });
    if let Some(fault) = waypoints.fault() {
        // What stands before the place that cannot be read is no more to be trusted than the rest.
        parsed.records.clear();
        parsed.faults = vec![fault];
    }
    parsed.faults.sort_by_key(|fault| fault.line);
    parsed
}

/// A waypoint as a row of a file of spots.
fn row(base: &Layout, mut waypoint: Waypoint) -> Row {
    let mut layout = base.clone();
    if !waypoint.cells.iter().any(|cell| cell.column == "id") {
        let id = identifier(waypoint.text("display_name"), waypoint.line);
        waypoint.push("id", "name", id);
    }
    let mut refused = std::mem::take(&mut waypoint.refused);
    for (index, cell) in waypoint.cells.iter().enumerate() {
        if let Err(message) = layout.assign(index, &cell.column, &cell.header) {
            refused.push((cell.header.clone(), message));
        }
    }
    let mut row = Row::of_texts(layout, waypoint.line, waypoint.cells.into_iter().map(|cell| cell.text));
    for (column, message) in refused {
        row.add(column, message);
    }
    row
}
