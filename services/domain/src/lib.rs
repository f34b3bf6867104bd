//! What the trade talks about: sensors, spots, shelters, targets, units, bookings, and what a batch is asked and answers,
//! with the checks, defaults, dials, goals and sentences that belong to them. No decision is taken here.
//!
//! Two forms of what is stored: a *record* is what somebody gave, flat, with a plain table of its fields (`field`, `record`), and what is
//! computed with has quantities as newtypes. Neither is `Serialize`. `check` collects every fault of a record, not the first.

pub mod area;
pub mod booking;
mod cancel;
pub mod check;
pub mod defaults;
pub mod desirability;
pub mod dial;
pub mod fault;
pub mod field;
pub mod goal;
pub mod notation;
pub mod record;
pub mod scale;
pub mod selection;
pub mod sensor;
mod sentence;
pub mod setting;
pub mod shelter;
pub mod spot;
pub mod survey;
pub mod target;
pub mod unit;
pub mod value;
pub mod wording;
pub mod words;

pub use booking::Booking;
pub use cancel::{Cancel, CancelOnDrop, Cancelled};
pub use check::{MAX_DRAWS, looks_empty};
pub use dial::DialError;
pub use fault::{Fault, FaultList, FaultReason, MAX_FAULTS};
pub use field::Record;
pub use goal::{CustomGoal, Goal, GoalName, Preset};
pub use record::{GoalRecord, OptionRecord, SensorRecord, ShelterRecord, SpotRecord, TargetRecord};
pub use sensor::{
    BeamOption, Confirmation, DialPoint, DialScale, Fact, GainDial, Money, PatternKind, PatternPoint, Provenance,
    Sensor, Source,
};
pub use sentence::{Part, Sentence, joined};
pub use shelter::{Floor, HolePlan, Point, Shelter};
pub use spot::{BottomClass, Canopy, CanopyDensity, FishLayer, Position, Relief, ReliefKind, Spot};
pub use survey::{BeamSurvey, SurveyOutcome, SurveyReading};
pub use target::{FishClass, SphereMaterial, Target, TargetKind, TargetShape};
pub use unit::{Unit, UnitCheck, UnitState, duplicate_serials};
pub use value::{MAX_NAME_CHARS, MAX_NOTES_CHARS};

/// The last segment of a resource name: lower-case letters, digits and hyphens, 1 to 63 characters, a letter first (AIP-122).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(String);

impl Id {
    /// Accepts a well-formed identifier; the refused text comes back in the error.
    pub fn parse(text: &str) -> Result<Self, BadId> {
        let mut chars = text.chars();
        let first = chars.next().is_some_and(|c| c.is_ascii_lowercase());
        let rest = chars.all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
        if first && rest && text.len() <= 63 && !text.ends_with('-') {
            Ok(Self(text.to_owned()))
        } else {
            Err(BadId { given: text.chars().take(80).collect() })
        }
    }

    /// An identifier made from a name for people; none where nothing of the name is a letter or a digit.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        let mut id = String::new();
        for c in name.to_lowercase().chars() {
            match c {
                'a'..='z' | '0'..='9' => id.push(c),
                'ä' | 'æ' => id.push_str("ae"),
                'ö' | 'ø' | 'œ' => id.push_str("oe"),
                'ü' => id.push_str("ue"),
                'ß' => id.push_str("ss"),
                'à' | 'á' | 'â' | 'ã' | 'å' => id.push('a'),
                'ç' => id.push('c'),
                'è' | 'é' | 'ê' | 'ë' => id.push('e'),
                'ì' | 'í' | 'î' | 'ï' => id.push('i'),
                'ñ' => id.push('n'),
                'ò' | 'ó' | 'ô' | 'õ' => id.push('o'),
                'ù' | 'ú' | 'û' => id.push('u'),
                '°' => id.push_str("deg"),
                _ if !id.is_empty() && !id.ends_with('-') => id.push('-'),
                _ => {}
            }
        }
        if id.starts_with(|c: char| c.is_ascii_digit()) {
            id.insert_str(0, "n-");
        }
        id.truncate(63);
        Self::parse(id.trim_end_matches('-')).ok()
    }

    /// Stands for an id that is not known yet or could not be read; a fault keeps it from ever being stored.
    #[must_use]
    pub fn stand_in() -> Self {
        Self("unreadable".to_owned())
    }

    /// The identifier as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for Id {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// An identifier that is not well formed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{given}' is not an identifier: use 1 to 63 lower-case letters, digits and hyphens, a letter first and no hyphen last"
)]
pub struct BadId {
    /// What was given, cut to 80 characters.
    pub given: String,
}
