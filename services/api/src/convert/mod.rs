//! proto <-> domain, one module a resource. Reading collects every fault of a message; writing cannot fail.
//!
//! Nothing is lost on the way: what a caller gives comes back the same, and what is left out stays so. Days and positions of a dial, which are text that can be written in several ways, come back in one of them.

pub(crate) mod assessment;
pub(crate) mod beam_fit;
pub(crate) mod beam_survey;
pub(crate) mod booking;
pub(crate) mod choice;
pub(crate) mod custom_goal;
pub(crate) mod fact;
pub(crate) mod finding;
pub(crate) mod fleet_plan;
pub(crate) mod option;
pub(crate) mod recommendation;
pub(crate) mod report;
pub(crate) mod rules;
pub(crate) mod run;
pub(crate) mod seats;
pub(crate) mod sensor;
pub(crate) mod sentence;
pub(crate) mod shelter;
pub(crate) mod spot;
pub(crate) mod target;
pub(crate) mod unit;
pub(crate) mod unit_check;

#[cfg(test)]
mod properties;

use domain::{Fault, FaultList, FaultReason, Id};
use jiff::civil::Date;

/// Collects the faults of a message's form while it is read; figures out of range are found by the record's own check.
#[derive(Debug, Default)]
pub(crate) struct Reading {
    faults: FaultList,
}

impl Reading {
    /// Refuses a field.
    pub(crate) fn refuse(&mut self, field: impl Into<String>, reason: FaultReason, message: impl Into<String>) {
        self.faults.push(Fault::new(field, reason, message));
    }

    /// Takes over a fault that was found elsewhere.
    pub(crate) fn add(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Reads the name of another record; where it is refused, `stand_in` stands for it.
    pub(crate) fn name(&mut self, field: &str, collection: &'static str, name: &str, stand_in: &Id) -> Id {
        crate::names::parse(field, collection, name).unwrap_or_else(|fault| {
            self.add(fault);
            stand_in.clone()
        })
    }

    /// Reads an id; where it is refused, `stand_in` stands for it.
    pub(crate) fn id(&mut self, field: &str, id: &str, stand_in: &Id) -> Id {
        crate::names::parse_id(field, id).unwrap_or_else(|fault| {
            self.add(fault);
            stand_in.clone()
        })
    }

    /// Reads a day; where it is refused, some day stands for it.
    pub(crate) fn day(&mut self, field: &str, text: &str) -> Date {
        text.parse().unwrap_or_else(|_| {
            let given: String = text.chars().take(40).collect();
            let reason = if given.is_empty() { FaultReason::Missing } else { FaultReason::BadForm };
            let message = format!("{field} is '{given}'; accepted: year, month and day such as 2027-01-15; correct it");
            self.refuse(field, reason, message);
            Date::default()
        })
    }

    /// Refuses a field that is left out.
    pub(crate) fn missing(&mut self, field: &str, advice: &str) {
        self.refuse(field, FaultReason::Missing, format!("{field} is left out; it is required; {advice}"));
    }

    /// Takes over the faults of a record inside this one.
    pub(crate) fn under(&mut self, prefix: &str, inner: Reading) {
        self.faults.extend(inner.faults.into_vec().into_iter().map(|fault| fault.under(prefix)));
    }

    /// Reads an enumeration; `read` gives nothing for a value that says nothing, `name` is the one of the protocol.
    pub(crate) fn choice<E: TryFrom<i32>, T>(
        &mut self,
        field: &str,
        number: i32,
        read: impl Fn(E) -> Option<T>,
        name: fn(&E) -> &'static str,
    ) -> Option<T> {
        // 0 says nothing; the others are few and numbered from 1.
        let names = || (1..100).filter_map(|n| E::try_from(n).ok().as_ref().map(name)).collect::<Vec<_>>().join(", ");
        let Ok(value) = E::try_from(number) else {
            let message = format!("{field} is {number}, which names nothing; accepted: {}", names());
            self.refuse(field, FaultReason::BadForm, message);
            return None;
        };
        let chosen = read(value);
        if chosen.is_none() {
            self.missing(field, &format!("accepted: {}", names()));
        }
        chosen
    }

    /// Reads an enumeration that may be left out.
    pub(crate) fn optional_choice<E: TryFrom<i32>, T>(
        &mut self,
        field: &str,
        number: i32,
        read: impl Fn(E) -> Option<T>,
        name: fn(&E) -> &'static str,
    ) -> Option<T> {
        // 0 says nothing in every enumeration of the protocol.
        if number == 0 { None } else { self.choice(field, number, read, name) }
    }

    /// Ends the reading: the value, or its faults of form together with those that its own check found. Where a field
    /// was already refused, the check saw a stand-in: it is not heard on that field, nor on what contradicts what.
    pub(crate) fn finish<T>(self, value: T, check: impl FnOnce(&T) -> Vec<Fault>) -> Result<T, Vec<Fault>> {
        let mut faults = self.faults;
        let found = check(&value);
        if faults.is_empty() {
            return if found.is_empty() { Ok(value) } else { Err(found) };
        }
        for fault in found {
            if fault.reason != FaultReason::Contradiction
                && !faults.iter().any(|known| covers(&known.field, &fault.field))
            {
                faults.push(fault);
            }
        }
        Err(faults.into_vec())
    }
}

/// Whether a fault at `known` speaks for the field `other`: the same one, one inside it, or the one that holds it.
fn covers(known: &str, other: &str) -> bool {
    let inside = |outer: &str, inner: &str| {
        inner.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
    };
    inside(known, other) || inside(other, known)
}

/// Joins the missing required fields with what reading found, each field once.
pub(crate) fn joined<T>(missing: Vec<Fault>, read: Result<T, Vec<Fault>>) -> Result<T, Vec<Fault>> {
    match read {
        Ok(value) if missing.is_empty() => Ok(value),
        Ok(_) => Err(missing),
        Err(found) => {
            let mut faults: FaultList = missing.into_iter().collect();
            for fault in found {
                faults.push_first_of_field(fault);
            }
            Err(faults.into_vec())
        }
    }
}

/// A record that was left out.
pub(crate) fn left_out_to(out: &planning::LeftOut) -> proto::v1::LeftOut {
    proto::v1::LeftOut { name: out.name.clone(), text: out.text() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_choice_lists_the_known_ones() {
        let mut reading = Reading::default();
        let read = |_: proto::v1::Paper| Some(());
        assert_eq!(reading.choice("paper", 7, read, proto::v1::Paper::as_str_name), None);
        assert_eq!(
            reading.faults.iter().next().unwrap().message,
            "paper is 7, which names nothing; accepted: PAPER_A4, PAPER_US_LETTER"
        );
    }

    #[test]
    fn a_stand_in_is_not_judged_twice() {
        let mut reading = Reading::default();
        reading.missing("depth_m", "");
        let check = |_: &()| {
            vec![
                Fault::new("depth_m", FaultReason::OutOfRange, "0"),
                Fault::new("lure_height_m", FaultReason::Contradiction, "not below the depth"),
                Fault::new("slope_deg", FaultReason::OutOfRange, "90"),
            ]
        };
        let faults = reading.finish((), check).unwrap_err();
        assert_eq!(faults.iter().map(|fault| fault.field.as_str()).collect::<Vec<_>>(), ["depth_m", "slope_deg"]);
    }
}
