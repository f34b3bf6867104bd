//! Failures and notices in words: one stable code, one sentence for people, and the figures in it by name and unit, the
//! same for the API, the command line and the reports.

use crate::check::plain;
use crate::selection::{Failure, Notice};
use crate::{BeamOption, PatternKind};
use crate::{Part, Sentence};
use acoustics::units::{Db, Metres};

/// The figures of a reason, each named with its unit.
pub type NamedFigures = Vec<(&'static str, f64)>;

impl Failure {
    /// Stable code, such as `LURE_GAIN_BEYOND_MAX`.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::LureGainBeyondMax { .. } => "LURE_GAIN_BEYOND_MAX",
            Self::BottomGainBeyondMax { .. } => "BOTTOM_GAIN_BEYOND_MAX",
            Self::LureOutsideBeam { .. } => "LURE_OUTSIDE_BEAM",
            Self::NoClearGain { .. } => "NO_CLEAR_GAIN",
            Self::NoiseBeforeLure { .. } => "NOISE_BEFORE_LURE",
            Self::LureInRingDown { .. } => "LURE_IN_RING_DOWN",
        }
    }

    /// A sentence for people.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        match self {
            Self::LureGainBeyondMax { missing } => {
                Sentence::new("failure-lure-gain-beyond-max", [("missing", decibels(*missing))])
            }
            Self::BottomGainBeyondMax { missing } => {
                Sentence::new("failure-bottom-gain-beyond-max", [("missing", decibels(*missing))])
            }
            Self::LureOutsideBeam { offset, lobe_radius } => Sentence::new(
                "failure-lure-outside-beam",
                [("offset", hundredths(*offset)), ("radius", hundredths(*lobe_radius))],
            ),
            Self::NoClearGain { fraction_at_zero } => {
                let share = Part::Figure(format!("{} %", tenths(100.0 * fraction_at_zero)));
                Sentence::new("failure-no-clear-gain", [("share", share)])
            }
            Self::NoiseBeforeLure { by } => Sentence::new("failure-noise-before-lure", [("excess", decibels(*by))]),
            Self::LureInRingDown { range, blind } => Sentence::new(
                "failure-lure-in-ring-down",
                [("range", hundredths(*range)), ("blind", hundredths(*blind))],
            ),
        }
    }

    /// The same of one option, for a place where several are spoken of.
    #[must_use]
    pub fn sentence_with(&self, sensor: &str, beam: &str) -> Sentence {
        let key = match self {
            Self::LureGainBeyondMax { .. } => "fails-lure-gain",
            Self::BottomGainBeyondMax { .. } => "fails-bottom-gain",
            Self::LureOutsideBeam { .. } => "fails-outside",
            Self::NoClearGain { .. } => "fails-neighbours",
            Self::NoiseBeforeLure { .. } => "fails-noise",
            Self::LureInRingDown { .. } => "fails-ring-down",
        };
        let told = Sentence { key: key.into(), ..self.sentence() };
        told.with("sensor", Part::Name(sensor.to_owned())).with("beam", Part::Figure(beam.to_owned()))
    }

    /// The figures in the sentence.
    #[must_use]
    pub fn figures(&self) -> NamedFigures {
        match *self {
            Self::LureGainBeyondMax { missing } | Self::BottomGainBeyondMax { missing } => {
                vec![("missing_db", missing.get())]
            }
            Self::LureOutsideBeam { offset, lobe_radius } => {
                vec![("offset_m", offset.get()), ("lobe_radius_m", lobe_radius.get())]
            }
            Self::NoClearGain { fraction_at_zero } => vec![("fraction_at_zero", fraction_at_zero)],
            Self::NoiseBeforeLure { by } => vec![("too_strong_db", by.get())],
            Self::LureInRingDown { range, blind } => vec![("range_m", range.get()), ("blind_m", blind.get())],
        }
    }
}

