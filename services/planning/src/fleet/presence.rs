//! Which units there are on which days.

use jiff::ToSpan;
use jiff::civil::Date;

use super::roofs::begins;
use super::solver::Away;
use super::types::{Absence, FleetInput};
use domain::{Id, Unit, UnitState};

/// Whether a unit is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Presence {
    /// It can be given out, or is with a booking of the plan.
    Here,
    /// It can be given out from that day on.
    From(Date),
    /// Nobody knows when it comes back, if ever.
    Gone,
}

/// Where a unit is over the days of the plan. A unit that is overdue counts as gone until it is taken back.
pub(super) fn presence(input: &FleetInput, unit: &Unit) -> Presence {
    match unit.state {
        UnitState::Ready => return Presence::Here,
        UnitState::Retired => return Presence::Gone,
        UnitState::InRepair | UnitState::OnLoan => {}
    }
    let Some(absence) = input.replan.absences.iter().find(|absence| absence.unit == unit.id) else {
        return Presence::Gone;
    };
    if with_a_booking(input, absence) {
        return Presence::Here;
    }
    let today = input.replan.from;
    match absence.back {
        Some(back) if today.is_none_or(|today| back > today) => Presence::From(back),
        Some(_) | None => Presence::Gone,
    }
}

/// Whether a unit is with a booking of the plan that keeps it.
fn with_a_booking(input: &FleetInput, absence: &Absence) -> bool {
    let holds = |id: &Id| {
        let planned = input.bookings.iter().any(|booking| booking.id == *id);
        planned && input.replan.kept.iter().any(|kept| kept.booking == *id)
    };
    absence.booking.as_ref().is_some_and(holds)
}

/// Units of a sensor that are there on some day of the plan at least.
pub(super) fn stock(input: &FleetInput, sensor: usize) -> u32 {
    count(of_sensor(input, sensor).filter(|unit| presence(input, unit) != Presence::Gone))
}

/// Units of a sensor's stock that are away on a day.
pub(super) fn away_on(input: &FleetInput, sensor: usize, day: Date) -> u32 {
    let away = |unit: &&Unit| matches!(presence(input, unit), Presence::From(back) if day < back);
    count(of_sensor(input, sensor).filter(away))
}

/// The absences of a sensor's stock for the solver; `place` is the sensor's place in it, `start` its first day.
pub(super) fn absences(input: &FleetInput, (sensor, place): (usize, usize), start: Date) -> Vec<Away> {
    let number = |day: Date| (day - start).get_days();
    let away = |unit: &Unit| match presence(input, unit) {
        Presence::From(back) if back > start => {
            let last = back.checked_sub(1.day()).map_or(0, number);
            Some(Away { sensor: place, units: 1, first: 0, last })
        }
        Presence::From(_) | Presence::Here | Presence::Gone => None,
    };
    of_sensor(input, sensor).filter_map(away).collect()
}

/// The first day that is planned; the input is sifted and has some bookings.
pub(super) fn first_day(input: &FleetInput) -> Date {
    input.bookings.iter().map(|booking| begins(booking, input.replan.from)).min().unwrap_or_default()
}

fn of_sensor(input: &FleetInput, sensor: usize) -> impl Iterator<Item = &Unit> {
    let id = input.sensors.get(sensor).map(|sensor| &sensor.id);
    input.units.iter().filter(move |unit| Some(&unit.sensor) == id)
}

fn count<'a>(units: impl Iterator<Item = &'a Unit>) -> u32 {
    u32::try_from(units.count()).unwrap_or(u32::MAX)
}
