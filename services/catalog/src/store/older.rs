//! Databases of older schemas: their records are brought over at the first start, what was computed from them is dropped.
//!
//! Those schemas kept a record as JSON in SI units; nothing else reads or writes that form any more.

use acoustics::units::{Celsius, Db, HalfAngle, Metres, WidthLevel};
use domain::field::{Figure, Given, named};
use domain::scale::Scale;
use domain::sensor::{BeamShape, DIAL_SCALES, PROVENANCES};
use domain::spot::{BOTTOM_CLASSES, DENSITIES, RELIEF_KINDS};
use domain::target::{FISH_CLASSES, MATERIALS, SHAPES, Shape, TARGET_KINDS};
use domain::{
    BeamSurvey, Booking, DialPoint, Id, OptionRecord, PatternPoint, Provenance, Record, Relief, SensorRecord,
    ShelterRecord, SpotRecord, SurveyReading, TargetRecord, Unit, UnitCheck,
};
use serde_json::Value;
use sqlx::sqlite::SqliteConnection;
use sqlx::{AssertSqlSafe, Row as _};

use crate::error::StoreError;
use crate::kinds::Resource;
use crate::resource::{Rows, insert};

/// The newest of the schemas that are brought over.
pub(super) const NEWEST: i64 = 7;
/// Runs of schemas before this one are dropped.
pub(super) const RUNS_SINCE: i64 = 12;
/// What was computed or made of records.
const DERIVED: [(&str, &str); 6] = [
    ("findings", "findings"),
    ("run_assumptions", ""),
    ("run_chunks", ""),
    ("run_inputs", ""),
    ("runs", "runs"),
    ("report_files", ""),
];

/// A record of an older schema, with its times.
struct Old<R> {
    record: R,
    times: (i64, i64),
}

/// What a database held before.
pub(super) struct Older {
    sensors: Vec<Old<SensorRecord>>,
    spots: Vec<Old<SpotRecord>>,
    shelters: Vec<Old<ShelterRecord>>,
    targets: Vec<Old<TargetRecord>>,
    units: Vec<Old<Unit>>,
    bookings: Vec<Old<Booking>>,
    checks: Vec<Old<UnitCheck>>,
    surveys: Vec<Old<BeamSurvey>>,
    kept: Vec<String>,
}

/// Takes everything that stays out of an older schema, and drops the schema.
pub(super) async fn take(connection: &mut SqliteConnection) -> Result<Older, StoreError> {
    let older = Older {
        sensors: records(connection, sensor).await?,
        spots: records(connection, spot).await?,
        shelters: records(connection, shelter).await?,
        targets: records(connection, target).await?,
        units: records(connection, unit).await?,
        bookings: records(connection, booking).await?,
        checks: records(connection, check).await?,
        surveys: records(connection, survey).await?,
        kept: Vec::new(),
    };
    let mut dropped = Vec::new();
    for (table, called) in DERIVED.into_iter().chain([("reports", "reports"), ("documents", "derived documents")]) {
        if !exists(connection, table).await? {
            continue;
        }
        if !called.is_empty() {
            let count: i64 = scalar(connection, &format!("SELECT count(*) FROM {table}")).await?;
            if count > 0 {
                dropped.push(format!("{count} {called}"));
            }
        }
        run(connection, &format!("DROP TABLE {table}")).await?;
    }
    warn(&dropped);
    for table in ["sensors", "spots", "shelters", "targets", "units", "bookings", "unitChecks", "beamSurveys"] {
        run(connection, &format!("DROP TABLE IF EXISTS {table}")).await?;
    }
    let mut kept = Vec::new();
    for table in ["audit", "tokens"] {
        if exists(connection, table).await? {
            run(connection, &format!("ALTER TABLE {table} RENAME TO older_{table}")).await?;
            kept.push(table.to_owned());
        }
    }
    run(connection, "DELETE FROM _sqlx_migrations").await?;
    Ok(Older { kept, ..older })
}

/// Says how many runs the migration to [`RUNS_SINCE`] drops.
pub(super) async fn tell_of_runs(connection: &mut SqliteConnection) -> Result<(), StoreError> {
    let count: i64 = scalar(connection, "SELECT count(*) FROM runs").await?;
    warn(&if count > 0 { vec![format!("{count} runs")] } else { Vec::new() });
    Ok(())
}

