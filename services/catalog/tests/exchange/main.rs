//! Files of records: what is written reads back, and what cannot be read says so once and clearly.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod any;
mod csv_files;
mod geojson_files;
mod gpx_files;
mod xlsx_files;
