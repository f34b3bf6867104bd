//! Listing, showing and removing records, and the columns of their files.

use catalog::exchange::csv::{Column, CsvRecord, columns, template};
use domain::{BeamSurvey, Booking, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck};
use prost::{Message, Name};
use proto::v1;

use super::names::label_filter;
use crate::cli::{self, Kind};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::{escaped_json, say};
use crate::output::{json, table::Columns};

/// Records in one page of a listing.
const PAGE: i32 = 500;

/// Calls a List method page by page and handles each record.
macro_rules! every {
    ($client:expr, $method:ident, $request:ident, $field:ident, $filter:expr, $each:expr) => {{
        let mut client = $client;
        let mut page_token = String::new();
        loop {
            let request = v1::$request { page_size: PAGE, page_token, filter: $filter.clone() };
            let page = client.$method(request).await?.into_inner();
            for record in &page.$field {
                $each(record)?;
            }
            if page.next_page_token.is_empty() {
                break;
            }
            page_token = page.next_page_token;
        }
    }};
}

/// Lists the records of a kind.
pub(super) async fn list(connection: &Connection, args: &cli::List, as_json: bool) -> Outcome {
    let mut args = args.clone();
    match (&args.label, args.kind) {
        (Some(label), Kind::Spots) => args.filter = label_filter(label),
        (Some(_), kind) => {
            return Err(CliError::Usage(format!("--label is of spots; {} have none: use --filter", kind.name())));
        }
        (None, _) => {}
    }
    let args = &args;
    match args.kind {
        Kind::Sensors | Kind::Spots | Kind::Shelters | Kind::Targets => list_catalogue(connection, args, as_json).await,
        Kind::Units | Kind::Bookings | Kind::UnitChecks | Kind::BeamSurveys => {
            list_fleet(connection, args, as_json).await
        }
    }
}

async fn list_fleet(connection: &Connection, args: &cli::List, as_json: bool) -> Outcome {
    let client = connection.fleet();
    match args.kind {
        Kind::Units => {
            let mut table = Columns::new(&["name", "unit", "serial", "sensor", "state", "notes"]);
            every!(client, list_units, ListUnitsRequest, units, args.filter, |u: &v1::Unit| {
                each(u, as_json, || {
                    let state = words("UNIT_STATE_", u.state().as_str_name());
                    let (name, serial, sensor) = (u.name.clone(), u.serial.clone(), u.sensor.clone());
                    table.row([name, u.display_name.clone(), serial, sensor, state, u.notes.clone()]);
                })
            });
            finish(&table, as_json);
        }
        Kind::Bookings => {
            let mut table = Columns::new(&["name", "booking", "spot", "shelter", ">anglers", "first day", "last day"]);
            every!(client, list_bookings, ListBookingsRequest, bookings, args.filter, |b: &v1::Booking| {
                each(b, as_json, || {
                    table.row([
                        b.name.clone(),
                        b.display_name.clone(),
                        b.spot.clone(),
                        b.shelter.clone(),
                        b.anglers.to_string(),
                        b.first_day.clone(),
                        b.last_day.clone(),
                    ]);
                })
            });
            finish(&table, as_json);
        }
        Kind::UnitChecks => {
            let mut table =
                Columns::new(&["name", "unit", "option", "target", "day", ">depth m", "shown at", "swap", "notes"]);
            every!(client, list_unit_checks, ListUnitChecksRequest, unit_checks, args.filter, |c: &v1::UnitCheck| {
                each(c, as_json, || {
                    table.row([
                        c.name.clone(),
                        c.unit.clone(),
                        c.option.clone(),
                        c.target.clone(),
                        c.day.clone(),
                        format!("{:.1}", c.depth_m),
                        c.shown_at.clone(),
                        c.swap.clone(),
                        c.notes.clone(),
                    ]);
                })
            });
            finish(&table, as_json);
        }
        _ => {
            let mut table = Columns::new(&["name", "survey", "option", "target", "day", ">readings"]);
            let filter = &args.filter;
            every!(client, list_beam_surveys, ListBeamSurveysRequest, beam_surveys, filter, |s: &v1::BeamSurvey| {
                each(s, as_json, || {
                    table.row([
                        s.name.clone(),
                        s.display_name.clone(),
                        s.option.clone(),
                        s.target.clone(),
                        s.day.clone(),
                        s.readings.len().to_string(),
                    ]);
                })
            });
            finish(&table, as_json);
        }
    }
    Ok(())
}

