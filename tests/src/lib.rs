//! What tests across the crates share: the fuzz targets, and the kit of calls and services.

pub mod fuzz;
pub mod kit;
