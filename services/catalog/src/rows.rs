//! Records as rows: a column a field, in the unit that its name ends with, and a row an entry of a list. The tables of the
//! records say which columns there are; how the database has them stands in `migrations`, and a test compares the two.

use domain::Id;
use domain::field::{Field, Given, Holds, List, Value, name_of, named};
use domain::sensor::PROVENANCES;
use jiff::Timestamp;
use sqlx::sqlite::{SqliteArguments, SqliteRow};
use sqlx::{Row as _, Sqlite, TypeInfo as _, ValueRef as _};

use crate::error::StoreError;

pub(crate) type Query<'q> = sqlx::query::Query<'q, Sqlite, SqliteArguments>;

/// Values of a row.
pub(crate) type Values = Vec<Value>;

/// The columns of some fields: one a field, but for figures, which have their spread and their source beside them, and for
/// amounts. A figure without a source is stated.
pub(crate) fn columns<R>(fields: &[Field<R>]) -> Vec<String> {
    let mut columns: Vec<String> = Vec::with_capacity(fields.len());
    for field in fields {
        // What shares a column stands side by side.
        if columns.last().is_some_and(|last| last == field.column) {
            continue;
        }
        let name = |end: &str| format!("{}{end}", field.column);
        match field.holds {
            Holds::List { .. } => {}
            Holds::Figure { .. } => columns.extend([name(""), name("_spread"), name("_source")]),
            Holds::Amount { .. } => columns.extend([name("_units"), name("_nanos")]),
            Holds::Id { .. }
            | Holds::Text { .. }
            | Holds::Notes { .. }
            | Holds::Reference { .. }
            | Holds::Number { .. }
            | Holds::Whole { .. }
            | Holds::Choice { .. }
            | Holds::Flag { .. }
            | Holds::Day { .. } => columns.push(name("")),
        }
    }
    columns
}

/// The values of a record, in the order of the columns.
pub(crate) fn values<R>(fields: &[Field<R>], record: &R) -> Values {
    let mut values: Values = Vec::with_capacity(fields.len() + 4);
    let mut before = "";
    for field in fields {
        let real = |value: Option<f64>| value.map_or(Value::Null, Value::Real);
        let text = |text: Option<&str>| text.map_or(Value::Null, |text| Value::Text(text.to_owned()));
        let value = match &field.holds {
            Holds::List { .. } => continue,
            Holds::Figure { get, .. } => {
                let given = get(record);
                let source = given
                    .map(|given| given.source)
                    .and_then(|source| name_of(&PROVENANCES, &source).filter(|_| source != domain::Provenance::Stated));
                values.extend([
                    real(given.map(|given| given.value)),
                    real(given.and_then(|given| given.spread)),
                    text(source),
                ]);
                continue;
            }
            Holds::Amount { get, .. } => {
                let whole = |part: Option<i64>| part.map_or(Value::Null, Value::Whole);
                let amount = get(record);
                values.extend([whole(amount.map(|a| a.0)), whole(amount.map(|a| i64::from(a.1)))]);
                continue;
            }
            Holds::Id { get, .. } => text(Some(get(record).as_str())),
            Holds::Text { get, .. } | Holds::Notes { get, .. } => text(Some(get(record))),
            Holds::Reference { get, .. } => text(get(record).map(Id::as_str)),
            Holds::Number { get, .. } => real(get(record)),
            Holds::Whole { get, .. } => get(record).map_or(Value::Null, |value| Value::Whole(value.into())),
            Holds::Choice { get, .. } => text(get(record)),
            Holds::Flag { get, .. } => Value::Whole(get(record).into()),
            Holds::Day { get, .. } => get(record).map_or(Value::Null, |day| Value::Text(day.to_string())),
        };
        match values.last_mut() {
            Some(shared) if before == field.column => {
                if *shared == Value::Null {
                    *shared = value;
                }
            }
            _ => values.push(value),
        }
        before = field.column;
    }
    values
}

/// Puts values into a record, in the order of the columns.
pub(crate) fn fill<R>(fields: &[Field<R>], record: &mut R, values: Values) -> Result<(), StoreError> {
    let mut values = values.into_iter();
    let mut before = "";
    for field in fields {
        if before == field.column {
            continue;
        }
        before = field.column;
        let mut next = || values.next().ok_or_else(|| bad(field.column, "has no value"));
        match &field.holds {
            Holds::List { .. } => {}
            Holds::Figure { set, .. } => {
                let (value, spread, source) = (real(&next()?), real(&next()?), next()?);
                let source = match source {
                    Value::Text(name) => named(&PROVENANCES, &name).ok_or_else(|| bad(field.column, &name))?,
                    Value::Null | Value::Real(_) | Value::Whole(_) => domain::Provenance::Stated,
                };
                set(record, value.map(|value| Given { value, spread, source }));
            }
            Holds::Amount { set, .. } => {
                if let (Value::Whole(units), Value::Whole(nanos)) = (next()?, next()?) {
                    set(record, (units, i32::try_from(nanos).map_err(|_| bad(field.column, "is no amount"))?));
                }
            }
            Holds::Id { set, .. } | Holds::Reference { set, .. } => {
                if let Value::Text(text) = next()? {
                    set(record, Id::parse(&text).map_err(|error| StoreError::BadRecord(error.to_string()))?);
                }
            }
            Holds::Text { set, .. } | Holds::Notes { set, .. } => {
                if let Value::Text(text) = next()? {
                    set(record, text);
                }
            }
            Holds::Number { set, .. } => {
                if let Some(value) = real(&next()?) {
                    set(record, value);
                }
            }
            Holds::Whole { set, .. } => {
                if let Value::Whole(value) = next()? {
                    set(record, u32::try_from(value).map_err(|_| bad(field.column, "is no count"))?);
                }
            }
            Holds::Choice { set, names, .. } => {
                if let Value::Text(name) = next()? {
                    if !names.contains(&name.as_str()) {
                        return Err(bad(field.column, &name));
                    }
                    set(record, &name);
                }
            }
            Holds::Flag { set, .. } => set(record, next()? == Value::Whole(1)),
            Holds::Day { set, .. } => {
                if let Value::Text(text) = next()? {
                    set(record, text.parse().map_err(|_| bad(field.column, &text))?);
                }
            }
        }
    }
    Ok(())
}

