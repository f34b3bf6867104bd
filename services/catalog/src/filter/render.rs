//! From an expression to SQL: fields from the list, values bound.

use super::field::{Field, Kind};
use super::parse::{Comparison, Expression};
use super::token::Compare;
use crate::error::StoreError;
use crate::nearest::nearest;

/// A value that is bound to the statement.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Text(String),
    Number(f64),
    Integer(i64),
}

/// The condition, and its values in order.
pub(crate) fn render(expression: &Expression, fields: &[Field]) -> Result<(String, Vec<Value>), StoreError> {
    let mut renderer = Renderer { fields, values: Vec::new() };
    let sql = renderer.expression(expression)?;
    Ok((sql, renderer.values))
}

struct Renderer<'f> {
    fields: &'f [Field],
    values: Vec<Value>,
}

impl Renderer<'_> {
    fn expression(&mut self, expression: &Expression) -> Result<String, StoreError> {
        match expression {
            Expression::All(parts) => self.joined(parts, " AND "),
            Expression::Any(parts) => self.joined(parts, " OR "),
            Expression::Not(inner) => Ok(format!("NOT {}", self.expression(inner)?)),
            Expression::Comparison(comparison) => self.comparison(comparison),
        }
    }

    fn joined(&mut self, parts: &[Expression], by: &str) -> Result<String, StoreError> {
        let parts: Vec<_> = parts.iter().map(|part| self.expression(part)).collect::<Result<_, _>>()?;
        Ok(format!("({})", parts.join(by)))
    }

    fn comparison(&mut self, comparison: &Comparison) -> Result<String, StoreError> {
        let fields = self.fields;
        let field = named(fields, comparison)?;
        let test = if comparison.compare == Compare::Has && !comparison.quoted && comparison.value == "*" {
            format!("{} IS NOT NULL", field.sql)
        } else {
            let (test, value) = test(field, comparison)?;
            self.values.push(value);
            test
        };
        // What is not set compares to neither true nor false in SQL; to a caller it does not fit.
        Ok(match &field.list {
            None => format!("(({test}) IS TRUE)"),
            Some((table, of)) => format!("EXISTS (SELECT 1 FROM {table} WHERE owner = {of}.id AND ({test}))"),
        })
    }
}

/// The field of a comparison; a dot and an underscore between its parts are the same.
fn named<'f>(fields: &'f [Field], comparison: &Comparison) -> Result<&'f Field, StoreError> {
    let plain = |name: &str| name.replace('.', "_");
    let given = plain(&comparison.field);
    fields.iter().find(|field| plain(&field.name) == given).ok_or_else(|| {
        let names: Vec<_> = fields.iter().map(|field| field.name.as_str()).collect();
        let advice = match nearest(&comparison.field, names.iter().copied()) {
            Some(known) => format!("perhaps {known} is meant"),
            None => format!("accepted: {}", names.join(", ")),
        };
        StoreError::in_filter(comparison.at, format!("there is no field '{}'; {advice}", comparison.field))
    })
}

/// The comparison of a field's expression with a question mark, and the value for it.
fn test(field: &Field, comparison: &Comparison) -> Result<(String, Value), StoreError> {
    let Comparison { compare, value, value_at, .. } = comparison;
    let refused = || {
        let problem = format!("'{value}' does not fit {}; accepted: {}", field.name, field.accepts());
        StoreError::in_filter(*value_at, problem)
    };
    let only_equal = |problem: &str| match compare {
        Compare::Equal | Compare::NotEqual | Compare::Has => Ok(()),
        _ => Err(StoreError::in_filter(comparison.at, format!("{} {problem}; accepted: = and !=", field.name))),
    };
    // Of everything but text, `:` is "has this value".
    let sign = if *compare == Compare::Has { "=" } else { compare.sign() };
    let plain = |value| (format!("{} {sign} ?", field.sql), value);
    match field.kind {
        Kind::Text => Ok(text_test(field, *compare, value)),
        Kind::Number => {
            let number = value.parse().ok().filter(|number: &f64| number.is_finite()).ok_or_else(refused)?;
            Ok(plain(Value::Number(number)))
        }
        Kind::Amount => Ok(plain(Value::Integer(billionths(value).ok_or_else(refused)?))),
        Kind::Choice(names) => {
            only_equal("is one of some names")?;
            let name = value.to_ascii_lowercase();
            let known = names.iter().find(|known| **known == name).ok_or_else(refused)?;
            Ok(plain(Value::Text((*known).to_owned())))
        }
        Kind::Flag => {
            only_equal("is true or false")?;
            let flag: bool = value.to_ascii_lowercase().parse().map_err(|_| refused())?;
            Ok(plain(Value::Integer(i64::from(flag))))
        }
        Kind::Time => {
            let time: jiff::Timestamp = value.parse().map_err(|_| refused())?;
            Ok(plain(Value::Integer(time.as_microsecond())))
        }
    }
}

fn text_test(field: &Field, compare: Compare, value: &str) -> (String, Value) {
    let sql = &field.sql;
    let value_of = |text: &str| Value::Text(text.to_owned());
    match compare {
        Compare::Has => (format!("instr(lower({sql}), lower(?)) > 0"), value_of(value)),
        Compare::Equal if value.contains('*') => (format!("{sql} GLOB ?"), Value::Text(glob(value))),
        Compare::NotEqual if value.contains('*') => (format!("{sql} NOT GLOB ?"), Value::Text(glob(value))),
        _ => (format!("{sql} {} ?", compare.sign()), value_of(value)),
    }
}

/// A pattern in which only the star is special.
fn glob(value: &str) -> String {
    value.replace('[', "[[]").replace('?', "[?]")
}

/// An amount in billionths, exactly.
fn billionths(value: &str) -> Option<i64> {
    let (whole, part) = value.split_once('.').unwrap_or((value, ""));
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    if whole.is_empty() || !digits(whole) || !digits(part) || part.len() > 9 {
        return None;
    }
    format!("{whole}{part:0<9}").parse().ok()
}
