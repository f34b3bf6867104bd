//! Beam surveys, one row a reading: rows of one id make one survey.

use std::collections::HashMap;
use std::ops::ControlFlow;

use acoustics::units::{Celsius, Db, Metres};
use domain::{BeamSurvey, Fault, Record as _, SurveyOutcome, SurveyReading, defaults};

use super::column::Column;
use super::form::Form;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of};
use crate::exchange::{Parsed, Take};
use domain::scale::Scale;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Seen,
    NotSeen,
    LeastGain,
}

const OUTCOMES: [(&str, Outcome); 3] =
    [("seen", Outcome::Seen), ("not_seen", Outcome::NotSeen), ("least_gain", Outcome::LeastGain)];

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "narrow-jan").required(),
    Column::text("display_name", "1 to 120 characters; on the first row of a survey", "Narrow beam, January"),
    Column::text("notes", "up to 2,000 characters; on the first row", "Invented example."),
    Column::text("sensor", "id of a sensor; on the first row", "dual-9-20"),
    Column::text("option", "id of an option of it; on the first row", "narrow"),
    Column::text("target", "id of a target of kind reference; on the first row", "check-ball-38"),
    Column::text("day", "a day such as 2027-01-15; on the first row", "2027-01-15"),
    Column::figure("bottom_temperature_c", "degrees Celsius", "-2 to 40; empty: 4; on the first row", "4")
        .also_as(&[("bottom_temperature_f", Scale::Fahrenheit)]),
    Column::figure("offset_m", "metres", "-30 to 30, along the line of holes; negative on one side", "0.5")
        .required()
        .also_as(&[("offset_ft", Scale::Feet)]),
    Column::figure("depth_m", "metres", "0.5 to 200, of the target under the transducer", "6")
        .required()
        .also_as(&[("depth_ft", Scale::Feet)]),
    Column::text("outcome", "seen, not_seen or least_gain", "least_gain").required(),
    Column::figure("gain_db", "decibels", "0 to 140, over zero gain", "24.5").required(),
];

/// Columns of the survey itself; later rows of it leave them empty or say the same.
const SHARED: [&str; 7] = ["display_name", "notes", "sensor", "option", "target", "day", "bottom_temperature_c"];

impl Form for BeamSurvey {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        let mut parsed = Parsed::default();
        let mut groups: Vec<Vec<Row>> = Vec::new();
        let mut by_id: HashMap<String, usize> = HashMap::new();
        for row in table {
            parsed.rows_read += 1;
            let id = row.text("id").to_owned();
            match by_id.get(&id).and_then(|at| groups.get_mut(*at)) {
                Some(group) if !id.is_empty() => group.push(row),
                _ => {
                    by_id.insert(id, groups.len());
                    groups.push(vec![row]);
                }
            }
        }
        for mut rows in groups {
            let survey = read_survey(&mut rows);
            match (rows.first(), survey) {
                (Some(first), Some(survey)) if rows.iter().all(Row::is_sound) => {
                    parsed.records.push((first.line(), survey));
                }
                _ => parsed.faults.extend(rows.into_iter().flat_map(Row::into_faults)),
            }
        }
        take(parsed)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        for (index, reading) in self.readings.iter().enumerate() {
            let mut cells = Cells::new(COLUMNS);
            cells.set("id", self.id.as_str());
            if index == 0 {
                cells.set("display_name", &self.display_name);
                cells.set("notes", &self.notes);
                cells.set("sensor", self.sensor.as_str());
                cells.set("option", self.option.as_str());
                cells.set("target", self.target.as_str());
                cells.set("day", self.day.to_string());
                cells.set_number("bottom_temperature_c", self.bottom_temperature.get());
            }
            cells.set_number("offset_m", reading.offset.get());
            cells.set_number("depth_m", reading.depth.get());
            let outcome = match reading.outcome {
                SurveyOutcome::Seen(_) => Outcome::Seen,
                SurveyOutcome::NotSeen(_) => Outcome::NotSeen,
                SurveyOutcome::LeastGain(_) => Outcome::LeastGain,
            };
            cells.set_choice("outcome", &outcome, &OUTCOMES);
            cells.set_number("gain_db", reading.outcome.gain().get());
            rows.push(cells);
        }
    }
}

fn read_survey(rows: &mut [Row]) -> Option<BeamSurvey> {
    let readings: Vec<SurveyReading> = rows.iter_mut().filter_map(read_reading).collect();
    let (first, later) = rows.split_first_mut()?;
    for row in later.iter_mut() {
        first.same_in(row, &SHARED, "survey");
    }
    let (id, sensor) = (first.id("id"), first.reference("sensor", "sensors"));
    let (option, target) = (first.reference("option", "options"), first.reference("target", "targets"));
    let day = first.day("day");
    let display_name = first.required_text("display_name");
    let warmth = first.number("bottom_temperature_c").map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new);
    let notes = first.text("notes").to_owned();
    let survey = BeamSurvey {
        id: id?,
        display_name,
        notes,
        sensor: sensor?,
        option: option?,
        target: target?,
        day: day?,
        bottom_temperature: warmth,
        readings,
    };
    judge(rows, survey.check());
    Some(survey)
}

/// Hands each fault to the row that it belongs to.
fn judge(rows: &mut [Row], found: Vec<Fault>) {
    for fault in found {
        let inside = fault.field.strip_prefix("readings[").and_then(|rest| rest.split_once(']'));
        let (index, field) = match inside {
            Some((index, field)) => (index.parse().unwrap_or(0), field.trim_start_matches('.').to_owned()),
            None => (0_usize, fault.field.clone()),
        };
        if let Some(row) = rows.get_mut(index) {
            let own = Fault::new(field, fault.reason, fault.message.clone());
            row.judge(vec![own], |field| column_of(COLUMNS, &[("readings", "gain_db")], field));
        }
    }
}

fn read_reading(row: &mut Row) -> Option<SurveyReading> {
    let (offset, depth) = (row.required_number("offset_m"), row.required_number("depth_m"));
    let (outcome, gain) = (row.required_choice("outcome", &OUTCOMES), row.required_number("gain_db"));
    let gain = Db::new(gain);
    Some(SurveyReading {
        offset: Metres::new(offset),
        depth: Metres::new(depth),
        outcome: match outcome? {
            Outcome::Seen => SurveyOutcome::Seen(gain),
            Outcome::NotSeen => SurveyOutcome::NotSeen(gain),
            Outcome::LeastGain => SurveyOutcome::LeastGain(gain),
        },
    })
}
