//! Sensors: one row an option, with what belongs to the sensor repeated or left empty after its first row.

use std::collections::HashMap;
use std::ops::ControlFlow;

use acoustics::units::{Db, Level, Seconds};
use domain::sensor::DIAL_SCALES;
use domain::{Confirmation, DialScale, Fault, GainDial, Money, Sensor, defaults, notation};

use super::column::Column;
use super::form::Form;
use super::provenance::Marks;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, option};
use crate::exchange::{Parsed, Take};
use domain::scale::Scale;

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "two-beam").required(),
    Column::text("display_name", "1 to 120 characters", "Two-beam sensor").required(),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::text("price", "an amount, 0 or more, with currency; empty: not for sale", "129.00"),
    Column::text("currency", "three capital letters of ISO 4217, where a price is given", "EUR"),
    Column::figure("threshold_db", "dB re 1 µPa", "60 to 240, the level that just makes a mark at zero gain", "150")
        .required(),
    Column::figure("max_gain_db", "dB", "above 0 to 140", "70").required(),
    Column::text("dial_scale", "clock_hour, percent or step", "clock_hour").required(),
    Column::text(
        "dial_points",
        "2 to 64 of position=gain in dB, rising, blanks between, such as 7:00=0 12:00=40 5:00=70",
        "7:00=0 12:00=40 5:00=70",
    )
    .required(),
    Column::figure("receiver_noise_db", "dB over thermal noise", "0 to 60; empty: 6, assumed", "6"),
    Column::figure("ping_interval_ms", "milliseconds", "1 to 10,000; empty: 100, assumed", "100")
        .scaled(Scale::Milliseconds),
    Column::figure("ping_jitter_percent", "per cent of the interval", "0 to 50; empty: 0, assumed", "0")
        .scaled(Scale::Percent),
    Column::figure("confirm_marks", "", "a whole number from 1 to confirm_pings; empty: 1", "1"),
    Column::figure("confirm_pings", "", "a whole number from 1 to 10; empty: 1", "1"),
    Column::text("option_id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "narrow").required(),
    Column::text("option_display_name", "up to 120 characters", "14° at 180 kHz"),
    Column::figure("frequency_khz", "kilohertz", "10 to 2,000", "180").required().scaled(Scale::Kilohertz),
    Column::text("shape", "circular_piston, shaded_circular, rectangular or tabulated", "circular_piston").required(),
    Column::figure("beamwidth_deg", "degrees, full angle", "1 to 180; required unless the shape is tabulated", "14")
        .scaled(Scale::Degrees),
    Column::text("beamwidth_level", "minus_3_db or minus_10_db; required unless the shape is tabulated", "minus_3_db"),
    Column::figure("cross_beamwidth_deg", "degrees, full angle", "1 to 180; required for a rectangular shape", "")
        .scaled(Scale::Degrees),
    Column::figure("peak_side_lobe_db", "dB relative to the axis", "-40 to -20; required for shaded_circular", ""),
    Column::text(
        "pattern_points",
        "3 to 361 of angle in degrees=level in dB, rising from 0=0, blanks between; required for tabulated",
        "",
    ),
    Column::figure("floor_db", "dB relative to the axis", "-80 to -10; empty: -40, assumed", "-40"),
    Column::figure("source_level_db", "dB re 1 µPa m", "120 to 260; or else electrical_power_w", ""),
    Column::figure("electrical_power_w", "watts, rms in the pulse", "above 0 to 10,000; or else source_level_db", "40"),
    Column::figure("efficiency_percent", "per cent", "above 0 to 100; empty with a power: 50, assumed", "50")
        .scaled(Scale::Percent),
    Column::figure("pulse_length_us", "microseconds", "5 to 10,000", "100").required().scaled(Scale::Microseconds),
    Column::figure("sweep_bandwidth_khz", "kilohertz", "above 0 to 2,000; empty: an unmodulated pulse", "")
        .scaled(Scale::Kilohertz),
    Column::figure(
        "receiver_bandwidth_khz",
        "kilohertz",
        "above 0 to 2,000; empty: the larger of 1/pulse length and the sweep, assumed",
        "10",
    )
    .scaled(Scale::Kilohertz),
    Column::text("measured", "names of columns whose figures were measured; a figure is stated otherwise", ""),
    Column::text("assumed", "names of columns whose figures are assumed", "efficiency_percent receiver_noise_db"),
];

