//! Why an option cannot be used and what to beware of, in the reader's language and unit.

use domain::selection::{Failure, Notice};

use crate::wording::Wording;

pub(super) fn failure(failure: &Failure, say: Wording<'_>) -> String {
    match failure {
        Failure::LureGainBeyondMax { missing } => {
            say.say("failure-lure-gain-beyond-max", [("missing", say.db(missing.get(), 1))])
        }
        Failure::BottomGainBeyondMax { missing } => {
            say.say("failure-bottom-gain-beyond-max", [("missing", say.db(missing.get(), 1))])
        }
        Failure::LureOutsideBeam { offset, lobe_radius } => {
            say.say("failure-lure-outside-beam", [("offset", say.text(*offset)), ("radius", say.text(*lobe_radius))])
        }
        Failure::NoClearGain { fraction_at_zero } => {
            say.say("failure-no-clear-gain", [("share", format!("{} %", say.number(100.0 * fraction_at_zero, 1)))])
        }
        Failure::NoiseBeforeLure { by } => say.say("failure-noise-before-lure", [("excess", say.db(by.get(), 1))]),
        Failure::LureInRingDown { range, blind } => {
            say.say("failure-lure-in-ring-down", [("range", say.text(*range)), ("blind", say.text(*blind))])
        }
    }
}

pub(super) fn notice(notice: &Notice, say: Wording<'_>) -> String {
    match notice {
        Notice::LureInDeadZone { shadow, lure } => {
            say.say("notice-lure-in-shadow", [("lure", say.text(*lure)), ("shadow", say.text(*shadow))])
        }
        Notice::LureDrownsInCover { ratio } => {
            say.say("notice-lure-drowns-in-cover", [("excess", say.db(-ratio.get(), 1))])
        }
        Notice::LureNearLobeEdge { offset, lobe_radius } => {
            say.say("notice-lure-near-lobe-edge", [("offset", say.text(*offset)), ("radius", say.text(*lobe_radius))])
        }
        Notice::NearField { rayleigh_distance } => {
            say.say("notice-near-field", [("distance", say.text(*rayleigh_distance))])
        }
        Notice::NeighboursShow { headroom } => {
            say.say("notice-neighbours-show", [("excess", say.db(-headroom.get(), 1))])
        }
        Notice::NoCoverage => say.word("notice-no-coverage"),
    }
}
