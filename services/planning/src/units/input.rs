//! What an assessment is made from, and its faults.

use acoustics::units::Db;

use super::expect::{Observed, expected_gain};
use crate::{LeftOut, PlanningError};
use domain::check::plain;
use domain::{
    BeamOption, Cancel, Fault, FaultReason, Record as _, Sensor, Target, TargetKind, Unit, UnitCheck, duplicate_serials,
};

/// Everything that an assessment is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessmentInput {
    /// The units.
    pub units: Vec<Unit>,
    /// Their sensors.
    pub sensors: Vec<Sensor>,
    /// The reference targets.
    pub targets: Vec<Target>,
    /// The checks.
    pub checks: Vec<UnitCheck>,
    /// Settings.
    pub settings: AssessmentSettings,
}

/// What an assessment may vary.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessmentSettings {
    /// Standard deviation of one reading; default 2 dB, a third of an hour of a dial of 70 dB.
    pub reading_error: Db,
    /// Standard deviation of the model against a unit as stated; default 4 dB (2 of the source level, 2 of the threshold, 3
    /// of the target). Only used where a cohort is too small.
    pub model_error: Db,
    /// A unit is weak when it is worse by more than this; default 6 dB, half of its echo's pressure.
    pub weak_limit: Db,
    /// From this probability on it is called weak; default 0.9.
    pub weak_probability: f64,
    /// From this probability on it is to be watched; default 0.2.
    pub watch_probability: f64,
    /// What the intervals hold; default 0.9.
    pub interval: f64,
}

impl AssessmentSettings {
    /// The defaults with another error of the readings and another limit.
    #[must_use]
    pub fn with(reading_error: Option<Db>, weak_limit: Option<Db>) -> Self {
        Self {
            reading_error: reading_error.unwrap_or(Db::new(2.0)),
            model_error: Db::new(4.0),
            weak_limit: weak_limit.unwrap_or(Db::new(6.0)),
            weak_probability: 0.9,
            watch_probability: 0.2,
            interval: 0.9,
        }
    }

    /// Every fault of the settings.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (field, value, low, high) in
            [("reading_error_db", self.reading_error, 0.2, 10.0), ("weak_limit_db", self.weak_limit, 1.0, 20.0)]
        {
            if !(low..=high).contains(&value.get()) {
                let text = format!(
                    "{field} is {}; accepted: {} to {} dB; leave it out for the default",
                    plain(value.get()),
                    plain(low),
                    plain(high)
                );
                faults.push(Fault::new(field, FaultReason::OutOfRange, text));
            }
        }
        faults
    }
}

impl AssessmentInput {
    /// The checks in numbers, and what was left out.
    ///
    /// # Errors
    /// Faults of the settings, or no check is left; those of the records are told with them. Or the work is cancelled.
    pub(super) fn observed(&self, cancel: &Cancel) -> Result<(Vec<Observed<'_>>, Vec<LeftOut>), PlanningError> {
        let mut left_out: Vec<LeftOut> = Vec::new();
        let mut by_unit = duplicate_serials(&self.units);
        for unit in &self.units {
            cancel.check()?;
            let at = format!("units/{}", unit.id);
            by_unit.extend(unit.check().into_iter().map(|fault| fault.under(&at)));
            if !self.sensors.iter().any(|sensor| sensor.id == unit.sensor) {
                by_unit.push(unknown(&format!("{at}.sensor"), &format!("sensors/{}", unit.sensor)));
            }
            let (own, others) = by_unit.into_iter().partition(|fault| fault.field.starts_with(&format!("{at}.")));
            by_unit = others;
            if !Vec::is_empty(&own) {
                left_out.push(LeftOut::new("units", &unit.id, own));
            }
        }
        let is_out = |unit: usize| {
            let id = self.units.get(unit).map(|unit| &unit.id);
            id.is_some_and(|id| left_out.iter().any(|out| out.name == format!("units/{id}")))
        };
        let mut observed = Vec::with_capacity(self.checks.len());
        let mut bad = Vec::new();
        for (index, check) in self.checks.iter().enumerate() {
            cancel.check()?;
            match self.one(index, check) {
                Ok(Some(one)) if !is_out(one.unit) => observed.push(one),
                Ok(_) => {}
                Err(found) => {
                    let at = format!("unitChecks/{}", check.id);
                    let faults = found.into_iter().map(|fault| fault.under(&at)).collect();
                    bad.push(LeftOut::new("unitChecks", &check.id, faults));
                }
            }
        }
        left_out.extend(bad);
        self.swap_faults(&mut observed, &mut left_out);
        let mut faults = self.settings.check();
        if self.checks.is_empty() {
            let text = "there are no checks of these units; record some with a reference target first";
            faults.push(Fault::new("units", FaultReason::Missing, text));
        }
        if faults.is_empty() && !observed.is_empty() {
            return Ok((observed, left_out));
        }
        faults.extend(left_out.into_iter().flat_map(|out| out.faults));
        Err(PlanningError::Faults(faults))
    }

