//! Pure underwater acoustics for a downward-looking sensor under ice.
//!
//! No I/O, no async, no clock, and no randomness but a generator that the caller passes in. Every model names its
//! source and its range of validity, and answers an error outside it.

pub mod absorption;
pub mod bottom;
mod bottom_table;
pub mod cover;
mod error;
pub mod geometry;
pub mod ice;
pub mod interference;
pub mod levels;
#[doc = include_str!("../MODELS.md")]
pub mod models {}
pub mod pattern;
pub mod plane_echo;
mod sphere;
pub mod target;
pub mod units;
pub mod water;

pub use error::ModelError;
