//! The one error of this crate: a model was asked for something it does not cover.

use crate::units::{KilogramsPerCubicMetre, MetresPerSecond};

/// Why a model gave no figure. Models never clamp and never answer NaN.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ModelError {
    /// An input lies outside the range that the model's source covers.
    #[error("{quantity} is {value} {unit}; {model} covers {min} to {max} {unit}")]
    OutOfRange {
        /// Name of the model.
        model: &'static str,
        /// Which input.
        quantity: &'static str,
        /// What was given.
        value: f64,
        /// Least accepted.
        min: f64,
        /// Greatest accepted.
        max: f64,
        /// Unit of the three figures.
        unit: &'static str,
    },
    /// A table is too short, not rising, or not finite.
    #[error("{model} needs {needs}")]
    BadTable {
        /// Name of the model.
        model: &'static str,
        /// What a usable table looks like.
        needs: &'static str,
    },
}

/// Speed of sound in the water around a model: what any lake or sea has, with room, m/s.
pub(crate) fn water_speed(model: &'static str, speed: MetresPerSecond) -> Result<f64, ModelError> {
    within(model, "sound speed", speed.get(), (1_000.0, 2_000.0), "m/s")
}

/// Density of the water around a model, likewise, kg/m³.
pub(crate) fn water_density(model: &'static str, density: KilogramsPerCubicMetre) -> Result<f64, ModelError> {
    within(model, "density", density.get(), (900.0, 1_400.0), "kg/m³")
}

/// Accepts `value` when it is finite and inside `[min, max]`.
pub(crate) fn within(
    model: &'static str,
    quantity: &'static str,
    value: f64,
    (min, max): (f64, f64),
    unit: &'static str,
) -> Result<f64, ModelError> {
    if value.is_finite() && value >= min && value <= max {
        Ok(value)
    } else {
        Err(ModelError::OutOfRange { model, quantity, value, min, max, unit })
    }
}
