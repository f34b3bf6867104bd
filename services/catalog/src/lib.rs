//! The SQLite store, and import and export.
//!
//! The only crate that knows SQL and file formats of records. Records are domain types; how they lie in a column or in a
//! file is this crate's own view. It must never contain protocol types, physics or scoring, and it reads no clock: every
//! write is told who writes and when.

pub mod exchange;
mod nearest;
