//! A beam survey as JSON in SI units.

use acoustics::units::{Celsius, Db, Metres};
use domain::{BadId, BeamSurvey, Id, SurveyOutcome, SurveyReading};
use serde::{Deserialize, Serialize};

use super::day;

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct SurveyView {
    id: String,
    display_name: String,
    notes: String,
    sensor: String,
    option: String,
    target: String,
    day: String,
    bottom_temperature_c: f64,
    readings: Vec<ReadingView>,
}

#[derive(Debug, Serialize, Deserialize)]
struct ReadingView {
    offset_m: f64,
    depth_m: f64,
    #[serde(flatten)]
    outcome: OutcomeView,
}

#[derive(Debug, Serialize, Deserialize)]
enum OutcomeView {
    #[serde(rename = "seen_db")]
    Seen(f64),
    #[serde(rename = "not_seen_db")]
    NotSeen(f64),
    #[serde(rename = "least_gain_db")]
    LeastGain(f64),
}

impl From<&BeamSurvey> for SurveyView {
    fn from(s: &BeamSurvey) -> Self {
        let reading = |r: &SurveyReading| ReadingView {
            offset_m: r.offset.get(),
            depth_m: r.depth.get(),
            outcome: match r.outcome {
                SurveyOutcome::Seen(gain) => OutcomeView::Seen(gain.get()),
                SurveyOutcome::NotSeen(gain) => OutcomeView::NotSeen(gain.get()),
                SurveyOutcome::LeastGain(gain) => OutcomeView::LeastGain(gain.get()),
            },
        };
        Self {
            id: s.id.to_string(),
            display_name: s.display_name.clone(),
            notes: s.notes.clone(),
            sensor: s.sensor.to_string(),
            option: s.option.to_string(),
            target: s.target.to_string(),
            day: s.day.to_string(),
            bottom_temperature_c: s.bottom_temperature.get(),
            readings: s.readings.iter().map(reading).collect(),
        }
    }
}

impl TryFrom<SurveyView> for BeamSurvey {
    type Error = BadId;

    fn try_from(v: SurveyView) -> Result<Self, BadId> {
        let reading = |r: ReadingView| SurveyReading {
            offset: Metres::new(r.offset_m),
            depth: Metres::new(r.depth_m),
            outcome: match r.outcome {
                OutcomeView::Seen(gain) => SurveyOutcome::Seen(Db::new(gain)),
                OutcomeView::NotSeen(gain) => SurveyOutcome::NotSeen(Db::new(gain)),
                OutcomeView::LeastGain(gain) => SurveyOutcome::LeastGain(Db::new(gain)),
            },
        };
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            sensor: Id::parse(&v.sensor)?,
            option: Id::parse(&v.option)?,
            target: Id::parse(&v.target)?,
            day: day(&v.day)?,
            bottom_temperature: Celsius::new(v.bottom_temperature_c),
            readings: v.readings.into_iter().map(reading).collect(),
        })
    }
}
