//! Numbers out of a fuzzer's bytes: mostly inside a range, so that models are reached, and at times any finite one, so that their bounds are.

use acoustics::ModelError;
use arbitrary::{Result, Unstructured};

/// A number: in most cases between `low` and `high`, both possible, else any finite one.
pub(crate) fn number(input: &mut Unstructured<'_>, low: f64, high: f64) -> Result<f64> {
    if input.arbitrary::<u8>()? < 224 {
        return inside(input, low, high);
    }
    let value: f64 = input.arbitrary()?;
    Ok(if value.is_finite() { value } else { 0.0 })
}

/// A number between `low` and `high`, both possible.
pub(crate) fn inside(input: &mut Unstructured<'_>, low: f64, high: f64) -> Result<f64> {
    let part = f64::from(input.arbitrary::<u16>()?) / f64::from(u16::MAX);
    Ok((low + part * (high - low)).clamp(low, high))
}

/// Two numbers of a range, the lesser first.
pub(crate) fn two(input: &mut Unstructured<'_>, low: f64, high: f64) -> Result<(f64, f64)> {
    let (a, b) = (inside(input, low, high)?, inside(input, low, high)?);
    Ok((a.min(b), a.max(b)))
}

/// What a model answers: a finite figure, or an error that tells the truth about what was given. The figure comes back.
pub(crate) fn answer<T>(result: std::result::Result<T, ModelError>, get: impl Fn(&T) -> f64) -> Option<f64> {
    match result {
        Ok(answer) => {
            let figure = get(&answer);
            assert!(figure.is_finite(), "a model answered {figure}");
            Some(figure)
        }
        Err(error) => {
            refusal(&error);
            None
        }
    }
}

/// The value of a refusal breaks the limits that it names.
pub(crate) fn refusal(error: &ModelError) {
    match error {
        ModelError::OutOfRange { value, min, max, .. } => {
            assert!(!(value.is_finite() && value >= min && value <= max), "refused inside its range: {error}");
        }
        ModelError::BadTable { needs, .. } => assert!(!needs.is_empty()),
    }
}

/// A figure within its documented bounds.
#[track_caller]
pub(crate) fn bounded(what: &str, figure: f64, low: f64, high: f64) {
    assert!(figure >= low && figure <= high, "{what} is {figure}; documented: {low} to {high}");
}
