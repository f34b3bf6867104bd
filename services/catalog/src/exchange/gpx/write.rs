//! Spots as waypoints.

use std::io;

use domain::{Id, SpotRecord};
use quick_xml::events::{BytesEnd, BytesStart, BytesText, Event};
use quick_xml::{Writer, escape};

use super::waypoints::{GPX, NAMESPACE};
use crate::exchange::csv::Cells;
use crate::exchange::csv::form::Form as _;

/// What stands for the namespace in names.
const PREFIX: &str = "lakebeam";
/// Columns that a waypoint has a place of its own for.
const CORE: [&str; 4] = ["latitude_deg", "longitude_deg", "display_name", "notes"];

/// A spot without a position, which a waypoint must have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "spots/{id} has no position, which a GPX waypoint must have; give it one, leave it out by a filter such as \
     latitude_deg >= -90, or export GeoJSON, CSV or JSON lines"
)]
pub struct NoPosition {
    /// The spot.
    pub id: Id,
}

/// The beginning of a file.
#[must_use]
pub fn head() -> Vec<u8> {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" creator=\"lakebeam\" xmlns=\"{GPX}\" xmlns:{PREFIX}=\"{NAMESPACE}\">\n"
    )
    .into_bytes()
}

/// The waypoints of some spots, to follow the beginning.
///
/// # Errors
/// A spot has no position.
pub fn rows(spots: &[SpotRecord]) -> Result<Vec<u8>, NoPosition> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 2);
    for spot in spots {
        let position = spot.latitude_deg.zip(spot.longitude_deg).ok_or_else(|| NoPosition { id: spot.id.clone() })?;
        // The format's longitudes end just short of 180; a spot's may pass it by the last bits that its check allows.
        let east = if position.1 >= 180.0 { -180.0 } else { position.1 };
        let mut cells = Vec::with_capacity(1);
        spot.write(&mut cells);
        for row in cells {
            // Writing to memory has no way to fail.
            let _ = waypoint(&mut writer, &row, (position.0, east));
        }
    }
    let mut bytes = writer.into_inner();
    if !bytes.is_empty() {
        bytes.push(b'\n');
    }
    Ok(bytes)
}

/// The end of a file.
#[must_use]
pub fn tail() -> Vec<u8> {
    b"</gpx>\n".to_vec()
}

fn waypoint(writer: &mut Writer<Vec<u8>>, row: &Cells, (north, east): (f64, f64)) -> io::Result<()> {
    let (north, east) = (north.to_string(), east.to_string());
    let start = BytesStart::new("wpt").with_attributes([("lat", north.as_str()), ("lon", east.as_str())]);
    writer.write_event(Event::Start(start))?;
    element(writer, "name", row.get("display_name"))?;
    element(writer, "desc", row.get("notes"))?;
    writer.write_event(Event::Start(BytesStart::new("extensions")))?;
    for (column, text) in row.iter().filter(|(column, _)| !CORE.contains(column)) {
        element(writer, &format!("{PREFIX}:{column}"), text)?;
    }
    writer.write_event(Event::End(BytesEnd::new("extensions")))?;
    writer.write_event(Event::End(BytesEnd::new("wpt")))
}

/// An element with text; nothing for none.
fn element(writer: &mut Writer<Vec<u8>>, name: &str, text: &str) -> io::Result<()> {
    if text.is_empty() {
        return Ok(());
    }
    writer.write_event(Event::Start(BytesStart::new(name)))?;
    writer.write_event(Event::Text(BytesText::from_escaped(escaped(text))))?;
    writer.write_event(Event::End(BytesEnd::new(name)))
}

/// Text as XML can hold it: a reader would make a line feed of a carriage return, and two code points that stand for
/// nothing may not appear at all.
fn escaped(text: &str) -> String {
    let plain = text.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}");
    escape::escape(plain).replace('\r', "&#13;")
}
