//! How far recorded figures may be off.

/// Spread of a stated beamwidth, relative: sheets round to whole degrees and mix conventions.
pub const BEAMWIDTH_SPREAD: f64 = 0.08;
/// Spread of a recorded source level and of a recorded threshold, dB: unit to unit, and with temperature; one that is assumed is wider.
pub const LEVEL_SPREAD: f64 = 2.0;
/// Spread of a target strength, dB: orientation of fish and lures.
pub const TARGET_SPREAD: f64 = 3.0;
/// Spread of a depth, relative.
pub const DEPTH_SPREAD: f64 = 0.03;
/// Spread of the tilt of a hung transducer about each axis, degrees.
pub const TILT_SPREAD_DEG: f64 = 2.0;