async fn list_catalogue(connection: &Connection, args: &cli::List, as_json: bool) -> Outcome {
    let client = connection.catalog();
    match args.kind {
        Kind::Sensors => {
            let mut table = Columns::new(&["name", "sensor", "beams", ">price", "notes"]);
            every!(client, list_sensors, ListSensorsRequest, sensors, args.filter, |s: &v1::Sensor| {
                each(s, as_json, || {
                    let beams: Vec<_> = s.options.iter().map(beam).collect();
                    table.row([s.name.clone(), s.display_name.clone(), beams.join("; "), price(s), s.notes.clone()]);
                })
            });
            finish(&table, as_json);
        }
        Kind::Spots => {
            let mut table =
                Columns::new(&["name", "spot", "lake", ">depth m", "bottom", ">slope °", "plants", "notes"]);
            every!(client, list_spots, ListSpotsRequest, spots, args.filter, |s: &v1::Spot| {
                each(s, as_json, || {
                    table.row([
                        s.name.clone(),
                        s.display_name.clone(),
                        s.lake.clone(),
                        format!("{:.1}", s.depth_m),
                        match s.bottom_class() {
                            v1::BottomClass::Unspecified => "not known".to_owned(),
                            class => words("BOTTOM_CLASS_", class.as_str_name()),
                        },
                        s.slope_deg.map_or_else(String::new, |slope| format!("{slope:.0}")),
                        match (&s.canopy, s.canopy_unknown) {
                            (Some(canopy), _) if canopy.density() == v1::CanopyDensity::Unspecified => "yes".to_owned(),
                            (Some(canopy), _) => words("CANOPY_DENSITY_", canopy.density().as_str_name()),
                            (None, true) => "not known".to_owned(),
                            (None, false) => String::new(),
                        },
                        s.notes.clone(),
                    ]);
                })
            });
            finish(&table, as_json);
        }
        Kind::Shelters => {
            let mut table = Columns::new(&["name", "shelter", "floor m", ">holes", "notes"]);
            every!(client, list_shelters, ListSheltersRequest, shelters, args.filter, |s: &v1::Shelter| {
                each(s, as_json, || {
                    let floor = if s.floor_diameter_m > 0.0 {
                        format!("round, {} across", s.floor_diameter_m)
                    } else {
                        format!("{} × {}", s.floor_length_m, s.floor_width_m)
                    };
                    let holes = if s.holes.is_empty() { s.party_size.to_string() } else { s.holes.len().to_string() };
                    table.row([s.name.clone(), s.display_name.clone(), floor, holes, s.notes.clone()]);
                })
            });
            finish(&table, as_json);
        }
        _ => {
            let mut table = Columns::new(&["name", "target", "kind", "notes"]);
            every!(client, list_targets, ListTargetsRequest, targets, args.filter, |t: &v1::Target| {
                each(t, as_json, || {
                    table.row([
                        t.name.clone(),
                        t.display_name.clone(),
                        words("TARGET_KIND_", t.kind().as_str_name()),
                        t.notes.clone(),
                    ]);
                })
            });
            finish(&table, as_json);
        }
    }
    Ok(())
}

fn each<M: Message + Name>(record: &M, as_json: bool, row: impl FnOnce()) -> Outcome {
    if as_json {
        return json::print(record);
    }
    row();
    Ok(())
}

fn finish(table: &Columns, as_json: bool) {
    if !as_json {
        table.print();
    }
}

