//! What tests across the crates share: the fuzz targets.

pub mod fuzz;
