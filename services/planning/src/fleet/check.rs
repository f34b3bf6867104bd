//! Faults of what a fleet is planned from.

use std::collections::{BTreeMap, HashMap};

use rayon::prelude::*;

use super::money::check_budget;
use super::suit::{hut, party};
use super::types::FleetInput;
use crate::layout::Layouts;
use domain::check::plain;
use domain::{Booking, Cancel, Fault, FaultReason, Id, Record as _, TargetKind, duplicate_serials};

/// Most bookings and options of one plan, and the most days from its first to its last.
const MOST: [(&str, usize); 2] = [("bookings", 5_000), ("options", 200)];
const MOST_DAYS: i32 = 366;
/// Largest gap.
const MOST_GAP: f64 = 0.5;

impl FleetInput {
    /// Every fault of the input; empty when it is sound.
    pub(super) fn check(&self, layouts: &Layouts) -> Vec<Fault> {
        let mut faults = self.counts();
        self.records(&mut faults);
        self.options(&mut faults);
        self.units(&mut faults);
        self.bookings(&mut faults);
        self.currencies(&mut faults);
        self.overlaps(&mut faults);
        self.floors(layouts, &mut faults);
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
        let first = self.bookings.iter().map(|booking| booking.first_day).min();
        let last = self.bookings.iter().map(|booking| booking.last_day).max();
        if let (Some(first), Some(last)) = (first, last) {
            let days = (last - first).get_days() + 1;
            if days > MOST_DAYS {
                let text = format!("bookings run over {days} days; accepted: up to {MOST_DAYS}; plan season by season");
                faults.push(Fault::new("bookings", FaultReason::OutOfRange, text));
            }
        }
        faults
    }

    /// Faults of each record of its own, and ids given twice.
    fn records(&self, faults: &mut Vec<Fault>) {
        nested(faults, "sensors", self.sensors.iter().map(|record| (&record.id, record.check())));
        nested(faults, "units", self.units.iter().map(|record| (&record.id, record.check())));
        nested(faults, "spots", self.spots.iter().map(|record| (&record.id, record.check())));
        nested(faults, "shelters", self.shelters.iter().map(|record| (&record.id, record.check())));
        nested(faults, "targets", self.targets.iter().map(|record| (&record.id, record.check())));
        nested(faults, "bookings", self.bookings.iter().map(|record| (&record.id, record.check())));
        if let Some(budget) = &self.budget {
            check_budget(budget, faults);
        }
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

    fn units(&self, faults: &mut Vec<Fault>) {
        faults.extend(duplicate_serials(&self.units));
        for unit in &self.units {
            if !self.sensors.iter().any(|sensor| sensor.id == unit.sensor) {
                faults.push(unknown(&format!("units/{}.sensor", unit.id), &format!("sensors/{}", unit.sensor)));
            }
        }
    }

    fn bookings(&self, faults: &mut Vec<Fault>) {
        for booking in &self.bookings {
            let field = |name: &str| format!("bookings/{}.{name}", booking.id);
            if !self.spots.iter().any(|spot| spot.id == booking.spot) {
                faults.push(unknown(&field("spot"), &format!("spots/{}", booking.spot)));
            }
            if let Some(shelter) = &booking.shelter
                && !self.shelters.iter().any(|known| known.id == *shelter)
            {
                faults.push(unknown(&field("shelter"), &format!("shelters/{shelter}")));
            }
            for (name, id, kind, word) in
                [("lure", &booking.lure, TargetKind::Lure, "LURE"), ("fish", &booking.fish, TargetKind::Fish, "FISH")]
            {
                match self.targets.iter().find(|target| target.id == *id) {
                    None => faults.push(unknown(&field(name), &format!("targets/{id}"))),
                    Some(target) if target.kind != kind => {
                        let text = format!(
                            "{name} is target '{id}', which is of another kind; accepted: kind {word}; name another target"
                        );
                        faults.push(Fault::new(field(name), FaultReason::Contradiction, text));
                    }
                    Some(_) => {}
                }
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
        let mut all = budget.chain(prices);
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

    /// A shelter stands at one spot at a time.
    fn overlaps(&self, faults: &mut Vec<Fault>) {
        let mut by_shelter: BTreeMap<&Id, Vec<&Booking>> = BTreeMap::new();
        for booking in &self.bookings {
            if let Some(shelter) = &booking.shelter {
                by_shelter.entry(shelter).or_default().push(booking);
            }
        }
        for (shelter, bookings) in by_shelter {
            for (index, later) in bookings.iter().enumerate() {
                for earlier in bookings.iter().take(index) {
                    let overlap = later.first_day <= earlier.last_day && earlier.first_day <= later.last_day;
                    if overlap && later.spot != earlier.spot {
                        let text = format!(
                            "shelter '{shelter}' is booked at spot '{}' by '{}' and at spot '{}' by '{}' on a same day; accepted: one spot at a time; move one of the bookings or take another shelter",
                            earlier.spot, earlier.id, later.spot, later.id
                        );
                        let field = format!("bookings/{}.shelter", later.id);
                        faults.push(Fault::new(field, FaultReason::Contradiction, text));
                    }
                }
            }
        }
    }

    /// A shelter must take the holes of its party.
    fn floors(&self, layouts: &Layouts, faults: &mut Vec<Fault>) {
        let refusals: Vec<Option<Fault>> = self
            .bookings
            .par_iter()
            .map(|booking| {
                let shelter = hut(self, booking).filter(|shelter| shelter.check().is_empty())?;
                let party = party(shelter, booking.anglers);
                let own = party.check().into_iter().next().map(|fault| fault.message);
                let message =
                    own.or_else(|| layouts.holes(&party, &Cancel::never()).err().map(|error| error.to_string()))?;
                let field = format!("bookings/{}.anglers", booking.id);
                Some(Fault::new(field, FaultReason::Contradiction, message))
            })
            .collect();
        faults.extend(refusals.into_iter().flatten());
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

fn unknown(field: &str, name: &str) -> Fault {
    let text = format!("{field} is '{name}', which does not exist; accepted: a stored name; list what there is");
    Fault::new(field, FaultReason::Unknown, text)
}
