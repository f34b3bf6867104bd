//! What a day at the desk holds, from units, bookings and the plan in force.

use std::collections::BTreeSet;

use jiff::ToSpan as _;
use jiff::civil::Date;
use proto::v1;

/// Days for which free units are shown.
const WEEK: i32 = 7;

/// What the desk works with.
pub(super) struct Desk {
    pub(super) units: Vec<v1::Unit>,
    pub(super) bookings: Vec<v1::Booking>,
    /// The newest plan.
    pub(super) plan: Option<v1::FleetPlan>,
}

/// A booking that goes out on a day.
pub(super) struct Out<'a> {
    pub(super) booking: &'a v1::Booking,
    /// What the plan gives it.
    pub(super) given: Option<&'a v1::FleetAssignment>,
    /// Why the plan gives it nothing.
    pub(super) unmet: Option<&'a v1::UnmetBooking>,
    /// Units that it holds already.
    pub(super) held: Vec<&'a v1::Unit>,
    /// Units of the plan that are not there to be given.
    pub(super) missing: Vec<&'a v1::GivenUnit>,
}

/// Units that come back together.
pub(super) struct Return<'a> {
    /// The booking that holds them; none where they are with others.
    pub(super) booking: Option<&'a v1::Booking>,
    pub(super) units: Vec<&'a v1::Unit>,
    /// Days since they were to be back.
    pub(super) late: usize,
}

/// Units of a sensor over the week.
pub(super) struct Free {
    /// Resource name.
    pub(super) sensor: String,
    pub(super) all: usize,
    /// From the day on.
    pub(super) days: Vec<usize>,
}