/// `BOTTOM_CLASS_ORGANIC_OOZE`, of the enum whose names begin with `BOTTOM_CLASS_`, as people write it: `organic ooze`.
pub(super) fn words(prefix: &str, name: &str) -> String {
    name.strip_prefix(prefix).unwrap_or(name).to_lowercase().replace('_', " ")
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

/// Shows one resource, as JSON that reads well.
pub(super) async fn show(connection: &Connection, name: &str) -> Outcome {
    let (mut catalog, mut selection, mut fleet) = (connection.catalog(), connection.selection(), connection.fleet());
    let name_of = || name.to_owned();
    match name.split('/').next().unwrap_or_default() {
        "sensors" => pretty(catalog.get_sensor(v1::GetSensorRequest { name: name_of() }).await?.get_ref()),
        "spots" => pretty(catalog.get_spot(v1::GetSpotRequest { name: name_of() }).await?.get_ref()),
        "shelters" => pretty(catalog.get_shelter(v1::GetShelterRequest { name: name_of() }).await?.get_ref()),
        "targets" => pretty(catalog.get_target(v1::GetTargetRequest { name: name_of() }).await?.get_ref()),
        "units" => pretty(fleet.get_unit(v1::GetUnitRequest { name: name_of() }).await?.get_ref()),
        "bookings" => pretty(fleet.get_booking(v1::GetBookingRequest { name: name_of() }).await?.get_ref()),
        "unitChecks" => pretty(fleet.get_unit_check(v1::GetUnitCheckRequest { name: name_of() }).await?.get_ref()),
        "beamSurveys" => pretty(fleet.get_beam_survey(v1::GetBeamSurveyRequest { name: name_of() }).await?.get_ref()),
        "shelterRules" => {
            let request = v1::GetShelterRulesRequest { name: name_of() };
            pretty(connection.rules().get_shelter_rules(request).await?.get_ref())
        }
        "fleetPlans" => pretty(fleet.get_fleet_plan(v1::GetFleetPlanRequest { name: name_of() }).await?.get_ref()),
        "unitAssessments" => {
            let request = v1::GetUnitAssessmentRequest { name: name_of() };
            pretty(fleet.get_unit_assessment(request).await?.get_ref())
        }
        "beamFits" => pretty(fleet.get_beam_fit(v1::GetBeamFitRequest { name: name_of() }).await?.get_ref()),
        "beamSurveyDrafts" => {
            let request = v1::GetBeamSurveyDraftRequest { name: name_of() };
            pretty(fleet.get_beam_survey_draft(request).await?.get_ref())
        }
        "reports" => pretty(connection.reports().get_report(v1::GetReportRequest { name: name_of() }).await?.get_ref()),
        "runs" if name.contains("/findings/") => {
            let request = v1::ExplainFindingRequest { name: name_of() };
            match selection.explain_finding(request).await?.into_inner().finding {
                Some(finding) => pretty(&finding),
                None => Err(CliError::Usage(format!("there is no {name}"))),
            }
        }
        "runs" => pretty(selection.get_run(v1::GetRunRequest { name: name_of() }).await?.get_ref()),
        _ => Err(unknown(name)),
    }
}

fn pretty<M: Message + Name>(message: &M) -> Outcome {
    let line = json::line(message)?;
    let value: serde_json::Value = serde_json::from_str(&line).map_err(|e| CliError::Usage(e.to_string()))?;
    println!("{}", escaped_json(&format!("{value:#}")));
    Ok(())
}

pub(super) fn unknown(name: &str) -> CliError {
    CliError::Usage(format!(
        "'{name}' is no name that this verb knows; names begin with their collection, such as spots/ or units/: see `lakebeam list`"
    ))
}

/// The columns of a kind, and a file of it to fill in.
fn shown<R: CsvRecord>() -> (Vec<Column>, String) {
    (columns::<R>(), template::<R>())
}

/// Prints the columns of CSV files with their units, or one as a file to fill in.
pub(super) fn show_columns(args: &cli::Columns, as_json: bool) -> Outcome {
    for kind in Kind::ALL.into_iter().filter(|k| args.kind.is_none_or(|wanted| wanted == *k)) {
        let (columns, file) = match kind {
            Kind::Sensors => shown::<SensorRecord>(),
            Kind::Spots => shown::<SpotRecord>(),
            Kind::Shelters => shown::<ShelterRecord>(),
            Kind::Targets => shown::<TargetRecord>(),
            Kind::Units => shown::<Unit>(),
            Kind::Bookings => shown::<Booking>(),
            Kind::UnitChecks => shown::<UnitCheck>(),
            Kind::BeamSurveys => shown::<BeamSurvey>(),
        };
        if args.csv {
            say!("{}", file.trim_end());
            return Ok(());
        }
        if as_json {
            for c in columns {
                say!(
                    "{}",
                    serde_json::json!({
                        "kind": kind.name(), "column": c.name, "unit": c.unit, "required": c.required,
                        "accepts": c.accepts, "example": c.example, "also": c.also().collect::<Vec<_>>(), "words": c.words(),
                    })
                );
            }
            continue;
        }
        say!("{}.csv", kind.name());
        let mut table = Columns::new(&["column", "unit", "or in its place", "needed", "accepts", "example"]);
        for c in columns {
            table.row([
                c.name.to_string(),
                c.unit.to_string(),
                c.also().chain(c.words().iter().copied()).collect::<Vec<_>>().join(", "),
                if c.required { "yes".to_owned() } else { String::new() },
                c.accepts.to_string(),
                c.example.to_string(),
            ]);
        }
        table.print();
        say!("");
    }
    if !as_json {
        say!(
            "The unit is the end of a column's name: _ft are feet, _in inches, _f and _degf degrees Fahrenheit; a header such as\n\
             `Depth (ft)` is read as depth_ft. A cell may say its own: 180 kHz, 18 ft, $129; 9/20 are two beams of one sensor. Ids are made from\n\
             names where there are none, and columns of no known field are left aside. Where semicolons or tabs separate the cells, numbers may have a decimal comma."
        );
    }
    Ok(())
}