impl Notice {
    /// Stable code, such as `LURE_IN_DEAD_ZONE`.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::LureInDeadZone { .. } => "LURE_IN_DEAD_ZONE",
            Self::LureDrownsInCover { .. } => "LURE_DROWNS_IN_COVER",
            Self::LureNearLobeEdge { .. } => "LURE_NEAR_LOBE_EDGE",
            Self::NearField { .. } => "NEAR_FIELD",
            Self::NeighboursShow { .. } => "NEIGHBOURS_SHOW",
            Self::NoCoverage => "NO_COVERAGE",
        }
    }

    /// A sentence for people.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        match self {
            Self::LureInDeadZone { shadow, lure } => {
                Sentence::new("notice-lure-in-shadow", [("lure", hundredths(*lure)), ("shadow", hundredths(*shadow))])
            }
            Self::LureDrownsInCover { ratio } => {
                Sentence::new("notice-lure-drowns-in-cover", [("excess", decibels(-*ratio))])
            }
            Self::LureNearLobeEdge { offset, lobe_radius } => Sentence::new(
                "notice-lure-near-lobe-edge",
                [("offset", hundredths(*offset)), ("radius", hundredths(*lobe_radius))],
            ),
            Self::NearField { rayleigh_distance } => {
                Sentence::new("notice-near-field", [("distance", hundredths(*rayleigh_distance))])
            }
            Self::NeighboursShow { headroom } => {
                Sentence::new("notice-neighbours-show", [("excess", decibels(-*headroom))])
            }
            Self::NoCoverage => Sentence::plain("notice-no-coverage"),
        }
    }

    /// The figures in the sentence.
    #[must_use]
    pub fn figures(&self) -> NamedFigures {
        match *self {
            Self::LureInDeadZone { shadow, lure } => {
                vec![("dead_zone_height_m", shadow.get()), ("lure_height_m", lure.get())]
            }
            Self::LureDrownsInCover { ratio } => vec![("lure_over_vegetation_db", ratio.get())],
            Self::LureNearLobeEdge { offset, lobe_radius } => {
                vec![("offset_m", offset.get()), ("lobe_radius_m", lobe_radius.get())]
            }
            Self::NearField { rayleigh_distance } => vec![("rayleigh_distance_m", rayleigh_distance.get())],
            Self::NeighboursShow { headroom } => vec![("headroom_db", headroom.get())],
            Self::NoCoverage => Vec::new(),
        }
    }
}

fn tenths(value: f64) -> String {
    plain(libm::round(value * 10.0) / 10.0)
}

fn decibels(value: Db) -> Part {
    Part::Figure(format!("{} dB", tenths(value.get())))
}

fn hundredths(value: Metres) -> Part {
    Part::Length(Metres::new(libm::round(value.get() * 100.0) / 100.0))
}

/// What sets an option apart: `200 kHz, 12°`.
#[must_use]
pub fn beam_name(option: &BeamOption) -> String {
    let khz = number(option.frequency.value.to_khz(), 0);
    match (&option.pattern, option.pattern.quoted()) {
        (PatternKind::Rectangular { along, across }, _) => {
            let (a, b) = (along.value.full.to_degrees(), across.value.full.to_degrees());
            format!("{khz} kHz, {} × {}°", number(a, 1), number(b, 1))
        }
        (_, Some(width)) => format!("{khz} kHz, {}°", number(width.to_degrees(), 1)),
        (_, None) => format!("{khz} kHz, measured beam"),
    }
}

/// A number with at most that many decimals, without trailing zeros, with a proper minus sign.
#[must_use]
pub fn number(value: f64, decimals: u8) -> String {
    let text = format!("{value:.*}", usize::from(decimals));
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text.as_str() };
    if text == "-0" { "0".to_owned() } else { text.replace('-', "−") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_hold_their_figures() {
        let failure = Failure::LureGainBeyondMax { missing: Db::new(4.26) };
        assert_eq!(failure.sentence().text(), "Even the greatest gain does not show the lure: 4.3 dB are missing.");
        assert_eq!((failure.code(), failure.figures()), ("LURE_GAIN_BEYOND_MAX", vec![("missing_db", 4.26)]));
        let notice = Notice::LureInDeadZone { shadow: Metres::new(0.614), lure: Metres::new(0.5) };
        assert_eq!(
            notice.sentence().text(),
            "The lure hangs 0.5 m over the bottom, but the bottom's own echo hides it up to 0.61 m."
        );
    }
}
