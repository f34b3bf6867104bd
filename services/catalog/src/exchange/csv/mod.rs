//! CSV: one header line, units in the column names, the same names as the fields of the public API.

use std::collections::BTreeMap;

use planning::domain::{Sensor, Shelter, Spot, Target};

use super::Parsed;

/// A column of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Name in the header, its unit at the end.
    pub name: &'static str,
    /// Unit in words; empty for text and plain numbers.
    pub unit: &'static str,
    /// Whether a file must have it.
    pub required: bool,
    /// What a cell may hold, and what an empty one means.
    pub accepts: &'static str,
    /// A cell as an example.
    pub example: &'static str,
    /// Names of the same column in other units, such as `depth_ft`.
    pub also: Vec<&'static str>,
}

/// A record that has a CSV form.
pub trait CsvRecord: Sized + sealed::Sealed {
    /// Every column, in the order of the writer.
    fn columns() -> Vec<Column>;
}

mod sealed {
    pub trait Sealed {}
}

macro_rules! stand_in {
    ($($type:ident),*) => {$(
        impl sealed::Sealed for $type {}
        impl CsvRecord for $type {
            fn columns() -> Vec<Column> {
                Vec::new()
            }
        }
    )*};
}
stand_in!(Sensor, Spot, Shelter, Target);

/// Reads a file; `defaults` are cells of columns that the file lacks.
#[must_use]
pub fn read<R: CsvRecord>(_bytes: &[u8], _defaults: &BTreeMap<String, String>) -> Parsed<R> {
    Parsed { rows_read: 0, records: Vec::new(), faults: Vec::new() }
}

/// The header line.
#[must_use]
pub fn header<R: CsvRecord>() -> Vec<u8> {
    Vec::new()
}

/// The lines of some records, to follow the header.
#[must_use]
pub fn rows<R: CsvRecord>(_records: &[R]) -> Vec<u8> {
    Vec::new()
}

/// The header and an example line, to be filled in.
#[must_use]
pub fn template<R: CsvRecord>() -> String {
    String::new()
}
