//! The service over a real socket and a real SQLite file, called as any client would.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod bad_input;
mod exchange;
mod fleet;
mod goals;
mod main_job;
mod practice;
mod recommend;
mod removal;
mod required_fields;
mod seats;
