//! Verdicts in plain words.

use acoustics::units::Db;

use super::expect::Observed;
use super::input::AssessmentInput;
use super::{Estimate, Standing};
use domain::{GainDial, Unit};
use domain::{Part, Sentence};

/// A unit without a check.
pub(super) fn unchecked(unit: &Unit) -> Vec<Sentence> {
    vec![Sentence::new(
        "unit-unchecked",
        "Not checked yet: hang a reference target under unit {serial} at a known depth and note where it shows.",
        [("serial", Part::Name(unit.serial.clone()))],
    )]
}

/// The latest check of a unit, against what sound ones show.
pub(super) fn reading(
    input: &AssessmentInput,
    one: &Observed<'_>,
    bias: Option<Estimate>,
    standing: Standing,
) -> Vec<Sentence> {
    let dial = &one.sensor.dial;
    let at = |gain: f64| Part::Figure(position(dial, gain));
    let (day, shown) = (("day", Part::Name(one.check.day.to_string())), ("shown", at(one.shown)));
    let Some(bias) = bias else {
        let parts = [day, shown, ("expected", at(one.expected))];
        return vec![
            Sentence::new(
                "unit-alone",
                "On {day} it showed the target at {shown}; by its leaflet it should at about {expected}.",
                parts,
            ),
            Sentence::plain(
                "unit-too-few",
                "Too few units of its kind were checked to say whether that is the unit or the leaflet.",
            ),
        ];
    };
    let middle = one.expected + bias.value;
    let error = input.settings.reading_error.get();
    let half = libm::sqrt(error * error + bias.error * bias.error) * bias.quantile(0.95);
    let parts = [day, shown, ("sound", at(middle)), ("low", at(middle - half)), ("high", at(middle + half))];
    vec![
        Sentence::new(
            "unit-shown",
            "On {day} it showed the target at {shown}; a sound one shows it at about {sound} ({low} to {high}).",
            parts,
        ),
        match standing {
            Standing::Sound => Sentence::plain("unit-sound", "Nothing speaks against it."),
            Standing::Watch => {
                Sentence::plain("unit-watch", "Check it again, best swapped with a sound one in the same hole.")
            }
            Standing::Weak => Sentence::plain(
                "unit-weak",
                "Hang it upright and check once more; if it stays like that, have it repaired or retire it.",
            ),
            Standing::Unknown => Sentence::plain("unit-unknown", "That is too little to tell."),
        },
    ]
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