/// Why the plan in force does not hold any more.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Reason<'a> {
    NoPlan,
    New(&'a str),
    Changed(&'a str),
    Cancelled(&'a str),
    /// A unit that the plan gives to a booking is not there in time.
    Away(&'a v1::Unit),
}

impl Desk {
    /// Bookings that begin on a day, and those that have begun and hold nothing.
    pub(super) fn going_out(&self, day: Date) -> Vec<Out<'_>> {
        let due = |booking: &&v1::Booking| match (date(&booking.first_day), date(&booking.last_day)) {
            (Some(first), Some(last)) => {
                first == day || (first < day && day <= last && self.held_by(&booking.name).is_empty())
            }
            _ => false,
        };
        self.bookings.iter().filter(due).map(|booking| self.out(booking)).collect()
    }

    fn out<'a>(&'a self, booking: &'a v1::Booking) -> Out<'a> {
        let plan = self.plan.as_ref();
        let given = plan.and_then(|plan| plan.assignments.iter().find(|own| own.booking == booking.name));
        let ready = |unit: &&v1::GivenUnit| !self.units.iter().any(|known| known.name == unit.unit && is_ready(known));
        let held = self.held_by(&booking.name);
        let missing =
            given.map(|own| own.given.iter().filter(ready).collect()).filter(|_| held.is_empty()).unwrap_or_default();
        let unmet = plan.and_then(|plan| plan.unmet.iter().find(|own| own.booking == booking.name));
        Out { booking, given, unmet, held, missing }
    }

    fn held_by(&self, booking: &str) -> Vec<&v1::Unit> {
        self.units.iter().filter(|unit| unit.state() == v1::UnitState::OnLoan && unit.lent_to == booking).collect()
    }

    /// Units that are due on a day or were before, the latest first.
    pub(super) fn coming_back(&self, day: Date) -> Vec<Return<'_>> {
        let lent = self.units.iter().filter(|unit| unit.state() == v1::UnitState::OnLoan);
        let mut all: Vec<Return<'_>> = Vec::new();
        for unit in lent {
            let booking = self.bookings.iter().find(|booking| booking.name == unit.lent_to);
            let Some(back) = due(unit, booking) else { continue };
            // The day before is the last on which it is used: then it comes back.
            let Ok(late) = usize::try_from((day - back).get_days() + 1) else { continue };
            let known = all.iter_mut().find(|own| {
                booking.is_some() && own.booking.map(|other| &other.name) == booking.map(|booking| &booking.name)
            });
            match known {
                Some(known) => known.units.push(unit),
                None => all.push(Return { booking, units: vec![unit], late }),
            }
        }
        all.sort_by_key(|own| std::cmp::Reverse(own.late));
        all
    }

    /// Free units of each sensor for a week.
    pub(super) fn free(&self, day: Date) -> Vec<Free> {
        let sensors: BTreeSet<&str> = self.kept().map(|unit| unit.sensor.as_str()).collect();
        let of_day = |sensor: &str, ahead: i32| {
            let on = day.checked_add(ahead.days()).unwrap_or(day);
            self.kept()
                .filter(|unit| {
                    unit.sensor == sensor && self.is_there(unit, on, day) && !self.is_planned(&unit.name, on)
                })
                .count()
        };
        let free = |sensor: &str| Free {
            sensor: sensor.to_owned(),
            all: self.kept().filter(|unit| unit.sensor == sensor).count(),
            days: (0..WEEK).map(|ahead| of_day(sensor, ahead)).collect(),
        };
        sensors.into_iter().map(free).collect()
    }

    /// Whether a unit is at the desk on a day, as far as is known on `day`. One that is overdue is not, until it is taken back.
    fn is_there(&self, unit: &v1::Unit, on: Date, day: Date) -> bool {
        match unit.state() {
            v1::UnitState::Unspecified | v1::UnitState::Ready => true,
            v1::UnitState::OnLoan | v1::UnitState::InRepair => {
                let booking = self.bookings.iter().find(|booking| booking.name == unit.lent_to);
                due(unit, booking).is_some_and(|back| day < back && back <= on)
            }
            v1::UnitState::Retired => false,
        }
    }

    fn kept(&self) -> impl Iterator<Item = &v1::Unit> {
        self.units.iter().filter(|unit| unit.state() != v1::UnitState::Retired)
    }

    fn is_planned(&self, unit: &str, on: Date) -> bool {
        let runs = |own: &&v1::FleetAssignment| matches!((date(&own.first_day), date(&own.last_day)), (Some(first), Some(last)) if first <= on && on <= last);
        let all = self.plan.iter().flat_map(|plan| plan.assignments.iter());
        all.filter(runs).any(|own| own.given.iter().any(|given| given.unit == unit))
    }

    /// Units that are in repair.
    pub(super) fn broken(&self) -> usize {
        self.units.iter().filter(|unit| unit.state() == v1::UnitState::InRepair).count()
    }

    /// Why to plan again from a day on; nothing where the plan holds.
    pub(super) fn reasons(&self, day: Date) -> Vec<Reason<'_>> {
        let open = |last_day: &str| date(last_day).is_some_and(|last| day <= last);
        let ahead: Vec<&v1::Booking> = self.bookings.iter().filter(|booking| open(&booking.last_day)).collect();
        let Some(plan) = &self.plan else {
            return if ahead.is_empty() { Vec::new() } else { vec![Reason::NoPlan] };
        };
        let mut reasons = Vec::new();
        for booking in &ahead {
            match plan.assignments.iter().find(|own| own.booking == booking.name) {
                Some(own) => {
                    let same = (own.first_day == booking.first_day && own.last_day == booking.last_day)
                        && own.units == booking.anglers;
                    if !same {
                        reasons.push(Reason::Changed(&booking.display_name));
                    }
                    let away = |given: &&v1::GivenUnit| {
                        self.units
                            .iter()
                            .find(|unit| unit.name == given.unit)
                            .filter(|unit| !self.comes(unit, booking, day))
                    };
                    reasons.extend(own.given.iter().filter_map(|given| away(&given)).map(Reason::Away));
                }
                None if plan.unmet.iter().any(|own| own.booking == booking.name) => {}
                None => reasons.push(Reason::New(&booking.display_name)),
            }
        }
        let gone = plan
            .assignments
            .iter()
            .filter(|own| open(&own.last_day) && !self.bookings.iter().any(|known| known.name == own.booking));
        reasons.extend(gone.map(|own| Reason::Cancelled(&own.booking_display_name)));
        let mut told: Vec<Reason<'_>> = Vec::new();
        for reason in reasons {
            if !told.contains(&reason) {
                told.push(reason);
            }
        }
        told
    }

    /// Whether a unit is with a booking, or will be there when it begins.
    fn comes(&self, unit: &v1::Unit, booking: &v1::Booking, day: Date) -> bool {
        unit.lent_to == booking.name || date(&booking.first_day).is_some_and(|first| self.is_there(unit, first, day))
    }
}

/// When a unit is to be back: the day after the last one of the booking that holds it, which may have been extended, or else as was said.
fn due(unit: &v1::Unit, booking: Option<&v1::Booking>) -> Option<Date> {
    booking.map_or_else(|| date(&unit.back_day), |booking| date(&booking.last_day)?.tomorrow().ok())
}

fn is_ready(unit: &v1::Unit) -> bool {
    unit.state() == v1::UnitState::Ready
}