/// Columns that belong to the sensor; later rows of it leave them empty or say the same.
const SHARED: [&str; 13] = [
    "display_name",
    "notes",
    "price",
    "currency",
    "threshold_db",
    "max_gain_db",
    "dial_scale",
    "dial_points",
    "receiver_noise_db",
    "ping_interval_ms",
    "ping_jitter_percent",
    "confirm_marks",
    "confirm_pings",
];

/// Columns of figures of the sensor itself, which `measured` and `assumed` may name.
const FACTS: [&str; 5] =
    ["threshold_db", "max_gain_db", "receiver_noise_db", "ping_interval_ms", "ping_jitter_percent"];

/// Fields whose columns are named otherwise.
const OWN: [(&str, &str); 2] = [("price.currency_code", "currency"), ("options", "option_id")];
const OWN_OF_OPTION: [(&str, &str); 1] = [("display_name", "option_display_name")];

impl Form for Sensor {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        let mut parsed = Parsed::default();
        let mut groups: Vec<Vec<Row>> = Vec::new();
        let mut by_id: HashMap<String, usize> = HashMap::new();
        for row in table {
            parsed.rows_read += 1;
            let id = row.text("id").to_owned();
            match by_id.get(&id).and_then(|at| groups.get_mut(*at)) {
                // Rows without an id do not belong together.
                Some(group) if !id.is_empty() => group.push(row),
                _ => {
                    by_id.insert(id, groups.len());
                    groups.push(vec![row]);
                }
            }
        }
        for mut rows in groups {
            let sensor = read_sensor(&mut rows);
            match (rows.first(), sensor) {
                (Some(first), Some(sensor)) if rows.iter().all(Row::is_sound) => {
                    parsed.records.push((first.line(), sensor));
                }
                _ => parsed.faults.extend(rows.into_iter().flat_map(Row::into_faults)),
            }
        }
        take(parsed)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        for option in &self.options {
            let mut cells = Cells::new(COLUMNS);
            let mut marks = Marks::default();
            write_shared(self, &mut cells, &mut marks);
            option::write(option, &mut cells, &mut marks);
            marks.write(&mut cells);
            rows.push(cells);
        }
    }
}

/// Reads a sensor from its rows.
fn read_sensor(rows: &mut [Row]) -> Option<Sensor> {
    let all: Vec<_> = FACTS.iter().chain(&option::FACTS).copied().collect();
    let marks: Vec<_> = rows.iter_mut().map(|row| Marks::read(row, &all)).collect();
    let options = rows.iter_mut().zip(&marks).filter_map(|(row, marks)| option::read(row, marks)).collect();
    let (first, later) = rows.split_first_mut()?;
    for row in later.iter_mut() {
        // A sensor has one price, one dial and so on.
        first.same_in(row, &SHARED, "sensor");
    }
    let mut shared = Marks::default();
    for marks in &marks {
        shared.join(marks);
    }
    let scale = first.required_choice("dial_scale", &DIAL_SCALES);
    let sensor = Sensor {
        id: first.id("id")?,
        display_name: first.required_text("display_name"),
        notes: first.text("notes").to_owned(),
        price: price(first),
        options,
        threshold: shared.required_fact(first, "threshold_db", Level::new),
        max_gain: shared.required_fact(first, "max_gain_db", Db::new),
        dial: GainDial { scale: scale.unwrap_or(DialScale::Step), points: dial_points(first, scale) },
        receiver_noise: shared.fact(first, "receiver_noise_db", Db::new).unwrap_or(defaults::RECEIVER_NOISE),
        ping_interval: shared.fact(first, "ping_interval_ms", Seconds::new).unwrap_or(defaults::PING_INTERVAL),
        ping_jitter: shared.fact(first, "ping_jitter_percent", |share| share).unwrap_or(defaults::PING_JITTER),
        confirmation: Confirmation {
            marks: first.whole("confirm_marks").unwrap_or(defaults::CONFIRMATION.marks),
            pings: first.whole("confirm_pings").unwrap_or(defaults::CONFIRMATION.pings),
        },
    };
    judge(rows, sensor.check());
    Some(sensor)
}

