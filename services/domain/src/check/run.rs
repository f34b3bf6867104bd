//! Checks of what a run is asked.

use super::Faults;
use crate::field::{above, within};
use crate::selection::{Others, RunInput, Settings};
use crate::target::TargetKind;
use crate::{Cancel, Cancelled, Fault, FaultReason, Id, Spot};
use std::collections::HashMap;

/// Most options that the others in a shelter may have: each has tables with every option that is judged.
const MAX_NEIGHBOUR_OPTIONS: usize = 32;
/// Most draws for the uncertainty of one run.
pub const MAX_DRAWS: u32 = 100_000;

impl Settings {
    /// Every fault of these settings, with the field names of the public API's `RunSpec`.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.number(
            "interference_tolerance",
            self.interference_tolerance,
            above(0.0, 0.5, ""),
            "give the largest fraction of interference marks that is fine, or leave it out for 0.02",
        );
        faults.number("lure_margin_db", self.lure_margin.get(), within(0.0, 20.0, "dB"), "leave it out for 3 dB");
        faults.number("strong_mark_db", self.strong_mark.get(), within(0.0, 60.0, "dB"), "leave it out for 30 dB");
        if let Some(offset) = self.lure_offset {
            faults.number(
                "lure_offset_m",
                offset.get(),
                within(0.0, 5.0, "m"),
                "leave it out for the radius of the hole",
            );
        }
        let hang = "leave it out for one that hangs upright";
        faults.number("lean_deg", self.lean.angle.to_degrees(), within(0.0, 30.0, "°"), hang);
        if let Some(direction) = self.lean.direction {
            let away = "leave it out for away from the lure";
            faults.number("lean_direction_deg", direction.to_degrees(), within(0.0, 360.0, "°"), away);
        }
        let most = f64::from(MAX_DRAWS);
        faults.number("draws", f64::from(self.draws), within(0.0, most, ""), "use 0 to leave the uncertainty out");
        faults.found.into_vec()
    }
}

impl RunInput {
    /// Every fault of the run: of its settings, of each record in it, and of how they refer to each other.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        self.check_unless(&Cancel::never()).unwrap_or_default()
    }

    /// The same, given up once it is cancelled.
    ///
    /// # Errors
    /// The work is cancelled.
    pub fn check_unless(&self, cancel: &Cancel) -> Result<Vec<Fault>, Cancelled> {
        let mut faults = Faults::default();
        faults.found.extend(self.settings.check());
        faults.count("spots", self.spots.len(), 1, usize::MAX, "name at least one spot");
        faults.count("options", self.options.len(), 1, usize::MAX, "name at least one option");
        let wanted = |_: &&Spot| !cancel.is_cancelled();
        nested(&mut faults, "spots", self.spots.iter().take_while(wanted).map(|spot| (&spot.id, spot.check())));
        cancel.check()?;
        nested(&mut faults, "sensors", self.sensors.iter().map(|sensor| (&sensor.id, sensor.check())));
        if let Others::Given { sensors, options } = &self.others {
            faults.count("neighbour_options", options.len(), 1, MAX_NEIGHBOUR_OPTIONS, "name what the others may have");
            nested(&mut faults, "neighbours", sensors.iter().map(|sensor| (&sensor.id, sensor.check())));
        }
        if let Some(shelter) = &self.shelter {
            faults.found.extend(shelter.check().into_iter().map(|fault| fault.under("shelter")));
        }
        for (field, target, kind, word) in
            [("lure", &self.lure, TargetKind::Lure, "LURE"), ("fish", &self.fish, TargetKind::Fish, "FISH")]
        {
            faults.found.extend(target.check().into_iter().map(|fault| fault.under(field)));
            if target.kind != kind {
                faults.add(
                    field,
                    FaultReason::Contradiction,
                    format!(
                        "{field} is target '{}', which is of another kind; accepted: kind {word}; name another target",
                        target.id
                    ),
                );
            }
        }
        self.check_options(&mut faults);
        Ok(faults.found.into_vec())
    }

    fn check_options(&self, faults: &mut Faults) {
        let mut seen = HashMap::new();
        for (index, option) in self.options.iter().enumerate() {
            let field = format!("options[{index}]");
            let known = self.sensors.get(option.sensor).is_some_and(|sensor| sensor.options.len() > option.option);
            if !known {
                faults.add(
                    &field,
                    FaultReason::Unknown,
                    format!("{field} names an option that no sensor of the run has; accepted: options of the given sensors; correct it"),
                );
            }
            if let Some(first) = seen.insert(*option, index) {
                faults.add(
                    &field,
                    FaultReason::Duplicate,
                    format!("{field} is the same as options[{first}]; accepted: each option once; drop one"),
                );
            }
        }
    }
}

/// Faults of the records of a list, and ids given twice.
fn nested<'a>(faults: &mut Faults, list: &str, records: impl Iterator<Item = (&'a Id, Vec<Fault>)>) {
    let mut seen = HashMap::new();
    for (index, (id, found)) in records.enumerate() {
        let at = format!("{list}[{index}]");
        faults.found.extend(found.into_iter().map(|fault| fault.under(&at)));
        if let Some(first) = seen.insert(id, index) {
            faults.add(
                &at,
                FaultReason::Duplicate,
                format!("{at} is '{id}', as is {list}[{first}]; accepted: each once; drop one"),
            );
        }
    }
}