pub(super) fn date(text: &str) -> Option<Date> {
    text.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(name: &str, state: v1::UnitState, lent_to: &str, back_day: &str) -> v1::Unit {
        v1::Unit {
            name: format!("units/{name}"),
            sensor: "sensors/alder".to_owned(),
            state: state.into(),
            lent_to: lent_to.to_owned(),
            back_day: back_day.to_owned(),
            ..v1::Unit::default()
        }
    }

    fn booking(name: &str, first: &str, last: &str) -> v1::Booking {
        v1::Booking {
            name: format!("bookings/{name}"),
            display_name: name.to_owned(),
            anglers: 1,
            first_day: first.to_owned(),
            last_day: last.to_owned(),
            ..v1::Booking::default()
        }
    }

    fn given(booking: &v1::Booking, unit: &str) -> v1::FleetAssignment {
        v1::FleetAssignment {
            booking: booking.name.clone(),
            booking_display_name: booking.display_name.clone(),
            units: booking.anglers,
            first_day: booking.first_day.clone(),
            last_day: booking.last_day.clone(),
            given: vec![v1::GivenUnit { unit: format!("units/{unit}"), ..v1::GivenUnit::default() }],
            ..v1::FleetAssignment::default()
        }
    }

    /// Two parties one after the other, and the units of both: one out since the 3rd, one ready, one in repair.
    fn desk() -> Desk {
        let bookings = vec![booking("mill", "2027-02-03", "2027-02-05"), booking("ferry", "2027-02-05", "2027-02-06")];
        let plan = v1::FleetPlan {
            assignments: vec![given(&bookings[0], "u1"), given(&bookings[1], "u2")],
            ..v1::FleetPlan::default()
        };
        Desk {
            units: vec![
                unit("u1", v1::UnitState::OnLoan, "bookings/mill", "2027-02-06"),
                unit("u2", v1::UnitState::Ready, "", ""),
                unit("u3", v1::UnitState::InRepair, "", "2027-02-07"),
            ],
            bookings,
            plan: Some(plan),
        }
    }

    fn day(text: &str) -> Date {
        date(text).unwrap()
    }

    #[test]
    fn a_day_has_who_goes_who_comes_and_what_is_free() {
        let desk = desk();
        assert!(desk.going_out(day("2027-02-04")).is_empty() && desk.coming_back(day("2027-02-04")).is_empty());
        let (out, back) = (desk.going_out(day("2027-02-05")), desk.coming_back(day("2027-02-05")));
        assert_eq!((out.len(), out[0].booking.display_name.as_str(), out[0].missing.len()), (1, "ferry", 0));
        assert_eq!((back.len(), back[0].units.len(), back[0].late), (1, 1, 0));
        assert_eq!(desk.coming_back(day("2027-02-07"))[0].late, 2);
        let free = desk.free(day("2027-02-05"));
        assert_eq!((free.len(), free[0].all), (1, 3));
        assert_eq!(free[0].days, [0, 1, 3, 3, 3, 3, 3]);
        assert_eq!(desk.broken(), 1);
        // What is overdue is not free, and a party that stays longer is not late.
        assert_eq!(desk.free(day("2027-02-07"))[0].days[0], 1);
        let mut longer = super::tests::desk();
        longer.bookings[0].last_day = "2027-02-07".to_owned();
        assert_eq!(longer.coming_back(day("2027-02-07"))[0].late, 0);
    }

    #[test]
    fn a_plan_holds_until_something_it_rests_on_changes() {
        let desk = desk();
        let from = day("2027-02-04");
        assert_eq!(desk.reasons(from), []);
        let with = |change: &dyn Fn(&mut Desk)| {
            let mut desk = super::tests::desk();
            change(&mut desk);
            desk.reasons(from)
                .iter()
                .map(|reason| format!("{reason:?}").chars().take(6).collect::<String>())
                .collect::<Vec<_>>()
        };
        assert_eq!(with(&|desk| desk.plan = None), ["NoPlan"]);
        assert_eq!(with(&|desk| desk.bookings[1].last_day = "2027-02-08".to_owned()), ["Change"]);
        assert_eq!(with(&|desk| drop(desk.bookings.remove(1))), ["Cancel"]);
        assert_eq!(with(&|desk| desk.bookings.push(booking("weir", "2027-02-09", "2027-02-09"))), ["New(\"w"]);
        assert_eq!(with(&|desk| desk.units[1].state = v1::UnitState::InRepair.into()), ["Away(U"]);
        // What is over is no reason.
        assert_eq!(with(&|desk| desk.bookings.push(booking("old", "2027-02-01", "2027-02-02"))), Vec::<String>::new());
    }

    #[test]
    fn a_unit_of_the_plan_that_is_elsewhere_is_missing() {
        let mut desk = desk();
        desk.units[1].state = v1::UnitState::OnLoan.into();
        let out = desk.going_out(day("2027-02-05"));
        assert_eq!(out[0].missing[0].unit, "units/u2");
    }
}
