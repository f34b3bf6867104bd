//! Which units there are on which days.

use std::cmp::Reverse;

use jiff::ToSpan;
use jiff::civil::Date;

use super::roofs::begins;
use super::solver::Away;
use super::types::{FleetInput, Gear, Kept};
use domain::wording::beam_name;
use domain::{Booking, Id, Unit, UnitState};

/// Whether a unit is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Presence {
    /// It can be given out, or is with a booking of the plan.
    Here,
    /// It can be given out from that day on.
    From(Date),
    /// It is not known when it comes back, if ever.
    Gone,
}

/// Where a unit is over the days of the plan. A unit that is overdue counts as gone until it is taken back.
pub(super) fn presence(input: &FleetInput, unit: &Unit) -> Presence {
    match unit.state {
        UnitState::Ready => return Presence::Here,
        UnitState::Retired => return Presence::Gone,
        UnitState::InRepair | UnitState::OnLoan => {}
    }
    if holder(input, unit).is_some() {
        return Presence::Here;
    }
    let today = input.replan.from;
    match unit.back_day {
        Some(back) if today.is_none_or(|today| back > today) => Presence::From(back),
        Some(_) | None => Presence::Gone,
    }
}

/// Whether a unit is in repair or on loan and not known to be back: the plan does without it.
pub(super) fn is_away(input: &FleetInput, unit: &Unit) -> bool {
    unit.state != UnitState::Retired && presence(input, unit) == Presence::Gone
}

/// The booking of the plan that a unit is with.
pub(super) fn holder<'a>(input: &'a FleetInput, unit: &Unit) -> Option<&'a Booking> {
    let lent = unit.lent_to.as_ref().filter(|_| unit.state == UnitState::OnLoan)?;
    input.bookings.iter().find(|booking| booking.id == *lent)
}

/// The units that a booking holds.
pub(super) fn lent_to<'a>(input: &'a FleetInput, booking: &'a Id) -> impl Iterator<Item = &'a Unit> {
    input.units.iter().filter(move |unit| unit.state == UnitState::OnLoan && unit.lent_to.as_ref() == Some(booking))
}

/// What is in the hands of a booking is kept, whatever an earlier plan says or whether there is one.
pub(super) fn keep_what_is_lent(input: &mut FleetInput) {
    let mut kept = Vec::new();
    for booking in &input.bookings {
        let Some(sensor) = lent_to(input, &booking.id).map(|unit| &unit.sensor).max_by_key(|sensor| {
            (lent_to(input, &booking.id).filter(|unit| unit.sensor == **sensor).count(), Reverse(*sensor))
        }) else {
            continue;
        };
        let planned = input.replan.kept.iter().find(|kept| kept.booking == booking.id);
        let Some(record) = input.sensors.iter().find(|known| known.id == *sensor) else { continue };
        let Some(option) = record.options.first() else { continue };
        let units: Vec<Id> =
            lent_to(input, &booking.id).filter(|unit| unit.sensor == *sensor).map(|unit| unit.id.clone()).collect();
        let gear = planned.map(|kept| &kept.gear).filter(|gear| gear.sensor == *sensor).cloned();
        kept.push(Kept {
            booking: booking.id.clone(),
            display_name: booking.display_name.clone(),
            gear: gear.unwrap_or_else(|| Gear {
                sensor: sensor.clone(),
                option: option.id.clone(),
                sensor_name: record.display_name.clone(),
                beam: beam_name(option),
                units: booking.anglers,
            }),
            units,
            promised: true,
        });
    }
    input.replan.kept.retain(|old| kept.iter().all(|new| new.booking != old.booking));
    input.replan.kept.extend(kept);
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
