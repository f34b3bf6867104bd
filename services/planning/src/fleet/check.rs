//! Faults of the request that a fleet is planned from. Those of single bookings and units only leave these out.

use std::collections::HashMap;

use super::money::check_budget;
use super::types::FleetInput;
use domain::check::plain;
use domain::{Fault, FaultReason, Id};

/// Most bookings and options of one plan.
const MOST: [(&str, usize); 2] = [("bookings", 5_000), ("options", 200)];
/// Largest gap.
const MOST_GAP: f64 = 0.5;

impl FleetInput {
    /// Every fault that leaves nothing to plan with; empty when there is none.
    pub(super) fn request_faults(&self) -> Vec<Fault> {
        let mut faults = self.counts();
        nested(&mut faults, "sensors", self.sensors.iter().map(|record| (&record.id, record.check())));
        for (field, money) in [("budget", &self.budget), ("change_worth", &self.replan.change_worth)] {
            if let Some(money) = money {
                check_budget(field, money, &mut faults);
            }
        }
        self.options(&mut faults);
        self.currencies(&mut faults);
        faults
    }

    fn counts(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for ((field, most), given) in MOST.into_iter().zip([self.bookings.len(), self.options.len()]) {
            if given == 0 || given > most {
                let reason = if given == 0 { FaultReason::Missing } else { FaultReason::OutOfRange };
                let text =
                    format!("{field} has {given} entries; accepted: 1 to {most}; name at least one, or plan in parts");
                faults.push(Fault::new(field, reason, text));
            }
        }
        if !(0.0..=MOST_GAP).contains(&self.gap) {
            let reason = if self.gap.is_finite() { FaultReason::OutOfRange } else { FaultReason::NotFinite };
            let text = format!("gap is {}; accepted: 0 to {}; leave it out for 0.01", plain(self.gap), plain(MOST_GAP));
            faults.push(Fault::new("gap", reason, text));
        }
        faults
    }

    fn options(&self, faults: &mut Vec<Fault>) {
        let mut seen = HashMap::new();
        for (index, option) in self.options.iter().enumerate() {
            let field = format!("options[{index}]");
            if self.sensors.get(option.sensor).is_none_or(|sensor| sensor.options.len() <= option.option) {
                let text = format!(
                    "{field} names an option that no sensor of the plan has; accepted: options of the given sensors; correct it"
                );
                faults.push(Fault::new(&field, FaultReason::Unknown, text));
            }
            if let Some(first) = seen.insert(*option, index) {
                let text = format!("{field} is the same as options[{first}]; accepted: each option once; drop one");
                faults.push(Fault::new(&field, FaultReason::Duplicate, text));
            }
        }
    }

    /// All that is paid is paid in one currency.
    fn currencies(&self, faults: &mut Vec<Fault>) {
        let sensors = self.sensors.iter().enumerate();
        let offered = sensors.filter(|(index, _)| self.options.iter().any(|option| option.sensor == *index));
        let prices = offered.filter_map(|(_, sensor)| {
            Some((format!("sensors/{}.price.currency_code", sensor.id), &sensor.price.as_ref()?.currency))
        });
        let budget = self.budget.iter().map(|budget| ("budget.currency_code".to_owned(), &budget.currency));
        let worth = self.replan.change_worth.iter();
        let worth = worth.map(|worth| ("change_worth.currency_code".to_owned(), &worth.currency));
        let mut all = budget.chain(worth).chain(prices);
        let Some((first, currency)) = all.next() else { return };
        for (field, other) in all {
            if other != currency {
                let text = format!(
                    "{field} is '{other}', but {first} is '{currency}'; accepted: one currency in a plan; convert one"
                );
                faults.push(Fault::new(field, FaultReason::Contradiction, text));
            }
        }
    }
}

/// Faults of the records of a list, and ids given twice.
fn nested<'a>(faults: &mut Vec<Fault>, list: &str, records: impl Iterator<Item = (&'a Id, Vec<Fault>)>) {
    let mut seen = HashMap::new();
    for (index, (id, found)) in records.enumerate() {
        let at = format!("{list}/{id}");
        faults.extend(found.into_iter().map(|fault| fault.under(&at)));
        if seen.insert(id, index).is_some() {
            let text = format!("{at} is given twice; accepted: each once; drop one");
            faults.push(Fault::new(&at, FaultReason::Duplicate, text));
        }
    }
}
