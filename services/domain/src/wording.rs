//! Failures and notices in words: one stable code, one sentence for people, and the figures in it by name and unit, the
//! same for the API, the command line and the reports.

use crate::check::plain;
use crate::selection::{Failure, Notice};
use crate::{BeamOption, PatternKind};
use crate::{Part, Sentence};

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
    pub fn sentence(&self) -> String {
        let (_, pattern, parts) = self.worded();
        Sentence::of("", pattern, parts).text
    }

    /// The same of one option, for a place where several are spoken of.
    #[must_use]
    pub fn sentence_with(&self, sensor: &str, beam: &str) -> Sentence {
        let (key, pattern, mut parts) = self.worded();
        parts.push(("sensor", Part::Name(sensor.to_owned())));
        parts.push(("beam", Part::Figure(beam.to_owned())));
        Sentence::of(key, &format!("With {{sensor}} ({{beam}}): {pattern}"), parts)
    }

    /// Key of the sentence that names the option, the pattern, and what is put in.
    fn worded(&self) -> (&'static str, &'static str, Vec<(&'static str, Part)>) {
        let figure = |name, text| (name, Part::Figure(text));
        match self {
            Self::LureGainBeyondMax { missing } => (
                "fails-lure-gain",
                "Even the greatest gain does not show the lure: {missing} dB are missing.",
                vec![figure("missing", tenths(missing.get()))],
            ),
            Self::BottomGainBeyondMax { missing } => (
                "fails-bottom-gain",
                "Even the greatest gain does not show the bottom strongly: {missing} dB are missing.",
                vec![figure("missing", tenths(missing.get()))],
            ),
            Self::LureOutsideBeam { offset, lobe_radius } => (
                "fails-outside",
                "The lure hangs {offset} m from the axis, outside the beam, which is {radius} m wide to each side at its depth.",
                vec![figure("offset", hundredths(offset.get())), figure("radius", hundredths(lobe_radius.get()))],
            ),
            Self::NoClearGain { fraction_at_zero } => (
                "fails-neighbours",
                "Neighbours show at every position of the dial: even at zero gain, {share} % of the display would be interference marks.",
                vec![figure("share", tenths(100.0 * fraction_at_zero))],
            ),
            Self::NoiseBeforeLure { by } => (
                "fails-noise",
                "Noise would fill the display before the lure shows: it is {by} dB too strong.",
                vec![figure("by", tenths(by.get()))],
            ),
            Self::LureInRingDown { range, blind } => (
                "fails-ring-down",
                "The lure is {range} m away, where the transducer still rings from its ping: nothing shows nearer than {blind} m.",
                vec![figure("range", hundredths(range.get())), figure("blind", hundredths(blind.get()))],
            ),
        }
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
    pub fn sentence(&self) -> String {
        match self {
            Self::LureInDeadZone { shadow, lure } => format!(
                "The lure hangs {} m over the bottom, but the bottom's own echo hides it up to {} m.",
                hundredths(lure.get()),
                hundredths(shadow.get())
            ),
            Self::LureDrownsInCover { ratio } => {
                format!("Plants answer {} dB louder than the lure.", tenths(-ratio.get()))
            }
            Self::LureNearLobeEdge { offset, lobe_radius } => format!(
                "At the far rim of the hole the lure may drop out: it hangs {} m from the axis and the beam reaches {} m there.",
                hundredths(offset.get()),
                hundredths(lobe_radius.get())
            ),
            Self::NearField { rayleigh_distance } => format!(
                "The lure is nearer than {} m, where the beam is still forming: levels are approximate.",
                hundredths(rayleigh_distance.get())
            ),
            Self::NeighboursShow { headroom } => format!(
                "The gain that this spot needs is {} dB above what keeps neighbours off the display.",
                tenths(-headroom.get())
            ),
            Self::NoCoverage => "Fish in the layer do not show, even at search gain.".to_owned(),
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

fn hundredths(value: f64) -> String {
    plain(libm::round(value * 100.0) / 100.0)
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
    use acoustics::units::{Db, Metres};

    #[test]
    fn sentences_hold_their_figures() {
        let failure = Failure::LureGainBeyondMax { missing: Db::new(4.26) };
        assert_eq!(failure.sentence(), "Even the greatest gain does not show the lure: 4.3 dB are missing.");
        assert_eq!((failure.code(), failure.figures()), ("LURE_GAIN_BEYOND_MAX", vec![("missing_db", 4.26)]));
        let notice = Notice::LureInDeadZone { shadow: Metres::new(0.614), lure: Metres::new(0.5) };
        assert_eq!(
            notice.sentence(),
            "The lure hangs 0.5 m over the bottom, but the bottom's own echo hides it up to 0.61 m."
        );
    }
}
