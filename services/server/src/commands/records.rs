//! What the commands do with each kind of record: list it, show one, remove one.

use prost::{Message, Name};
use proto::v1::{self, RecordKind};

use super::words::words;
use crate::cli::Kind;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::escaped_json;
use crate::output::{json, table::Columns};

/// Records in one page of a listing.
const PAGE: i32 = 500;

/// A record as a row of a table.
trait Listed: Message + Name {
    /// Headings of the columns; with `>` of those that are set to the right.
    const HEADS: &'static [&'static str];

    fn cells(&self) -> Vec<String>;
}

/// Calls a List method page by page and prints each record.
macro_rules! every {
    ($client:expr, $method:ident, $request:ident, $message:ident, $field:ident, $filter:expr, $as_json:expr) => {{
        let mut client = $client;
        let mut table = Columns::new(v1::$message::HEADS);
        let mut page_token = String::new();
        loop {
            let request = v1::$request { page_size: PAGE, page_token, filter: $filter.to_owned() };
            let page = client.$method(request).await?.into_inner();
            for record in &page.$field {
                if $as_json { json::print(record)? } else { table.row(record.cells()) }
            }
            if page.next_page_token.is_empty() {
                break;
            }
            page_token = page.next_page_token;
        }
        if !$as_json {
            table.print();
        }
    }};
}

/// Lists the records of a kind that a filter lets through.
pub(super) async fn list(connection: &Connection, kind: Kind, filter: &str, as_json: bool) -> Outcome {
    let (catalog, fleet) = (connection.catalog(), connection.fleet());
    match kind.number() {
        RecordKind::Unspecified => {}
        RecordKind::Sensors => every!(catalog, list_sensors, ListSensorsRequest, Sensor, sensors, filter, as_json),
        RecordKind::Spots => every!(catalog, list_spots, ListSpotsRequest, Spot, spots, filter, as_json),
        RecordKind::Shelters => every!(catalog, list_shelters, ListSheltersRequest, Shelter, shelters, filter, as_json),
        RecordKind::Targets => every!(catalog, list_targets, ListTargetsRequest, Target, targets, filter, as_json),
        RecordKind::Units => every!(fleet, list_units, ListUnitsRequest, Unit, units, filter, as_json),
        RecordKind::Bookings => every!(fleet, list_bookings, ListBookingsRequest, Booking, bookings, filter, as_json),
        RecordKind::UnitChecks => {
            every!(fleet, list_unit_checks, ListUnitChecksRequest, UnitCheck, unit_checks, filter, as_json);
        }
        RecordKind::BeamSurveys => {
            every!(fleet, list_beam_surveys, ListBeamSurveysRequest, BeamSurvey, beam_surveys, filter, as_json);
        }
        RecordKind::Goals => {
            every!(catalog, list_custom_goals, ListCustomGoalsRequest, CustomGoal, custom_goals, filter, as_json);
        }
    }
    Ok(())
}

/// Shows one record, as JSON that reads well.
pub(super) async fn show(connection: &Connection, kind: Kind, name: &str) -> Outcome {
    let (mut catalog, mut fleet) = (connection.catalog(), connection.fleet());
    let name = name.to_owned();
    match kind.number() {
        RecordKind::Unspecified => Ok(()),
        RecordKind::Sensors => pretty(catalog.get_sensor(v1::GetSensorRequest { name }).await?.get_ref()),
        RecordKind::Spots => pretty(catalog.get_spot(v1::GetSpotRequest { name }).await?.get_ref()),
        RecordKind::Shelters => pretty(catalog.get_shelter(v1::GetShelterRequest { name }).await?.get_ref()),
        RecordKind::Targets => pretty(catalog.get_target(v1::GetTargetRequest { name }).await?.get_ref()),
        RecordKind::Units => pretty(fleet.get_unit(v1::GetUnitRequest { name }).await?.get_ref()),
        RecordKind::Bookings => pretty(fleet.get_booking(v1::GetBookingRequest { name }).await?.get_ref()),
        RecordKind::UnitChecks => pretty(fleet.get_unit_check(v1::GetUnitCheckRequest { name }).await?.get_ref()),
        RecordKind::BeamSurveys => pretty(fleet.get_beam_survey(v1::GetBeamSurveyRequest { name }).await?.get_ref()),
        RecordKind::Goals => pretty(catalog.get_custom_goal(v1::GetCustomGoalRequest { name }).await?.get_ref()),
    }
}

