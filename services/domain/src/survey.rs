//! Beam surveys: a target lowered through a line of holes.

use acoustics::units::{Celsius, Db, Metres};
use jiff::civil::Date;

use crate::check::Faults;
use crate::field::{Field, List, Record, names, within};
use crate::record::sensor::GAIN;
use crate::record::spot::{BOTTOM_TEMPERATURE, DEPTH};
use crate::{Fault, FaultReason, Id, defaults};

type ReadingField = Field<SurveyReading>;
type SurveyField = Field<BeamSurvey>;

/// Most readings of one survey.
const MAX_READINGS: usize = 5_000;

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
    /// It showed from that gain upwards, and not one step of the dial under it.
    LeastGain(Db),
    /// It showed at once, at the lowest gain that the dial has.
    AtOnce,
    /// It never showed, not at the highest gain either.
    Never,
}

impl SurveyOutcome {
    /// The gain that the reading is about; none where it is about an end of the dial.
    #[must_use]
    pub fn gain(self) -> Option<Db> {
        match self {
            Self::Seen(gain) | Self::NotSeen(gain) | Self::LeastGain(gain) => Some(gain),
            Self::AtOnce | Self::Never => None,
        }
    }
}

/// A gain that nobody gave.
const NO_GAIN: Db = Db::new(f64::NAN);

type MakeOutcome = fn(Db) -> SurveyOutcome;

/// Names of what a reading says, each with how it is made of a gain.
const OUTCOMES: [(&str, MakeOutcome); 5] = [
    ("seen", SurveyOutcome::Seen),
    ("not_seen", SurveyOutcome::NotSeen),
    ("least_gain", SurveyOutcome::LeastGain),
    ("at_once", |_| SurveyOutcome::AtOnce),
    ("never", |_| SurveyOutcome::Never),
];
const OUTCOME_NAMES: &[&str] = &names(&OUTCOMES);

/// The fields of one reading.
pub const READING_FIELDS: &[Field<SurveyReading>] = &[
    ReadingField::number(
        "offset_m",
        within(-30.0, 30.0, "m"),
        |r| Some(r.offset.get()),
        |r, v| r.offset = Metres::new(v),
    )
    .required()
    .accepts("along the line of holes, negative on one side")
    .advice("give the distance along the line of holes, negative on one side")
    .example("0.5"),
    ReadingField::number("depth_m", DEPTH, |r| Some(r.depth.get()), |r, v| r.depth = Metres::new(v))
        .required()
        .accepts("of the target under the transducer")
        .advice("give the depth of the target under the transducer")
        .example("6"),
    ReadingField::choice(
        "outcome",
        OUTCOME_NAMES,
        |r| match r.outcome {
            SurveyOutcome::Seen(_) => Some("seen"),
            SurveyOutcome::NotSeen(_) => Some("not_seen"),
            SurveyOutcome::LeastGain(_) => Some("least_gain"),
            SurveyOutcome::AtOnce => Some("at_once"),
            SurveyOutcome::Never => Some("never"),
        },
        |r, name| {
            if let Some((_, make)) = OUTCOMES.iter().find(|(known, _)| *known == name) {
                r.outcome = make(r.outcome.gain().unwrap_or(NO_GAIN));
            }
        },
    )
    .required()
    .example("least_gain"),
    ReadingField::number(
        "gain_db",
        GAIN,
        |r| r.outcome.gain().map(Db::get).filter(|gain| !gain.is_nan()),
        |r, v| {
            let gain = Db::new(v);
            r.outcome = match r.outcome {
                SurveyOutcome::Seen(_) => SurveyOutcome::Seen(gain),
                SurveyOutcome::NotSeen(_) => SurveyOutcome::NotSeen(gain),
                SurveyOutcome::LeastGain(_) => SurveyOutcome::LeastGain(gain),
                end @ (SurveyOutcome::AtOnce | SurveyOutcome::Never) => end,
            };
        },
    )
    .left_out("no figure, with at_once and never")
    .accepts("over zero gain")
    .advice("give the gain in decibels over zero gain")
    .example("24.5"),
];

/// The readings of a survey.
pub const READINGS: List<BeamSurvey, SurveyReading> = List {
    path: "readings",
    fields: READING_FIELDS,
    get: |s| s.readings.clone(),
    set: |s, readings| s.readings = readings,
    blank: SurveyReading::blank,
};

impl SurveyReading {
    /// A reading of which nothing is known.
    #[must_use]
    pub const fn blank() -> Self {
        Self { offset: Metres::new(0.0), depth: Metres::new(0.0), outcome: SurveyOutcome::LeastGain(NO_GAIN) }
    }
}

impl Record for BeamSurvey {
    type Known = Self;
    const COLLECTION: &'static str = "beamSurveys";

    const FIELDS: &'static [Field<Self>] = &[
        SurveyField::id(|s| &s.id, |s, id| s.id = id).example("narrow-jan"),
        SurveyField::name(|s| &s.display_name, |s, text| s.display_name = text).example("Narrow beam, January"),
        SurveyField::notes(|s| &s.notes, |s, text| s.notes = text),
        SurveyField::reference("sensor", "sensors", |s| Some(&s.sensor), |s, id| s.sensor = id)
            .required()
            .example("two-beam"),
        SurveyField::reference("option", "sensors/{sensor}/options", |s| Some(&s.option), |s, id| s.option = id)
            .required()
            .accepts("of the sensor")
            .example("narrow"),
        SurveyField::reference("target", "targets", |s| Some(&s.target), |s, id| s.target = id)
            .required()
            .accepts("of kind reference")
            .example("check-ball-38"),
        SurveyField::day("day", |s| Some(s.day), |s, day| s.day = day).required(),
        SurveyField::number(
            "bottom_temperature_c",
            BOTTOM_TEMPERATURE,
            |s| Some(s.bottom_temperature.get()),
            |s, v| s.bottom_temperature = Celsius::new(v),
        )
        .left_out("4")
        .advice("give the temperature at the bottom, or leave it out for 4 °C")
        .example("4"),
    ];

    fn blank(id: Id) -> Self {
        Self {
            sensor: id.clone(),
            option: id.clone(),
            target: id.clone(),
            id,
            display_name: String::new(),
            notes: String::new(),
            day: Date::default(),
            bottom_temperature: defaults::BOTTOM_TEMPERATURE,
            readings: Vec::new(),
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Self, Fault> {
        Ok(self.clone())
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        if faults.count("readings", self.readings.len(), 1, MAX_READINGS, "give what was seen") {
            faults.each("readings", &self.readings, READING_FIELDS, lacking_gain);
        }
        faults.found.into_vec()
    }
}

/// Every outcome but those at an end of the dial is about a gain.
fn lacking_gain(reading: &SurveyReading, faults: &mut Faults) {
    if reading.outcome.gain().is_some_and(|gain| gain.get().is_nan()) {
        let text = "gain_db is left out; accepted: 0 to 140 dB, or no figure with the outcomes at_once and never; give the gain in decibels over zero gain";
        faults.add("gain_db", FaultReason::Missing, text.to_owned());
    }
}
