//! Verdicts in plain words.

use acoustics::units::{Db, Metres};
use jiff::civil::Date;

use super::expect::Observed;
use super::input::AssessmentInput;
use super::{Doubt, Estimate, Reading, Standing};
use domain::wording::number;
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

/// The latest check of a unit that is believed, against what sound ones show.
pub(super) fn reading(input: &AssessmentInput, one: &Observed<'_>, bias: Option<Estimate>) -> Vec<Sentence> {
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
    vec![Sentence::new(
        "unit-shown",
        "On {day} it showed the target at {shown}; a sound one shows it at about {sound} ({low} to {high}).",
        parts,
    )]
}

/// What to do with a unit; `alone` where a single reading speaks against it.
pub(super) fn verdict(standing: Standing, alone: bool) -> Sentence {
    match standing {
        Standing::Sound => Sentence::plain("unit-sound", "Nothing speaks against it."),
        Standing::Watch | Standing::Doubtful if alone => Sentence::plain(
            "unit-one-reading",
            "One reading accuses nobody: check it once more, best swapped with a sound one in the same hole.",
        ),
        Standing::Watch | Standing::Doubtful => {
            Sentence::plain("unit-watch", "Check it again, best swapped with a sound one in the same hole.")
        }
        Standing::Weak => Sentence::plain(
            "unit-weak",
            "Hang it upright and check once more; if it stays like that, have it repaired or retire it.",
        ),
        Standing::Unknown => Sentence::plain("unit-unknown", "That is too little to tell."),
    }
}

/// What a lean of 5° alone would cost over the target of a check.
pub(super) fn lean(one: &Observed<'_>) -> Sentence {
    let cost = ("cost", Part::Figure(format!("{} dB", number(one.lean_cost, 0))));
    Sentence::new("unit-lean", "A lean of 5° would cost it {cost} over that target: see that it hangs upright.", [cost])
}

/// Readings that are left aside, each with the reason.
pub(super) fn doubts(input: &AssessmentInput, checks: &[&Observed<'_>], readings: &[&Reading]) -> Vec<Sentence> {
    let metres = |depth: Metres| Part::Figure(format!("{} m", number(depth.get(), 1)));
    let doubt = |(one, reading): (&&Observed<'_>, &&Reading)| {
        let day = ("day", Part::Name(one.check.day.to_string()));
        let sentence = match reading.doubt.as_ref()? {
            Doubt::Contradicts => Sentence::new(
                "unit-contradicts",
                "The reading {shown} of {day} contradicts its others and is left aside: was it written down right?",
                [day, ("shown", Part::Name(one.check.shown_at.clone()))],
            ),
            Doubt::OddDepth { usual } => Sentence::new(
                "unit-odd-depth",
                "The check of {day} was at {depth} where others were at {usual}, and is far off: is the depth right? It is left aside.",
                [day, ("depth", metres(one.check.depth)), ("usual", metres(*usual))],
            ),
            Doubt::OddTarget { usual } => {
                let target = input.targets.iter().find(|target| target.id == one.check.target);
                let called = target.map_or_else(String::new, |target| target.display_name.clone());
                Sentence::new(
                    "unit-odd-target",
                    "The check of {day} was with {target} where others were with {usual}, and is far off: is the target right? It is left aside.",
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
    Sentence::plain(
        "unit-no-two-agree",
        "No two of its readings agree, so they say nothing of the unit: check it again before anything else.",
    )
}

/// Better than sound ones.
pub(super) fn too_good(by: f64) -> Sentence {
    Sentence::new(
        "unit-too-good",
        "It shows the target {by} earlier than sound ones, which is too good to be true: was its label, its target or its depth mistaken? Check it again.",
        [("by", Part::Figure(format!("{} dB", number(by, 0))))],
    )
}

/// Two units look as if their labels had been swapped.
pub(super) fn labels(serial: &str, day: Date) -> Sentence {
    Sentence::new(
        "unit-labels",
        "On {day} it is off by as much as {serial} is the other way: were the labels of the two swapped? Check both again before anything else.",
        [("day", Part::Name(day.to_string())), ("serial", Part::Name(serial.to_owned()))],
    )
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