/// Removes one record.
pub(super) async fn delete(connection: &Connection, kind: Kind, name: &str, force: bool) -> Outcome {
    let (mut client, mut fleet) = (connection.catalog(), connection.fleet());
    let (name, etag) = (name.to_owned(), String::new());
    match kind.number() {
        RecordKind::Unspecified => return Ok(()),
        RecordKind::Sensors => client.delete_sensor(v1::DeleteSensorRequest { name, etag, force }).await?,
        RecordKind::Spots => client.delete_spot(v1::DeleteSpotRequest { name, etag, force }).await?,
        RecordKind::Shelters => client.delete_shelter(v1::DeleteShelterRequest { name, etag, force }).await?,
        RecordKind::Targets => client.delete_target(v1::DeleteTargetRequest { name, etag, force }).await?,
        RecordKind::Units => fleet.delete_unit(v1::DeleteUnitRequest { name, etag, force }).await?,
        RecordKind::Bookings => fleet.delete_booking(v1::DeleteBookingRequest { name, etag, force }).await?,
        RecordKind::UnitChecks => fleet.delete_unit_check(v1::DeleteUnitCheckRequest { name, etag, force }).await?,
        RecordKind::BeamSurveys => fleet.delete_beam_survey(v1::DeleteBeamSurveyRequest { name, etag, force }).await?,
        RecordKind::Goals => client.delete_custom_goal(v1::DeleteCustomGoalRequest { name, etag, force }).await?,
    };
    Ok(())
}

impl Listed for v1::Sensor {
    const HEADS: &'static [&'static str] = &["name", "sensor", "beams", ">price", "notes"];

    fn cells(&self) -> Vec<String> {
        let beams: Vec<_> = self.options.iter().map(beam).collect();
        vec![self.name.clone(), self.display_name.clone(), beams.join("; "), price(self), self.notes.clone()]
    }
}

impl Listed for v1::Spot {
    const HEADS: &'static [&'static str] =
        &["name", "spot", "lake", ">depth m", "bottom", ">slope °", "plants", "notes"];

    fn cells(&self) -> Vec<String> {
        vec![
            self.name.clone(),
            self.display_name.clone(),
            self.lake.clone(),
            format!("{:.1}", self.depth_m),
            match self.bottom_class() {
                v1::BottomClass::Unspecified => "not known".to_owned(),
                class => words("BOTTOM_CLASS_", class.as_str_name()),
            },
            self.slope_deg.map_or_else(String::new, |slope| format!("{slope:.0}")),
            match (&self.canopy, self.canopy_unknown) {
                (Some(canopy), _) if canopy.density() == v1::CanopyDensity::Unspecified => "yes".to_owned(),
                (Some(canopy), _) => words("CANOPY_DENSITY_", canopy.density().as_str_name()),
                (None, true) => "not known".to_owned(),
                (None, false) => String::new(),
            },
            self.notes.clone(),
        ]
    }
}

impl Listed for v1::Shelter {
    const HEADS: &'static [&'static str] = &["name", "shelter", "floor m", ">holes", "notes"];

    fn cells(&self) -> Vec<String> {
        let floor = if self.floor_diameter_m > 0.0 {
            format!("round, {} across", self.floor_diameter_m)
        } else {
            format!("{} × {}", self.floor_length_m, self.floor_width_m)
        };
        let holes = if self.holes.is_empty() { self.party_size.to_string() } else { self.holes.len().to_string() };
        vec![self.name.clone(), self.display_name.clone(), floor, holes, self.notes.clone()]
    }
}

