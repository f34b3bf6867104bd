//! What the cells of a row say of the fields of a record.

use std::ops::ControlFlow;

use domain::field::{Field, Holds};
use domain::{Id, Record, notation};
use rayon::prelude::*;

use super::row::Row;
use crate::exchange::{Ids, PART_ROWS, Parsed, Take};

/// Rows that are in hand at once.
const ROWS_AT_ONCE: usize = 500;
/// Fewer rows are not worth the way to another thread.
const ROWS_A_THREAD: usize = 50;

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

/// Reads the cells of some fields into a record. What is refused is left as it was.
pub(super) fn read_fields<R>(row: &mut Row, fields: &[Field<R>], record: &mut R) {
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
        if is_left_open(row, field) {
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
                    row.agree_on_meaning(column, name, (field.beside, field.means));
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
                    row.agree_on_currency(column, currency.as_deref());
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

/// Whether a cell says that nobody knows. A price that is left open has no currency, whatever stands in the name of its column or beside it in
/// every row.
fn is_left_open<R>(row: &Row, field: &Field<R>) -> bool {
    let unknown = || !field.required && row.meant(field.column).is_none() && is_figure(&field.holds);
    (field.column == "currency" && row.says_nothing("price")) || (unknown() && row.says_nothing(field.column))
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
pub(super) fn column_of<R>(fields: &[Field<R>], path: &str) -> &'static str {
    let exact = fields.iter().find(|field| field.path == path);
    let inside = |field: &&Field<R>| {
        path.strip_prefix(field.path).is_some_and(|rest| rest.starts_with('[') || rest.starts_with('.'))
    };
    exact
        .or_else(|| fields.iter().find(inside))
        .or_else(|| fields.iter().find(|field| field.column == path))
        .map_or("", |field| field.column)
}
