//! What a fit is made from, and its faults.

use acoustics::units::{Db, Metres};

use crate::reference_echo::ReferenceEcho;
use domain::dial::Rounding;
use domain::{
    BeamOption, BeamSurvey, Fault, FaultReason, GainDial, Id, Record as _, Sensor, SurveyOutcome, Target, TargetKind,
    TargetShape,
};

/// Fewest holes that tell a width from a tilt.
const LEAST_OFFSETS: usize = 3;
/// The step of a dial that does not reach a gain: about that of a dial with as many marks as most have, dB.
const UNKNOWN_STEP: f64 = 1.0;

/// What blurs readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Noise {
    /// Scale of the detection curve, dB.
    pub(super) scale: f64,
    /// Standard deviation of where a hole is, along the line, m.
    pub(super) position: f64,
}

/// The sensor's option and the target, as they are stated.
pub(super) struct Scene {
    pub(super) sounding: ReferenceEcho,
    /// Stated full width at −3 dB, degrees.
    pub(super) stated_width: f64,
    /// Level under which the stated pattern never falls, dB.
    pub(super) floor: f64,
    dial: GainDial,
    max_gain: Db,
}

impl Scene {
    pub(super) fn new(
        known: (&Sensor, &BeamOption),
        target: &Target,
        depth: Metres,
        temperature: acoustics::units::Celsius,
    ) -> Result<Self, Fault> {
        let sounding = ReferenceEcho::new(known, target, depth, temperature).map_err(|error| {
            let text = format!("the survey leaves what the models cover: {error}; correct it");
            Fault::new("readings", FaultReason::OutOfRange, text)
        })?;
        let width = sounding.pattern().width(acoustics::units::WidthLevel::Minus3).to_degrees();
        Ok(Self {
            sounding,
            stated_width: width,
            floor: known.1.floor.value.get(),
            dial: known.0.dial.clone(),
            max_gain: known.0.max_gain.value,
        })
    }

    /// The lowest gain of the dial.
    pub(super) fn lowest(&self) -> Db {
        self.dial.points.first().map_or(Db::new(0.0), |point| point.gain)
    }

    /// The highest gain that a hand can set.
    pub(super) fn highest(&self) -> Db {
        self.dial.points.last().map_or(self.max_gain, |point| point.gain)
    }

    /// The gain one mark of the dial under that one; none at the lowest.
    pub(super) fn one_step_under(&self, gain: Db) -> Option<Db> {
        if gain <= self.lowest() {
            return None;
        }
        let Some(position) = self.dial.position_of(gain) else { return Some(gain - Db::new(UNKNOWN_STEP)) };
        Some(self.dial.gain_at(position - self.dial.scale.mark()).unwrap_or(self.lowest()))
    }

    /// What somebody reads who turns the dial up from its lowest gain until the target shows, which it does from `least` on.
    pub(super) fn sought(&self, least: Db) -> SurveyOutcome {
        if least <= self.lowest() {
            return SurveyOutcome::AtOnce;
        }
        let mark = self.dial.rounded_position(least, Rounding::Up);
        match mark.and_then(|position| self.dial.gain_at(position)) {
            Some(gain) => SurveyOutcome::LeastGain(gain),
            None => SurveyOutcome::Never,
        }
    }
}

/// The option and the target, or the faults of their names.
pub(super) fn named<'a>(
    sensor: &'a Sensor,
    option: &Id,
    target: &Target,
) -> Result<(&'a Sensor, &'a BeamOption), Vec<Fault>> {
    let mut faults = Vec::new();
    let found = sensor.options.iter().find(|known| known.id == *option);
    if found.is_none() {
        let text = format!(
            "option is 'sensors/{}/options/{option}', which does not exist; accepted: an option of that sensor; correct the name",
            sensor.id
        );
        faults.push(Fault::new("option", FaultReason::Unknown, text));
    }
    if target.kind != TargetKind::Reference {
        let text = format!(
            "target is '{}', which is of another kind; accepted: kind REFERENCE; name another target",
            target.id
        );
        faults.push(Fault::new("target", FaultReason::Contradiction, text));
    } else if !matches!(target.shape, TargetShape::Sphere { .. } | TargetShape::Known(_)) {
        let text = format!(
            "target is '{}', which has a beam of its own; accepted: a ball, which echoes alike from everywhere; name a ball",
            target.id
        );
        faults.push(Fault::new("target", FaultReason::Contradiction, text));
    }
    match found {
        Some(option) if faults.is_empty() => Ok((sensor, option)),
        _ => Err(faults),
    }
}

/// The scene of a survey, or every fault there is.
pub(super) fn scene(survey: &BeamSurvey, sensor: &Sensor, target: &Target) -> Result<Scene, Vec<Fault>> {
    let mut faults = survey.check();
    if !survey.readings.is_empty() {
        faults.extend(reading_faults(survey));
    }
    let known = named(sensor, &survey.option, target).map_err(|mut found| faults.append(&mut found));
    let (Ok(known), true) = (known, faults.is_empty()) else { return Err(faults) };
    let deepest = survey.readings.iter().map(|reading| reading.depth.get()).fold(0.5, f64::max);
    Scene::new(known, target, Metres::new(deepest), survey.bottom_temperature).map_err(|fault| vec![fault])
}

fn reading_faults(survey: &BeamSurvey) -> Vec<Fault> {
    let mut faults = Vec::new();
    let seen = |outcome: SurveyOutcome| !matches!(outcome, SurveyOutcome::NotSeen(_) | SurveyOutcome::Never);
    // A least gain says both: it showed from there on, and not under it.
    let missed = |outcome: SurveyOutcome| !matches!(outcome, SurveyOutcome::Seen(_) | SurveyOutcome::AtOnce);
    if !survey.readings.iter().any(|reading| seen(reading.outcome)) {
        let text = "readings hold no detection at all, so nothing can be told of the beam; check target, cable and gain, and survey again";
        faults.push(Fault::new("readings", FaultReason::Contradiction, text));
    }
    if !survey.readings.iter().any(|reading| missed(reading.outcome)) {
        let text =
            "readings hold nothing but detections, so nothing bounds the beam; try lower gains and holes further out";
        faults.push(Fault::new("readings", FaultReason::Contradiction, text));
    }
    let mut offsets: Vec<f64> = survey.readings.iter().map(|reading| reading.offset.get()).collect();
    offsets.sort_by(f64::total_cmp);
    offsets.dedup();
    if offsets.len() < LEAST_OFFSETS {
        let text = format!(
            "readings come from {} hole(s); accepted: {LEAST_OFFSETS} or more along the line; drill further ones",
            offsets.len()
        );
        faults.push(Fault::new("readings", FaultReason::Missing, text));
    }
    faults
}
