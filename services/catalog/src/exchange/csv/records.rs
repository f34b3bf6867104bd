//! Records from rows and back, by the tables of their fields.

use std::collections::HashMap;
use std::ops::ControlFlow;

use domain::field::{Field, Holds, List};
use domain::record::sensor::OPTIONS;
use domain::survey::READINGS;
use domain::{
    BeamSurvey, Booking, Fault, Id, Record, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck,
    notation,
};
use rayon::prelude::*;

use super::cells::Cells;
use super::column::{Column, columns};
use super::form::Form;
use super::row::Row;
use super::table::Table;
use crate::exchange::{Ids, PART_ROWS, Parsed, Take};

/// Rows that are in hand at once.
const ROWS_AT_ONCE: usize = 500;
/// Fewer rows are not worth the way to another thread.
const ROWS_A_THREAD: usize = 50;

impl Form for SpotRecord {}
impl Form for ShelterRecord {}
impl Form for TargetRecord {}
impl Form for Unit {}
impl Form for UnitCheck {}
impl Form for Booking {}

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

/// Reads rows of which each is a record. To split a file into rows is for one thread; what a row says is for as many as there are.
pub(crate) fn read_each<R: Record>(mut rows: impl Iterator<Item = Row>, take: &mut Take<'_, R>) -> ControlFlow<()> {
    let understood = |row: &mut Row| {
        let mut record = R::blank(Id::stand_in());
        read_fields(row, R::FIELDS, &mut record);
        row.judge(record.check(), |field| column_of(R::FIELDS, field));
        record
    };
    let empty = || Parsed { checked: true, ..Parsed::default() };
    let mut part = empty();
    let mut ids = Ids::default();
    let mut batch = Vec::with_capacity(ROWS_AT_ONCE);
    let mut records = Vec::with_capacity(ROWS_AT_ONCE);
    loop {
        batch.extend(rows.by_ref().take(ROWS_AT_ONCE));
        if batch.is_empty() {
            return take(part);
        }
        batch.par_iter_mut().with_min_len(ROWS_A_THREAD).map(understood).collect_into_vec(&mut records);
        for (mut row, record) in batch.drain(..).zip(records.drain(..)) {
            if part.records.len() + part.faults.len() >= PART_ROWS {
                take(std::mem::replace(&mut part, empty()))?;
            }
            part.rows_read += 1;
            if row.id_text() == record.id().as_str()
                && let Some(first) = ids.note(record.id(), row.line(), true)
            {
                row.refuse_twice("id", first);
            }
            if row.is_sound() {
                part.records.push((row.line(), record));
                continue;
            }
            part.faults.append(&mut row.into_faults());
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

/// Reads the cells of some fields into a record. What is refused is left as it was.
fn read_fields<R>(row: &mut Row, fields: &[Field<R>], record: &mut R) {
    let mut before = "";
    let mut of_price = None;
    for (at, field) in fields.iter().enumerate() {
        let column = field.column;
        if column == before {
            continue;
        }
        before = column;
        let shared = fields.get(at + 1).is_some_and(|next| next.column == column);
        if row.text(column).is_empty() {
            leave_out(row, field, record, of_price.take_if(|_| column == "currency"));
            continue;
        }
        if !field.required && row.meant(column).is_none() && is_figure(&field.holds) && row.says_nothing(column) {
            continue;
        }
        match &field.holds {
            Holds::Id { set, .. } => {
                if let Some(id) = row.id(column) {
                    set(record, id);
                }
            }
            Holds::Text { set, .. } | Holds::Notes { set, .. } => set(record, row.text(column).to_owned()),
            Holds::Reference { collection, set, .. } => {
                if let Some(id) = row.reference(column, collection) {
                    set(record, id);
                }
            }
            Holds::Figure { set, accepted, .. } => {
                if let Some(given) = row.notation(column, notation::read_figure)
                    && row.within(column, *accepted)
                {
                    set(record, Some(given));
                }
            }
            Holds::Number { set, accepted, .. } => match row.meant(column) {
                // A word for a height may stand for a flag beside it.
                Some(meant) => raise(fields, meant, record),
                None => {
                    if let Some(value) = row.number(column)
                        && (shared || row.within(column, *accepted))
                    {
                        set(record, value);
                    }
                }
            },
            Holds::Whole { set, .. } => {
                if let Some(value) = row.whole(column) {
                    set(record, value);
                }
            }
            Holds::Choice { names, set, .. } => {
                if let Some(name) = row.choice(column, names) {
                    set(record, name);
                }
            }
            Holds::Flag { set, .. } => {
                if let Some(flag) = row.flag(column) {
                    set(record, flag);
                }
            }
            Holds::Day { set, .. } => {
                if let Some(day) = row.day(column) {
                    set(record, day);
                }
            }
            Holds::Amount { set, .. } => {
                if let Some((amount, currency)) = row.notation(column, notation::read_money) {
                    set(record, amount);
                    of_price = currency;
                }
            }
            Holds::List { read, .. } => {
                row.notation(column, |text, numbers| read(record, text, numbers));
            }
        }
    }
}

/// Fills in for an empty cell what other cells say: an id from names, a currency from a price, what a figure means from the words beside it.
fn leave_out<R>(row: &mut Row, field: &Field<R>, record: &mut R, currency: Option<String>) {
    if let Holds::Choice { set, .. } = &field.holds
        && let Some(name) = row.said_beside(field.beside, field.means)
    {
        return set(record, name);
    }
    match (&field.holds, row.made_id(field.column), currency) {
        (Holds::Id { set, .. }, Some(id), _) => set(record, id),
        (Holds::Text { set, .. }, _, Some(currency)) => set(record, currency),
        _ if field.required => row.missing(field.column),
        _ => {}
    }
}

/// Whether a field may hold a figure or a choice, of which nobody may know anything.
const fn is_figure<R>(holds: &Holds<R>) -> bool {
    matches!(
        holds,
        Holds::Figure { .. } | Holds::Number { .. } | Holds::Whole { .. } | Holds::Choice { .. } | Holds::Amount { .. }
    )
}

/// Raises a flag of a record; the word for nothing given raises none.
fn raise<R>(fields: &[Field<R>], column: &str, record: &mut R) {
    if let Some(Holds::Flag { set, .. }) = fields.iter().find(|field| field.column == column).map(|field| &field.holds)
    {
        set(record, true);
    }
}

/// The column of a field of the public API: `canopy.height_m` stands in `canopy_height_m`, `relief[0].offset_m` in `relief`.
fn column_of<R>(fields: &[Field<R>], path: &str) -> &'static str {
    let exact = fields.iter().find(|field| field.path == path);
    let inside = |field: &&Field<R>| {
        path.strip_prefix(field.path).is_some_and(|rest| rest.starts_with('[') || rest.starts_with('.'))
    };
    exact
        .or_else(|| fields.iter().find(inside))
        .or_else(|| fields.iter().find(|field| field.column == path))
        .map_or("", |field| field.column)
}
