//! Beam surveys: a target lowered through a line of holes.

use acoustics::units::{Celsius, Db, Metres};
use jiff::civil::Date;

use super::Id;

/// A survey of one beam.
#[derive(Debug, Clone, PartialEq)]
pub struct BeamSurvey {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// The sensor.
    pub sensor: Id,
    /// The option of it that was surveyed.
    pub option: Id,
    /// The reference target.
    pub target: Id,
    /// The day.
    pub day: Date,
    /// Temperature at the bottom.
    pub bottom_temperature: Celsius,
    /// What was seen.
    pub readings: Vec<SurveyReading>,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurveyReading {
    /// Distance of the target's hole from the transducer's along the line; negative on one side.
    pub offset: Metres,
    /// Depth of the target under the transducer.
    pub depth: Metres,
    /// What was seen.
    pub outcome: SurveyOutcome,
}

/// What a reading says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SurveyOutcome {
    /// The target showed at that gain.
    Seen(Db),
    /// It did not.
    NotSeen(Db),
    /// It showed from that gain upwards, and not under it.
    LeastGain(Db),
}

impl SurveyOutcome {
    /// The gain that the reading is about.
    #[must_use]
    pub fn gain(self) -> Db {
        match self {
            Self::Seen(gain) | Self::NotSeen(gain) | Self::LeastGain(gain) => gain,
        }
    }
}
