//! Verdicts in plain words.

use acoustics::units::{Db, Metres};
use jiff::civil::Date;

use super::estimate::Estimate;
use super::expect::Observed;
use super::input::AssessmentInput;
use super::types::{Doubt, Reading, Standing};
use domain::wording::number;
use domain::{GainDial, Unit};
use domain::{Part, Sentence};

/// A unit without a check.
pub(super) fn unchecked(unit: &Unit) -> Vec<Sentence> {
    vec![Sentence::new("unit-unchecked", [("serial", Part::Name(unit.serial.clone()))])]
}

/// The latest check of a unit that is believed, against what sound ones show.
pub(super) fn reading(input: &AssessmentInput, one: &Observed<'_>, bias: Option<Estimate>) -> Vec<Sentence> {
    let dial = &one.sensor.dial;
    let at = |gain: f64| Part::Figure(position(dial, gain));
    let (day, shown) = (("day", Part::Name(one.check.day.to_string())), ("shown", at(one.shown)));
    let Some(bias) = bias else {
        let parts = [day, shown, ("expected", at(one.expected))];
        return vec![Sentence::new("unit-alone", parts), Sentence::plain("unit-too-few")];
    };
    let middle = one.expected + bias.value;
    let error = input.settings.reading_error.get();
    let half = libm::sqrt(error * error + bias.error * bias.error) * bias.quantile(0.95);
    let parts = [day, shown, ("sound", at(middle)), ("low", at(middle - half)), ("high", at(middle + half))];
    vec![Sentence::new("unit-shown", parts)]
}

/// What to do with a unit; `alone` where a single reading speaks against it.
pub(super) fn verdict(standing: Standing, alone: bool) -> Sentence {
    match standing {
        Standing::Sound => Sentence::plain("unit-sound"),
        Standing::Watch | Standing::Doubtful if alone => Sentence::plain("unit-one-reading"),
        Standing::Watch | Standing::Doubtful => Sentence::plain("unit-watch"),
        Standing::Weak => Sentence::plain("unit-weak"),
        Standing::Unknown => Sentence::plain("unit-unknown"),
    }
}

/// What a lean of 5° alone would cost over the target of a check.
pub(super) fn lean(one: &Observed<'_>) -> Sentence {
    let cost = ("cost", Part::Figure(format!("{} dB", number(one.lean_cost, 0))));
    Sentence::new("unit-lean", [cost])
}

/// Readings that are left aside, each with the reason.
pub(super) fn doubts(input: &AssessmentInput, checks: &[&Observed<'_>], readings: &[&Reading]) -> Vec<Sentence> {
    let metres = |depth: Metres| Part::Length(Metres::new(libm::round(10.0 * depth.get()) / 10.0));
    let doubt = |(one, reading): (&&Observed<'_>, &&Reading)| {
        let day = ("day", Part::Name(one.check.day.to_string()));
        let sentence = match reading.doubt.as_ref()? {
            Doubt::Contradicts => {
                Sentence::new("unit-contradicts", [day, ("shown", Part::Name(one.check.shown_at.clone()))])
            }
            Doubt::OddDepth { usual } => {
                Sentence::new("unit-odd-depth", [day, ("depth", metres(one.check.depth)), ("usual", metres(*usual))])
            }
            Doubt::OddTarget { usual } => {
                let target = input.targets.iter().find(|target| target.id == one.check.target);
                let called = target.map_or_else(String::new, |target| target.display_name.clone());
                Sentence::new(
                    "unit-odd-target",
                    [day, ("target", Part::Name(called)), ("usual", Part::Name(usual.clone()))],
                )
            }
        };
        Some(sentence)
    };
    checks.iter().zip(readings).filter_map(doubt).collect()
}

/// No two readings agree.
pub(super) fn contradictory() -> Sentence {
    Sentence::plain("unit-no-two-agree")
}

/// Better than sound ones.
pub(super) fn too_good(by: f64) -> Sentence {
    Sentence::new("unit-too-good", [("by", Part::Figure(format!("{} dB", number(by, 0))))])
}

/// Two units look as if their labels had been swapped.
pub(super) fn labels(serial: &str, day: Date) -> Sentence {
    Sentence::new("unit-labels", [("day", Part::Name(day.to_string())), ("serial", Part::Name(serial.to_owned()))])
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
