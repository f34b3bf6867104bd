//! Records of which each row of a file holds an entry of a list.

use std::collections::HashMap;
use std::ops::ControlFlow;

use domain::field::{Holds, List};
use domain::record::sensor::OPTIONS;
use domain::survey::READINGS;
use domain::{BeamSurvey, Fault, Id, Record, SensorRecord};

use super::cells::Cells;
use super::column::{Column, columns};
use super::fields::{column_of, read_fields};
use super::form::Form;
use super::row::Row;
use super::table::Table;
use crate::exchange::{Parsed, Take};

/// One row an option, with what belongs to the sensor repeated or left empty after its first row.
impl Form for SensorRecord {
    fn columns() -> Vec<Column> {
        grouped_columns(&OPTIONS)
    }

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_grouped(table, &OPTIONS, take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        for option in &self.options {
            let mut cells = Cells::default();
            cells.of(Self::FIELDS, self);
            cells.of(OPTIONS.fields, option);
            rows.push(cells);
        }
    }
}

/// One row a reading; what belongs to the survey stands on its first row.
impl Form for BeamSurvey {
    fn columns() -> Vec<Column> {
        grouped_columns(&READINGS)
    }

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_grouped(table, &READINGS, take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        for (index, reading) in self.readings.iter().enumerate() {
            let mut cells = Cells::default();
            if index == 0 {
                cells.of(Self::FIELDS, self);
            } else {
                cells.id_of(Self::FIELDS, self);
            }
            cells.of(READINGS.fields, reading);
            rows.push(cells);
        }
    }
}

/// The columns of records of which each row holds an entry of a list.
fn grouped_columns<R: Record, E>(list: &List<R, E>) -> Vec<Column> {
    let mut all = columns(R::FIELDS);
    all.extend(columns(list.fields));
    all
}

/// Reads rows of which those of one id make one record, each with an entry of a list.
fn read_grouped<R: Record, E>(table: Table<'_>, list: &List<R, E>, take: &mut Take<'_, R>) -> ControlFlow<()> {
    let mut parsed = Parsed::default();
    let mut groups: Vec<Vec<Row>> = Vec::new();
    let mut by_id: HashMap<String, usize> = HashMap::new();
    let figures: Vec<&'static str> =
        list.fields.iter().filter(|field| matches!(field.holds, Holds::Figure { .. })).map(|f| f.column).collect();
    for row in table {
        parsed.rows_read += 1;
        let id = row.id_text();
        let mut rows = row.entries(&figures);
        match by_id.get(&id).and_then(|at| groups.get_mut(*at)) {
            // Rows without an id do not belong together.
            Some(group) if !id.is_empty() => group.append(&mut rows),
            _ => {
                by_id.insert(id, groups.len());
                groups.push(rows);
            }
        }
    }
    for mut rows in groups {
        let record = read_group(&mut rows, list);
        match rows.first() {
            Some(first) if rows.iter().all(Row::is_sound) => parsed.records.push((first.line(), record)),
            _ => parsed.faults.extend(rows.into_iter().flat_map(Row::into_faults)),
        }
    }
    take(parsed)
}

fn read_group<R: Record, E>(rows: &mut [Row], list: &List<R, E>) -> R {
    let mut record = R::blank(Id::stand_in());
    let entries = rows.iter_mut().map(|row| {
        let mut entry = (list.blank)();
        read_fields(row, list.fields, &mut entry);
        entry
    });
    let entries = entries.collect();
    if let Some((first, later)) = rows.split_first_mut() {
        for row in later.iter_mut() {
            // What belongs to the record is said once, or everywhere the same.
            first.same_in(row, R::FIELDS.iter().skip(1).map(|field| field.column));
        }
        read_fields(first, R::FIELDS, &mut record);
    }
    (list.set)(&mut record, entries);
    judge(rows, record.check(), list);
    record
}

/// Hands each fault to the row that it belongs to.
fn judge<R: Record, E>(rows: &mut [Row], found: Vec<Fault>, list: &List<R, E>) {
    let mut by_row: Vec<Vec<Fault>> = rows.iter().map(|_| Vec::new()).collect();
    let mut shared = Vec::new();
    for fault in found {
        let inside = fault.field.strip_prefix(list.path).and_then(|rest| rest.strip_prefix('['));
        let entry = inside.and_then(|rest| rest.split_once(']')).map(|(index, rest)| (index.parse::<usize>(), rest));
        match entry.and_then(|(index, rest)| Some((by_row.get_mut(index.ok()?)?, rest))) {
            Some((faults, rest)) => {
                faults.push(Fault::new(rest.trim_start_matches('.'), fault.reason, fault.message.clone()));
            }
            None => shared.push(fault),
        }
    }
    if let Some(first) = rows.first_mut() {
        first.judge(shared, |field| column_of(R::FIELDS, field));
    }
    for (row, faults) in rows.iter_mut().zip(by_row) {
        row.judge(faults, |field| column_of(list.fields, field));
    }
}
