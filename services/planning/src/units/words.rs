//! Verdicts in plain words.

use acoustics::units::Db;

use super::expect::Observed;
use super::input::AssessmentInput;
use super::{Estimate, Standing};
use crate::domain::{GainDial, Unit};

/// A unit without a check.
pub(super) fn unchecked(unit: &Unit) -> String {
    format!(
        "Not checked yet: hang a reference target under unit {} at a known depth and note where it shows.",
        unit.serial
    )
}

/// The latest check of a unit, against what sound ones show.
pub(super) fn reading(
    input: &AssessmentInput,
    one: &Observed<'_>,
    bias: Option<Estimate>,
    standing: Standing,
) -> String {
    let dial = &one.sensor.dial;
    let mut text = format!("On {} it showed the target at {}", one.check.day, position(dial, one.shown));
    match bias {
        None => {
            text.push_str(&format!(
                "; by its leaflet it should at about {}. Too few units of its kind were checked to say whether that is the unit or the leaflet.",
                position(dial, one.expected)
            ));
        }
        Some(bias) => {
            let middle = one.expected + bias.value;
            let error = input.settings.reading_error.get();
            let half = libm::sqrt(error * error + bias.error * bias.error) * bias.quantile(0.95);
            text.push_str(&format!(
                "; a sound one shows it at about {} ({} to {}). ",
                position(dial, middle),
                position(dial, middle - half),
                position(dial, middle + half)
            ));
            text.push_str(match standing {
                Standing::Sound => "Nothing speaks against it.",
                Standing::Watch => "Check it again, best swapped with a sound one in the same hole.",
                Standing::Weak => {
                    "Hang it upright and check once more; if it stays like that, have it repaired or retire it."
                }
                Standing::Unknown => "That is too little to tell.",
            });
        }
    }
    text
}

/// A gain as the dial reads; in words beyond its ends.
fn position(dial: &GainDial, gain: f64) -> String {
    let (first, last) = (dial.points.first(), dial.points.last());
    match dial.dial_reading(Db::new(gain)) {
        Some(reading) => reading,
        None if first.is_some_and(|point| gain < point.gain.get()) => "the lower end".to_owned(),
        None if last.is_some() => "past the end".to_owned(),
        None => "no position".to_owned(),
    }
}
