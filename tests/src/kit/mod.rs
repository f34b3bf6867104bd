//! What tests of several crates use: calls of any method with any bytes, and the services over a database of their own.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

pub mod raw;
pub mod service;