fn warn(dropped: &[String]) {
    if !dropped.is_empty() {
        tracing::warn!(
            "the database is of an older version: its records are kept, and {} are dropped, as they were computed in another way; compute them again",
            dropped.join(", ")
        );
    }
}

/// Puts what was taken out into the new schema.
pub(super) async fn put(connection: &mut SqliteConnection, older: Older) -> Result<(), StoreError> {
    for table in older.kept {
        run(connection, &format!("INSERT INTO {table} SELECT * FROM older_{table}")).await?;
        run(connection, &format!("DROP TABLE older_{table}")).await?;
    }
    insert_all(connection, older.sensors).await?;
    insert_all(connection, older.spots).await?;
    insert_all(connection, older.shelters).await?;
    insert_all(connection, older.targets).await?;
    insert_all(connection, older.units).await?;
    insert_all(connection, older.bookings).await?;
    insert_all(connection, older.checks).await?;
    insert_all(connection, older.surveys).await
}

async fn insert_all<R: Resource>(connection: &mut SqliteConnection, records: Vec<Old<R>>) -> Result<(), StoreError> {
    for Old { record, times } in records {
        insert::<R>(connection, Rows::of(&record), times).await.map_err(StoreError::Database)?;
    }
    Ok(())
}

async fn run(connection: &mut SqliteConnection, sql: &str) -> Result<(), StoreError> {
    sqlx::query(AssertSqlSafe(sql)).execute(connection).await.map(drop).map_err(StoreError::Database)
}

async fn scalar(connection: &mut SqliteConnection, sql: &str) -> Result<i64, StoreError> {
    sqlx::query_scalar(AssertSqlSafe(sql)).fetch_one(connection).await.map_err(StoreError::Database)
}

async fn exists(connection: &mut SqliteConnection, table: &str) -> Result<bool, StoreError> {
    let found: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = ?")
        .bind(table)
        .fetch_one(connection)
        .await
        .map_err(StoreError::Database)?;
    Ok(found > 0)
}

async fn records<R: Record>(
    connection: &mut SqliteConnection,
    read: fn(&Value) -> Option<R>,
) -> Result<Vec<Old<R>>, StoreError> {
    let mut found = Vec::new();
    if !exists(connection, R::COLLECTION).await? {
        return Ok(found);
    }
    let sql = format!("SELECT id, body, create_time, update_time FROM {}", R::COLLECTION);
    for row in sqlx::query(AssertSqlSafe(sql)).fetch_all(connection).await.map_err(StoreError::Database)? {
        let (id, body): (String, String) = (get(&row, 0)?, get(&row, 1)?);
        let value: Option<Value> = serde_json::from_str(&body).ok();
        let record = value.as_ref().and_then(read).ok_or_else(|| {
            StoreError::BadRecord(format!("{}/{id} of the older version cannot be read", R::COLLECTION))
        })?;
        found.push(Old { record, times: (get(&row, 2)?, get(&row, 3)?) });
    }
    Ok(found)
}

fn get<'r, T: sqlx::Decode<'r, sqlx::Sqlite> + sqlx::Type<sqlx::Sqlite>>(
    row: &'r sqlx::sqlite::SqliteRow,
    at: usize,
) -> Result<T, StoreError> {
    row.try_get(at).map_err(StoreError::Database)
}

fn text(body: &Value, field: &str) -> Option<String> {
    body.get(field)?.as_str().map(str::to_owned)
}

fn id(body: &Value, field: &str) -> Option<Id> {
    Id::parse(body.get(field)?.as_str()?).ok()
}

fn number(body: &Value, field: &str) -> Option<f64> {
    body.get(field)?.as_f64()
}

fn whole(body: &Value, field: &str) -> Option<u32> {
    body.get(field)?.as_u64()?.try_into().ok()
}