/// Hands each fault to the row that it belongs to.
fn judge(rows: &mut [Row], found: Vec<Fault>) {
    let mut by_row: Vec<Vec<Fault>> = rows.iter().map(|_| Vec::new()).collect();
    let mut shared = Vec::new();
    for fault in found {
        match of_option(&fault.field) {
            Some((index, field)) => {
                if let Some(faults) = by_row.get_mut(index) {
                    faults.push(Fault::new(field, fault.reason, fault.message.clone()));
                }
            }
            None => shared.push(fault),
        }
    }
    if let Some(first) = rows.first_mut() {
        first.judge(shared, |field| column_of(COLUMNS, &OWN, field));
    }
    for (row, faults) in rows.iter_mut().zip(by_row) {
        row.judge(faults, |field| column_of(COLUMNS, &OWN_OF_OPTION, field));
    }
}

/// `options[2].frequency_khz` as 2 and `frequency_khz`.
fn of_option(field: &str) -> Option<(usize, &str)> {
    let (index, rest) = field.strip_prefix("options[")?.split_once(']')?;
    Some((index.parse().ok()?, rest.trim_start_matches('.')))
}

fn price(row: &mut Row) -> Option<Money> {
    let (units, nanos) = row.notation("price", notation::read_price)?;
    let currency = row.text("currency").to_owned();
    if currency.is_empty() {
        row.missing("currency");
    }
    Some(Money { currency: if currency.is_empty() { "EUR".to_owned() } else { currency }, units, nanos })
}

fn dial_points(row: &mut Row, scale: Option<DialScale>) -> Vec<domain::DialPoint> {
    if row.text("dial_points").is_empty() {
        row.missing("dial_points");
    }
    // Positions mean nothing without their scale.
    scale
        .and_then(|scale| row.notation("dial_points", |text, numbers| notation::read_dial(text, scale, numbers)))
        .unwrap_or_default()
}

fn write_shared(sensor: &Sensor, cells: &mut Cells, marks: &mut Marks) {
    cells.set("id", sensor.id.as_str());
    cells.set("display_name", &sensor.display_name);
    cells.set("notes", &sensor.notes);
    if let Some(price) = &sensor.price {
        cells.set("price", notation::write_price((price.units, price.nanos)));
        cells.set("currency", &price.currency);
    }
    marks.set(cells, "threshold_db", &sensor.threshold, Level::get);
    marks.set(cells, "max_gain_db", &sensor.max_gain, Db::get);
    cells.set_choice("dial_scale", &sensor.dial.scale, &DIAL_SCALES);
    cells.set("dial_points", notation::write_dial(&sensor.dial.points, sensor.dial.scale));
    marks.set(cells, "receiver_noise_db", &sensor.receiver_noise, Db::get);
    marks.set(cells, "ping_interval_ms", &sensor.ping_interval, Seconds::get);
    marks.set(cells, "ping_jitter_percent", &sensor.ping_jitter, |share| share);
    cells.set("confirm_marks", sensor.confirmation.marks.to_string());
    cells.set("confirm_pings", sensor.confirmation.pings.to_string());
}