    /// One check in numbers; none where its unit's sensor is unknown, which is a fault of the unit.
    fn one<'a>(&'a self, index: usize, check: &'a UnitCheck) -> Result<Option<Observed<'a>>, Vec<Fault>> {
        let mut faults = check.check();
        let unit = self.units.iter().position(|unit| unit.id == check.unit);
        let target = self.targets.iter().find(|target| target.id == check.target);
        if unit.is_none() {
            faults.push(unknown("unit", &format!("units/{}", check.unit)));
        }
        match target {
            None => faults.push(unknown("target", &format!("targets/{}", check.target))),
            Some(target) if target.kind != TargetKind::Reference => {
                let text = format!(
                    "target is '{}', which is of another kind; accepted: kind REFERENCE; name another target",
                    target.id
                );
                faults.push(Fault::new("target", FaultReason::Contradiction, text));
            }
            Some(_) => {}
        }
        let kind = unit.and_then(|unit| self.units.get(unit)).map(|unit| &unit.sensor);
        let Some(sensor) = self.sensors.iter().find(|sensor| Some(&sensor.id) == kind) else {
            return if faults.is_empty() { Ok(None) } else { Err(faults) };
        };
        let option = sensor.options.iter().find(|option| option.id == check.option);
        if option.is_none() {
            faults.push(unknown("option", &format!("sensors/{}/options/{}", sensor.id, check.option)));
        }
        let shown = shown(sensor, check).map_err(|fault| faults.push(fault)).ok();
        let (Some(unit), Some(target), Some(option), Some(shown), true) =
            (unit, target, option, shown, faults.is_empty())
        else {
            return Err(faults);
        };
        let (expected, lean_cost) = self.expected((sensor, option), target, check)?;
        let swap = check.swap.as_str();
        Ok(Some(Observed { index, check, unit, sensor, swap, expected, shown, deficit: shown - expected, lean_cost }))
    }

    fn expected(
        &self,
        (sensor, option): (&Sensor, &BeamOption),
        target: &Target,
        check: &UnitCheck,
    ) -> Result<(f64, f64), Vec<Fault>> {
        expected_gain(sensor, option, target, check).map_err(|error| {
            let text = format!("the check leaves what the models cover: {error}; correct it or delete it");
            vec![Fault::new("depth_m", FaultReason::OutOfRange, text)]
        })
    }

    /// A label of a swap belongs to two checks of two units over one target at one depth; another one is not used.
    fn swap_faults(&self, observed: &mut [Observed<'_>], left_out: &mut Vec<LeftOut>) {
        let mut labels: Vec<&str> =
            self.checks.iter().map(|check| check.swap.as_str()).filter(|label| !label.is_empty()).collect();
        labels.sort_unstable();
        labels.dedup();
        for label in labels {
            let pair: Vec<&UnitCheck> = self.checks.iter().filter(|check| check.swap == label).collect();
            let sound = matches!(pair.as_slice(), [a, b] if a.unit != b.unit && a.option == b.option
                && a.target == b.target && a.day == b.day && a.depth == b.depth);
            if let (false, Some(first)) = (sound, pair.first()) {
                let text = format!(
                    "swap '{label}' is borne by {} check(s) and not used; accepted: two checks of two units with one option, over one target at one depth on one day; correct the label",
                    pair.len()
                );
                let fault = Fault::new(format!("unitChecks/{}.swap", first.id), FaultReason::Contradiction, text);
                left_out.push(LeftOut::new("unitChecks", &first.id, vec![fault]));
                let borne = observed.iter_mut().filter(|one| one.check.swap == label);
                borne.for_each(|one| one.swap = "");
            }
        }
    }
}

/// What is wrong with a check of a unit of that kind: a beam that it has not, a position that its dial has not.
#[must_use]
pub fn misread(sensor: &Sensor, check: &UnitCheck) -> Vec<Fault> {
    let known = sensor.options.iter().any(|option| option.id == check.option);
    let option = (!known).then(|| unknown("option", &format!("sensors/{}/options/{}", sensor.id, check.option)));
    option.into_iter().chain(shown(sensor, check).err()).collect()
}

/// The gain at the position that was read.
fn shown(sensor: &Sensor, check: &UnitCheck) -> Result<f64, Fault> {
    let dial = &sensor.dial;
    let after = dial.points.first().map(|point| point.position);
    let position = dial
        .scale
        .parse(&check.shown_at, after)
        .map_err(|error| Fault::new("shown_at", FaultReason::BadForm, format!("shown_at: {error}")))?;
    dial.gain_at(position).map(Db::get).ok_or_else(|| {
        let ends = |point: Option<&domain::DialPoint>| {
            point.map_or_else(String::new, |point| dial.scale.format(point.position))
        };
        let text = format!(
            "shown_at is '{}', which is not on the dial; accepted: {} to {}; read it again",
            check.shown_at,
            ends(dial.points.first()),
            ends(dial.points.last())
        );
        Fault::new("shown_at", FaultReason::OutOfRange, text)
    })
}

fn unknown(field: &str, name: &str) -> Fault {
    let text = format!("{field} is '{name}', which does not exist; accepted: a stored name; list what there is");
    Fault::new(field, FaultReason::Unknown, text)
}