fn choice<T: Copy>(body: &Value, field: &str, choices: &[(&'static str, T)]) -> Option<T> {
    named(choices, body.get(field)?.as_str()?)
}

/// A figure of a sensor: value and provenance, in the canonical unit. One that is assumed and equals the default was left out.
fn figure(body: &Value, field: &str, scale: Scale) -> Figure {
    let fact = body.get(field)?;
    Some(Given { value: scale.from_si(number(fact, "value")?), spread: None, source: provenance(fact)? })
}

fn provenance(fact: &Value) -> Option<Provenance> {
    choice(fact, "provenance", &PROVENANCES)
}

/// What of a figure was put in for one that was left out is not given.
fn unless(figure: Figure, default: f64) -> Figure {
    figure.filter(|given| given.source != Provenance::Assumed || given.value.total_cmp(&default).is_ne())
}

fn sensor(body: &Value) -> Option<SensorRecord> {
    let scale = choice(body, "dial_scale", &DIAL_SCALES)?;
    let points = body
        .get("dial_points")?
        .as_array()?
        .iter()
        .map(|point| Some(DialPoint { position: point.get(0)?.as_f64()?, gain: Db::new(point.get(1)?.as_f64()?) }));
    let price = body.get("price").filter(|price| !price.is_null());
    Some(SensorRecord {
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        price: match price {
            Some(price) => Some((price.get("units")?.as_i64()?, price.get("nanos")?.as_i64()?.try_into().ok()?)),
            None => None,
        },
        currency: price.and_then(|price| text(price, "currency")).unwrap_or_default(),
        threshold_db: figure(body, "threshold_db", Scale::One),
        max_gain_db: figure(body, "max_gain_db", Scale::One),
        dial_scale: Some(scale),
        dial_points: points.collect::<Option<_>>()?,
        receiver_noise_db: unless(figure(body, "receiver_noise_db", Scale::One), 6.0),
        ping_interval_ms: unless(figure(body, "ping_interval_s", Scale::Milliseconds), 100.0),
        ping_jitter_percent: unless(figure(body, "ping_jitter", Scale::Percent), 0.0),
        confirm_marks: whole(body, "confirm_marks"),
        confirm_pings: whole(body, "confirm_pings"),
        options: body.get("options")?.as_array()?.iter().map(option).collect::<Option<_>>()?,
        ..SensorRecord::blank(id(body, "id")?)
    })
}

fn option(body: &Value) -> Option<OptionRecord> {
    let source = body.get("source")?;
    let power = source.get("power");
    let mut option = OptionRecord {
        display_name: text(body, "display_name")?,
        frequency_khz: figure(body, "frequency_hz", Scale::Kilohertz),
        floor_db: unless(figure(body, "floor_db", Scale::One), -40.0),
        source_level_db: figure(source, "level_db", Scale::One),
        electrical_power_w: power.and_then(|power| figure(power, "electrical_w", Scale::One)),
        efficiency_percent: unless(power.and_then(|power| figure(power, "efficiency", Scale::Percent)), 50.0),
        pulse_length_us: figure(body, "pulse_length_s", Scale::Microseconds),
        sweep_bandwidth_khz: figure(body, "sweep_bandwidth_hz", Scale::Kilohertz),
        receiver_bandwidth_khz: figure(body, "receiver_bandwidth_hz", Scale::Kilohertz),
        ..OptionRecord::blank(id(body, "id")?)
    };
    let (shape, pattern) = body.get("pattern")?.as_object()?.iter().next()?;
    option.shape = named(&domain::sensor::BEAM_SHAPES, shape);
    let width = |field: &str| -> Option<(Figure, Option<WidthLevel>)> {
        let width = pattern.get(field)?;
        let level = match width.get("at")?.as_str()? {
            "minus3" => WidthLevel::Minus3,
            "minus10" => WidthLevel::Minus10,
            _ => return None,
        };
        let value = Scale::Degrees.from_si(number(width, "full_rad")?);
        Some((Some(Given { value, spread: None, source: provenance(width)? }), Some(level)))
    };
    match option.shape? {
        BeamShape::CircularPiston => (option.beamwidth_deg, option.beamwidth_level) = width("beamwidth")?,
        BeamShape::ShadedCircular => {
            (option.beamwidth_deg, option.beamwidth_level) = width("beamwidth")?;
            option.peak_side_lobe_db = figure(pattern, "peak_side_lobe_db", Scale::One);
        }
        BeamShape::Rectangular => {
            (option.beamwidth_deg, option.beamwidth_level) = width("along")?;
            option.cross_beamwidth_deg = width("across")?.0;
        }
        BeamShape::Tabulated => {
            option.pattern_provenance = provenance(pattern);
            let points = pattern.get("points_rad_db")?.as_array()?.iter().map(|point| {
                let (angle, level) = (point.get(0)?.as_f64()?, point.get(1)?.as_f64()?);
                Some(PatternPoint { angle: HalfAngle::new(angle), level: Db::new(level) })
            });
            option.pattern_points = points.collect::<Option<_>>()?;
        }
    }
    Some(option)
}

/// A spot as an object, or as the list that it was later.
fn spot(body: &Value) -> Option<SpotRecord> {
    const NAMES: [&str; 19] = [
        "id",
        "display_name",
        "lake",
        "notes",
        "position",
        "depth_m",
        "ice_thickness_m",
        "bottom_class",
        "slope_rad",
        "relief",
        "canopy",
        "fish_top_m",
        "fish_bottom_m",
        "fish_per_m3",
        "lure_height_m",
        "hole_radius_m",
        "bottom_temperature_c",
        "salinity_g_kg",
        "ph",
    ];
    let named_list = |list: &Value, names: &[&str]| match list.as_array() {
        Some(values) => {
            Value::Object(names.iter().zip(values).map(|(name, value)| ((*name).to_owned(), value.clone())).collect())
        }
        None => list.clone(),
    };
    let body = &named_list(body, &NAMES);
    let part = |field: &str, names: &[&str]| {
        body.get(field).filter(|part| !part.is_null()).map(|part| named_list(part, names))
    };
    let position = part("position", &["latitude_deg", "longitude_deg"]);
    let canopy = part("canopy", &["height_m", "density", "volume_strength_db"]);
    let relief = body.get("relief")?.as_array()?.iter().map(|entry| {
        let entry = named_list(entry, &["kind", "height_m", "offset_m"]);
        let (height, offset) = (number(&entry, "height_m")?, number(&entry, "offset_m")?);
        let kind = choice(&entry, "kind", &RELIEF_KINDS)?;
        Some(Relief { kind, height: Metres::new(height), offset: Metres::new(offset) })
    });
    Some(SpotRecord {
        display_name: text(body, "display_name")?,
        lake: text(body, "lake")?,
        notes: text(body, "notes")?,
        latitude_deg: position.as_ref().and_then(|position| number(position, "latitude_deg")),
        longitude_deg: position.as_ref().and_then(|position| number(position, "longitude_deg")),
        depth_m: number(body, "depth_m"),
        ice_thickness_m: number(body, "ice_thickness_m"),
        bottom_class: choice(body, "bottom_class", &BOTTOM_CLASSES),
        slope_deg: number(body, "slope_rad").map(|slope| Scale::Degrees.from_si(slope)),
        relief: relief.collect::<Option<_>>()?,
        canopy_height_m: canopy.as_ref().and_then(|canopy| number(canopy, "height_m")),
        canopy_density: canopy.as_ref().and_then(|canopy| choice(canopy, "density", &DENSITIES)),
        canopy_volume_strength_db: canopy.as_ref().and_then(|canopy| number(canopy, "volume_strength_db")),
        // Those schemas put defaults in where nothing was given, so that what was given is not known any more.
        fish_layer_top_m: number(body, "fish_top_m"),
        fish_layer_bottom_m: number(body, "fish_bottom_m"),
        fish_per_m3: number(body, "fish_per_m3"),
        lure_height_m: number(body, "lure_height_m"),
        hole_radius_m: number(body, "hole_radius_m"),
        bottom_temperature_c: number(body, "bottom_temperature_c"),
        salinity_g_kg: number(body, "salinity_g_kg"),
        ph: number(body, "ph"),
        ..SpotRecord::blank(id(body, "id")?)
    })
}

fn shelter(body: &Value) -> Option<ShelterRecord> {
    let floor = body.get("floor")?;
    let (rectangle, circle) = (floor.get("rectangle"), floor.get("circle"));
    let holes = body.get("holes")?;
    let drilled = holes.get("drilled").and_then(Value::as_array).into_iter().flatten().map(|hole| {
        let (x, y) = (hole.get(0)?.as_f64()?, hole.get(1)?.as_f64()?);
        Some(domain::Point { x: Metres::new(x), y: Metres::new(y) })
    });
    Some(ShelterRecord {
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        floor_length_m: rectangle.and_then(|floor| number(floor, "length_m")),
        floor_width_m: rectangle.and_then(|floor| number(floor, "width_m")),
        floor_diameter_m: circle.and_then(|floor| number(floor, "diameter_m")),
        wall_clearance_m: number(body, "wall_clearance_m"),
        min_ice_web_m: number(body, "min_ice_web_m"),
        hole_radius_m: number(body, "hole_radius_m"),
        holes: drilled.collect::<Option<_>>()?,
        party_size: whole(holes, "party"),
        transducers_recessed: body.get("transducers_recessed")?.as_bool()?,
        ..ShelterRecord::blank(id(body, "id")?)
    })
}

fn target(body: &Value) -> Option<TargetRecord> {
    let (name, shape) = body.get("shape")?.as_object()?.iter().next()?;
    let kind: Shape = named(&SHAPES, name)?;
    let mm = |field: &str| number(shape, field).map(|metres| Scale::Millimetres.from_si(metres));
    let known = shape.get("value").is_some();
    Some(TargetRecord {
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        kind: choice(body, "kind", &TARGET_KINDS),
        shape: Some(kind),
        target_strength_db: if known {
            Some(Given { value: number(shape, "value")?, spread: None, source: provenance(shape)? })
        } else {
            None
        },
        diameter_mm: mm("diameter_m"),
        length_mm: mm("length_m").filter(|_| kind == Shape::Cylinder),
        length_cm: number(shape, "length_m")
            .filter(|_| kind == Shape::Fish)
            .map(|metres| Scale::Centimetres.from_si(metres)),
        material: choice(shape, "material", &MATERIALS),
        fish_class: choice(shape, "class", &FISH_CLASSES),
        ..TargetRecord::blank(id(body, "id")?)
    })
}

fn unit(body: &Value) -> Option<Unit> {
    Some(Unit {
        id: id(body, "id")?,
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        sensor: id(body, "sensor")?,
        serial: text(body, "serial")?,
        state: choice(body, "state", &domain::unit::STATES)?,
        lent_to: None,
        back_day: None,
    })
}

fn booking(body: &Value) -> Option<Booking> {
    Some(Booking {
        id: id(body, "id")?,
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        spot: id(body, "spot")?,
        shelter: id(body, "shelter"),
        anglers: whole(body, "anglers")?,
        first_day: text(body, "first_day")?.parse().ok()?,
        last_day: text(body, "last_day")?.parse().ok()?,
        goal: Some(choice(body, "goal", &domain::goal::PRESETS)?),
        custom_goal: None,
        lure: id(body, "lure")?,
        fish: id(body, "fish")?,
        min_score: number(body, "min_score")?,
        min_headroom: Db::new(number(body, "min_headroom_db")?),
    })
}

fn check(body: &Value) -> Option<UnitCheck> {
    Some(UnitCheck {
        id: id(body, "id")?,
        unit: id(body, "unit")?,
        option: id(body, "option")?,
        target: id(body, "target")?,
        day: text(body, "day")?.parse().ok()?,
        depth: Metres::new(number(body, "depth_m")?),
        shown_at: text(body, "shown_at")?,
        bottom_temperature: Celsius::new(number(body, "bottom_temperature_c")?),
        swap: text(body, "swap")?,
        notes: text(body, "notes")?,
    })
}

fn survey(body: &Value) -> Option<BeamSurvey> {
    let readings = body.get("readings")?.as_array()?.iter().map(|reading| {
        let outcome = [
            ("seen_db", domain::SurveyOutcome::Seen as fn(Db) -> domain::SurveyOutcome),
            ("not_seen_db", domain::SurveyOutcome::NotSeen),
            ("least_gain_db", domain::SurveyOutcome::LeastGain),
        ];
        let outcome = outcome.iter().find_map(|(name, make)| number(reading, name).map(|gain| make(Db::new(gain))))?;
        let (offset, depth) = (number(reading, "offset_m")?, number(reading, "depth_m")?);
        Some(SurveyReading { offset: Metres::new(offset), depth: Metres::new(depth), outcome })
    });
    Some(BeamSurvey {
        id: id(body, "id")?,
        display_name: text(body, "display_name")?,
        notes: text(body, "notes")?,
        sensor: id(body, "sensor")?,
        option: id(body, "option")?,
        target: id(body, "target")?,
        day: text(body, "day")?.parse().ok()?,
        bottom_temperature: Celsius::new(number(body, "bottom_temperature_c")?),
        readings: readings.collect::<Option<_>>()?,
    })
}