fn real(value: &Value) -> Option<f64> {
    match value {
        Value::Real(value) => Some(*value),
        // A whole number that was written by hand.
        #[allow(clippy::cast_precision_loss, reason = "figures of records are far smaller")]
        Value::Whole(value) => Some(*value as f64),
        Value::Null | Value::Text(_) => None,
    }
}

fn bad(column: &str, problem: &str) -> StoreError {
    StoreError::BadRecord(format!("{column}: {problem}"))
}

/// A list of a record as a table of its own: the record's id, the place in the list, and a column a field.
pub trait Entries<R>: Sync {
    /// Path of the list in the public API.
    fn path(&self) -> &'static str;
    /// The columns of its fields.
    fn columns(&self) -> Vec<String>;
    /// What a filter may name of an entry.
    fn filters(&self) -> Vec<crate::filter::Field>;
    /// The values of its entries.
    fn rows(&self, record: &R) -> Vec<Values>;
    /// Puts entries into a record.
    fn fill(&self, record: &mut R, rows: Vec<Values>) -> Result<(), StoreError>;
}

impl<R, E> Entries<R> for List<R, E> {
    fn path(&self) -> &'static str {
        self.path
    }

    fn columns(&self) -> Vec<String> {
        columns(self.fields)
    }

    fn filters(&self) -> Vec<crate::filter::Field> {
        crate::filter::fields(self.fields)
    }

    fn rows(&self, record: &R) -> Vec<Values> {
        (self.get)(record).iter().map(|entry| values(self.fields, entry)).collect()
    }

    fn fill(&self, record: &mut R, rows: Vec<Values>) -> Result<(), StoreError> {
        let entries = rows.into_iter().map(|values| {
            let mut entry = (self.blank)();
            fill(self.fields, &mut entry, values)?;
            Ok(entry)
        });
        (self.set)(record, entries.collect::<Result<_, StoreError>>()?);
        Ok(())
    }
}

/// The table of a list.
pub(crate) fn list_table<R>(collection: &str, list: &dyn Entries<R>) -> String {
    format!("{collection}_{}", list.path().replace('.', "_"))
}

/// Binds a value.
pub(crate) fn bind(query: Query<'_>, value: Value) -> Query<'_> {
    match value {
        Value::Null => query.bind(None::<f64>),
        // The two zeros are one, to people and to the store.
        Value::Real(value) => query.bind(if value == 0.0 { 0.0 } else { value }),
        Value::Whole(value) => query.bind(value),
        Value::Text(text) => query.bind(text),
    }
}

/// The values of some columns of a row, from one on.
pub(crate) fn read(row: &SqliteRow, from: usize, count: usize) -> Result<Values, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    (from..from + count)
        .map(|at| {
            let raw = row.try_get_raw(at).map_err(bad)?;
            Ok(match raw.type_info().name() {
                _ if raw.is_null() => Value::Null,
                "REAL" => Value::Real(row.try_get(at).map_err(bad)?),
                "INTEGER" => Value::Whole(row.try_get(at).map_err(bad)?),
                _ => Value::Text(row.try_get(at).map_err(bad)?),
            })
        })
        .collect()
}

/// Adds values to a fingerprint.
pub(crate) fn hash(hasher: &mut blake3::Hasher, values: &[Value]) {
    for value in values {
        match value {
            Value::Null => hasher.update(b"n"),
            Value::Real(value) => hasher.update(b"r").update(&(if *value == 0.0 { 0.0 } else { *value }).to_le_bytes()),
            Value::Whole(value) => hasher.update(b"w").update(&value.to_le_bytes()),
            Value::Text(text) => hasher.update(b"t").update(&(text.len() as u64).to_le_bytes()).update(text.as_bytes()),
        };
    }
}

/// A stored time.
pub(crate) fn timestamp(micros: i64) -> Result<Timestamp, StoreError> {
    Timestamp::from_microsecond(micros).map_err(|error| StoreError::BadRecord(error.to_string()))
}
