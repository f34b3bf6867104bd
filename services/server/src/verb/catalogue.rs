//! Listing, showing and removing records, and the columns of their files.

use catalog::exchange::csv::CsvRecord as _;
use planning::domain::{Sensor, Shelter, Spot, Target};
use prost::{Message, Name};
use proto::v1;

use crate::cli::{self, Kind};
use crate::connect::Connection;
use crate::exit::{Outcome, Stop};
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
                        words(s.bottom_class().as_str_name()),
                        format!("{:.0}", s.slope_deg),
                        s.canopy.as_ref().map_or_else(String::new, |c| words(c.density().as_str_name())),
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
        Kind::Targets => {
            let mut table = Columns::new(&["name", "target", "kind", "notes"]);
            every!(client, list_targets, ListTargetsRequest, targets, args.filter, |t: &v1::Target| {
                each(t, as_json, || {
                    table.row([t.name.clone(), t.display_name.clone(), words(t.kind().as_str_name()), t.notes.clone()]);
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

/// `ORGANIC_OOZE` as people write it.
pub(super) fn words(name: &str) -> String {
    name.to_lowercase().replace('_', " ")
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
    let (mut catalog, mut selection) = (connection.catalog(), connection.selection());
    let name_of = || name.to_owned();
    match name.split('/').next().unwrap_or_default() {
        "sensors" => pretty(catalog.get_sensor(v1::GetSensorRequest { name: name_of() }).await?.get_ref()),
        "spots" => pretty(catalog.get_spot(v1::GetSpotRequest { name: name_of() }).await?.get_ref()),
        "shelters" => pretty(catalog.get_shelter(v1::GetShelterRequest { name: name_of() }).await?.get_ref()),
        "targets" => pretty(catalog.get_target(v1::GetTargetRequest { name: name_of() }).await?.get_ref()),
        "reports" => pretty(connection.reports().get_report(v1::GetReportRequest { name: name_of() }).await?.get_ref()),
        "runs" if name.contains("/findings/") => {
            let request = v1::ExplainFindingRequest { name: name_of() };
            match selection.explain_finding(request).await?.into_inner().finding {
                Some(finding) => pretty(&finding),
                None => Err(Stop::Usage(format!("there is no {name}"))),
            }
        }
        "runs" => pretty(selection.get_run(v1::GetRunRequest { name: name_of() }).await?.get_ref()),
        _ => Err(unknown(name)),
    }
}

fn pretty<M: Message + Name>(message: &M) -> Outcome {
    let line = json::line(message)?;
    let value: serde_json::Value = serde_json::from_str(&line).map_err(|e| Stop::Usage(e.to_string()))?;
    println!("{value:#}");
    Ok(())
}

/// Removes a record.
pub(super) async fn delete(connection: &Connection, name: &str) -> Outcome {
    let mut client = connection.catalog();
    let (name_of, etag) = (name.to_owned(), String::new());
    match name.split('/').next().unwrap_or_default() {
        "sensors" => client.delete_sensor(v1::DeleteSensorRequest { name: name_of, etag }).await?,
        "spots" => client.delete_spot(v1::DeleteSpotRequest { name: name_of, etag }).await?,
        "shelters" => client.delete_shelter(v1::DeleteShelterRequest { name: name_of, etag }).await?,
        "targets" => client.delete_target(v1::DeleteTargetRequest { name: name_of, etag }).await?,
        _ => return Err(unknown(name)),
    };
    println!("{name} is removed. Runs that used it keep their own copy.");
    Ok(())
}

fn unknown(name: &str) -> Stop {
    Stop::Usage(format!(
        "'{name}' is no name that this verb knows; names begin with sensors/, spots/, shelters/ or targets/"
    ))
}

/// Prints the columns of CSV files as templates with their units.
pub(super) fn columns(args: &cli::Columns, as_json: bool) -> Outcome {
    for kind in Kind::ALL.into_iter().filter(|k| args.kind.is_none_or(|wanted| wanted == *k)) {
        let columns = match kind {
            Kind::Sensors => Sensor::columns(),
            Kind::Spots => Spot::columns(),
            Kind::Shelters => Shelter::columns(),
            Kind::Targets => Target::columns(),
        };
        if as_json {
            for c in columns {
                println!(
                    "{}",
                    serde_json::json!({
                        "kind": kind.name(), "column": c.name, "unit": c.unit, "required": c.required,
                        "accepts": c.accepts, "example": c.example,
                    })
                );
            }
            continue;
        }
        println!("{}.csv", kind.name());
        let mut table = Columns::new(&["column", "unit", "needed", "accepts", "example"]);
        for c in columns {
            table.row([
                c.name.to_string(),
                c.unit.to_string(),
                if c.required { "yes".to_owned() } else { String::new() },
                c.accepts.to_string(),
                c.example.to_string(),
            ]);
        }
        table.print();
        println!();
    }
    Ok(())
}
