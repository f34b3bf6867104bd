//! What sensors and beams are called on a page.

use acoustics::units::Metres;
use domain::selection::RunInput;
use domain::{BeamOption, Goal, Preset, Sensor};

use crate::clean::clean;
use crate::wording::Wording;

/// Longest name that is set in full.
pub(super) const MAX_NAME: usize = 60;

/// The sensor and the option of an index into the run's options.
pub(super) fn option_of(input: &RunInput, option: usize) -> Option<(&Sensor, &BeamOption)> {
    let reference = input.options.get(option)?;
    let sensor = input.sensors.get(reference.sensor)?;
    Some((sensor, sensor.options.get(reference.option)?))
}

/// Name of a sensor and its beam: `Two-face (180 kHz, 14°)`.
pub(super) fn full_name((sensor, option): (&Sensor, &BeamOption), say: Wording<'_>) -> String {
    format!("{} ({})", sensor_name(sensor), beam_name(option, say))
}

/// What sets an option apart.
pub(super) fn beam_name(option: &BeamOption, say: Wording<'_>) -> String {
    say.figures(&domain::wording::beam_name(option), MAX_NAME)
}

/// Name of a sensor for people.
pub(super) fn sensor_name(sensor: &Sensor) -> String {
    clean(&sensor.display_name, MAX_NAME)
}

/// A positive length or nothing.
pub(super) fn positive(length: Metres) -> Option<Metres> {
    (length.get() > 0.0).then_some(length)
}

/// A use in two words; one of the user's own by its title.
pub(super) fn purpose(goal: &Goal, say: Wording<'_>) -> String {
    match goal {
        Goal::Preset(Preset::Search) => say.word("use-search"),
        Goal::Preset(Preset::WatchLure) => say.word("use-watch-lure"),
        Goal::Preset(Preset::School) => say.word("use-school"),
        Goal::Preset(Preset::WeedEdge) => say.word("use-weed-edge"),
        Goal::Custom(goal) => clean(&goal.display_name, MAX_NAME),
    }
}