impl Listed for v1::Target {
    const HEADS: &'static [&'static str] = &["name", "target", "kind", "notes"];

    fn cells(&self) -> Vec<String> {
        let kind = words("TARGET_KIND_", self.kind().as_str_name());
        vec![self.name.clone(), self.display_name.clone(), kind, self.notes.clone()]
    }
}

impl Listed for v1::Unit {
    const HEADS: &'static [&'static str] = &["name", "unit", "serial", "sensor", "state", "notes"];

    fn cells(&self) -> Vec<String> {
        let state = words("UNIT_STATE_", self.state().as_str_name());
        let (name, serial, sensor) = (self.name.clone(), self.serial.clone(), self.sensor.clone());
        vec![name, self.display_name.clone(), serial, sensor, state, self.notes.clone()]
    }
}

impl Listed for v1::Booking {
    const HEADS: &'static [&'static str] = &["name", "booking", "spot", "shelter", ">anglers", "first day", "last day"];

    fn cells(&self) -> Vec<String> {
        vec![
            self.name.clone(),
            self.display_name.clone(),
            self.spot.clone(),
            self.shelter.clone(),
            self.anglers.to_string(),
            self.first_day.clone(),
            self.last_day.clone(),
        ]
    }
}

impl Listed for v1::UnitCheck {
    const HEADS: &'static [&'static str] =
        &["name", "unit", "option", "target", "day", ">depth m", "shown at", "swap", "notes"];

    fn cells(&self) -> Vec<String> {
        vec![
            self.name.clone(),
            self.unit.clone(),
            self.option.clone(),
            self.target.clone(),
            self.day.clone(),
            format!("{:.1}", self.depth_m),
            self.shown_at.clone(),
            self.swap.clone(),
            self.notes.clone(),
        ]
    }
}

impl Listed for v1::BeamSurvey {
    const HEADS: &'static [&'static str] = &["name", "survey", "option", "target", "day", ">readings"];

    fn cells(&self) -> Vec<String> {
        vec![
            self.name.clone(),
            self.display_name.clone(),
            self.option.clone(),
            self.target.clone(),
            self.day.clone(),
            self.readings.len().to_string(),
        ]
    }
}

impl Listed for v1::CustomGoal {
    const HEADS: &'static [&'static str] = &["name", "goal", "starts from", "weights", "notes"];

    fn cells(&self) -> Vec<String> {
        let from = match self.starts_from() {
            v1::Goal::Unspecified => v1::Goal::WatchLure,
            preset => preset,
        };
        let weights = [
            ("coverage", self.coverage_weight),
            ("clutter", self.clutter_weight),
            ("resolution", self.resolution_weight),
            ("interference", self.interference_weight),
        ];
        let own = weights.into_iter().filter_map(|(name, weight)| Some(format!("{name} {}", weight?)));
        vec![
            self.name.clone(),
            self.display_name.clone(),
            words("GOAL_", from.as_str_name()),
            own.collect::<Vec<_>>().join(", "),
            self.notes.clone(),
        ]
    }
}

pub(super) fn pretty<M: Message + Name>(message: &M) -> Outcome {
    let line = json::line(message)?;
    let value: serde_json::Value = serde_json::from_str(&line).map_err(|e| CliError::Usage(e.to_string()))?;
    println!("{}", escaped_json(&format!("{value:#}")));
    Ok(())
}

fn beam(option: &v1::BeamOption) -> String {
    let khz = option.frequency_khz.as_ref().map_or(0.0, |f| f.value);
    match &option.beamwidth_deg {
        Some(width) => format!("{khz:.0} kHz {:.0}°", width.value),
        None => format!("{khz:.0} kHz"),
    }
}

fn price(sensor: &v1::Sensor) -> String {
    sensor.price.as_ref().map_or_else(String::new, |p| {
        format!("{}.{:02} {}", p.units, (p.nanos.abs() + 5_000_000) / 10_000_000, p.currency_code)
    })
}
