//! What people read and get: tables, JSON, errors, files.

pub(crate) mod error;
pub(crate) mod file;
pub(crate) mod json;
pub(crate) mod shown;
pub(crate) mod table;

/// A number with its noun: `1 page`, `2 pages`.
pub(crate) fn count(number: impl Into<i64>, noun: &str) -> String {
    let number = number.into();
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}
