//! Beam surveys.

use acoustics::units::{Celsius, Db, Metres};
use domain::{BeamSurvey, Fault, FaultReason, Id, Record as _, SurveyOutcome, SurveyReading, defaults};
use proto::v1;

use super::Reading;
use crate::names::{self, OptionName};

/// Reads a survey.
pub(crate) fn from(id: Id, message: v1::BeamSurvey) -> Result<BeamSurvey, Vec<Fault>> {
    let mut reading = Reading::default();
    let (sensor, option) = match names::parse_option("option", &message.option) {
        Ok(OptionName::One { sensor, option }) => (sensor, option),
        Ok(OptionName::All { sensor }) => {
            let text = format!("option is 'sensors/{sensor}'; accepted: one of its options; name it");
            reading.refuse("option", FaultReason::BadForm, text);
            (sensor, id.clone())
        }
        Err(fault) => {
            reading.add(fault);
            (id.clone(), id.clone())
        }
    };
    let readings =
        message.readings.iter().enumerate().filter_map(|(index, one)| read(&mut reading, index, one)).collect();
    let survey = BeamSurvey {
        sensor,
        option,
        target: reading.name("target", "targets", &message.target, &id),
        day: reading.day("day", &message.day),
        id,
        display_name: message.display_name,
        notes: message.notes,
        bottom_temperature: message.bottom_temperature_c.map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new),
        readings,
    };
    reading.finish(survey, BeamSurvey::check)
}

fn read(reading: &mut Reading, index: usize, message: &v1::SurveyReading) -> Option<SurveyReading> {
    let gain = Db::new(message.gain_db);
    let outcome = |outcome| match outcome {
        v1::SurveyOutcome::Unspecified => None,
        v1::SurveyOutcome::Seen => Some(SurveyOutcome::Seen(gain)),
        v1::SurveyOutcome::NotSeen => Some(SurveyOutcome::NotSeen(gain)),
        v1::SurveyOutcome::LeastGain => Some(SurveyOutcome::LeastGain(gain)),
        v1::SurveyOutcome::AtOnce => Some(SurveyOutcome::AtOnce),
        v1::SurveyOutcome::Never => Some(SurveyOutcome::Never),
    };
    let field = format!("readings[{index}].outcome");
    Some(SurveyReading {
        offset: Metres::new(message.offset_m),
        depth: Metres::new(message.depth_m),
        outcome: reading.choice(&field, message.outcome, outcome, v1::SurveyOutcome::as_str_name)?,
    })
}

/// Writes a survey, without what the store knows of it.
pub(crate) fn to(survey: &BeamSurvey) -> v1::BeamSurvey {
    v1::BeamSurvey {
        name: format!("beamSurveys/{}", survey.id),
        display_name: survey.display_name.clone(),
        notes: survey.notes.clone(),
        option: domain::selection::option_path(&survey.sensor, &survey.option),
        target: names::of("targets", &survey.target),
        day: survey.day.to_string(),
        bottom_temperature_c: Some(survey.bottom_temperature.get()),
        readings: survey.readings.iter().map(reading_to).collect(),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

/// Writes a reading.
pub(crate) fn reading_to(reading: &SurveyReading) -> v1::SurveyReading {
    let outcome = match reading.outcome {
        SurveyOutcome::Seen(_) => v1::SurveyOutcome::Seen,
        SurveyOutcome::NotSeen(_) => v1::SurveyOutcome::NotSeen,
        SurveyOutcome::LeastGain(_) => v1::SurveyOutcome::LeastGain,
        SurveyOutcome::AtOnce => v1::SurveyOutcome::AtOnce,
        SurveyOutcome::Never => v1::SurveyOutcome::Never,
    };
    v1::SurveyReading {
        offset_m: reading.offset.get(),
        depth_m: reading.depth.get(),
        outcome: outcome.into(),
        gain_db: reading.outcome.gain().map_or(0.0, Db::get),
    }
}
