//! The one error of this crate: a model was asked for something it does not cover.

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
