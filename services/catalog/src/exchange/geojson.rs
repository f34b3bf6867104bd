//! Spots for maps: GeoJSON (RFC 7946), written only.
//!
//! Every spot is a feature: a point, or no geometry where the position is not known (section 3.2). Its properties are
//! called like the columns of a CSV file of spots; figures are numbers, cells that would be empty are left out. With a
//! run, the best option there stands beside them, its properties called `best_…`.

use ::geojson::feature::Id as FeatureId;
use ::geojson::{Feature, Geometry, GeometryValue, JsonObject, JsonValue};
use acoustics::units::Db;
use domain::selection::{Finding, RunInput, option_path};
use domain::{Record as _, SpotRecord};

use super::csv::Cells;
use super::csv::cells::CellValue;
use super::csv::form::Form as _;

/// The finding of rank 1 at a spot.
#[derive(Debug, Clone, Copy)]
pub struct Best<'r> {
    /// Id of the run.
    pub run: &'r str,
    /// What the run was computed from.
    pub input: &'r RunInput,
    /// The finding.
    pub finding: &'r Finding,
}

/// The beginning of a file.
#[must_use]
pub fn head() -> Vec<u8> {
    b"{\"type\":\"FeatureCollection\",\"features\":[\n".to_vec()
}

/// What stands between two features.
pub const BETWEEN: &[u8] = b",\n";

/// The end of a file.
#[must_use]
pub fn tail() -> Vec<u8> {
    b"\n]}\n".to_vec()
}

/// A spot as a feature.
#[must_use]
pub fn feature(spot: &SpotRecord, best: Option<&Best<'_>>) -> Vec<u8> {
    let mut properties = JsonObject::new();
    let mut rows = Vec::with_capacity(1);
    spot.write(&mut rows);
    for (name, value) in rows.iter().flat_map(Cells::values) {
        // The geometry says these.
        if matches!(name, "latitude_deg" | "longitude_deg") {
            continue;
        }
        match value {
            CellValue::Empty => {}
            CellValue::Number(number) => put(&mut properties, name, number),
            CellValue::Text(text) => put(&mut properties, name, text),
        }
    }
    if let Some(best) = best {
        describe(&mut properties, spot, best);
    }
    let geometry = spot.longitude_deg.zip(spot.latitude_deg);
    let geometry = geometry.map(|(east, north)| Geometry::new(GeometryValue::new_point([east, north])));
    let id = Some(FeatureId::String(spot.id.to_string()));
    Feature { bbox: None, geometry, id, properties: Some(properties), foreign_members: None }.to_string().into_bytes()
}

/// A figure that is not finite has no JSON number and is left out.
fn put(properties: &mut JsonObject, name: &str, value: impl Into<JsonValue>) {
    let value = value.into();
    if !value.is_null() {
        properties.insert(name.to_owned(), value);
    }
}

fn describe(properties: &mut JsonObject, spot: &SpotRecord, best: &Best<'_>) {
    let Finding { criteria, gains, failures, .. } = best.finding;
    put(properties, "run", format!("runs/{}", best.run));
    // What was found is of the spot as it was when the run began.
    let then = best.input.spots.get(best.finding.spot);
    put(properties, "changed_since_run", then != spot.known().ok().as_ref());
    let option = best.input.options.get(best.finding.option);
    let sensor = option.and_then(|option| best.input.sensors.get(option.sensor));
    let beam = option.zip(sensor).and_then(|(option, sensor)| sensor.options.get(option.option));
    if let Some((sensor, beam)) = sensor.zip(beam) {
        put(properties, "best_option", option_path(&sensor.id, &beam.id));
        put(properties, "best_sensor", sensor.display_name.as_str());
        for (name, gain) in [
            ("best_working_dial", Some(gains.working)),
            ("best_clear_dial", gains.clear),
            ("best_search_dial", Some(gains.search)),
        ] {
            put(properties, name, gain.and_then(|gain| sensor.dial.dial_reading(gain)));
        }
    }
    put(properties, "best_score", best.finding.score);
    put(properties, "best_working_gain_db", gains.working.get());
    put(properties, "best_clear_gain_db", gains.clear.map(Db::get));
    put(properties, "best_search_gain_db", gains.search.get());
    put(properties, "best_headroom_db", criteria.headroom.map(Db::get));
    put(properties, "best_coverage_radius_m", criteria.coverage_radius.get());
    put(properties, "best_watch_footprint_m", criteria.watch_footprint.get());
    put(properties, "best_dead_zone_height_m", criteria.dead_zone_height.get());
    put(properties, "best_lure_over_vegetation_db", criteria.lure_over_vegetation.map(Db::get));
    let sentences: Vec<_> = failures.iter().map(|failure| failure.sentence().text()).collect();
    if !sentences.is_empty() {
        put(properties, "best_ruled_out_because", sentences.join(" "));
    }
}
