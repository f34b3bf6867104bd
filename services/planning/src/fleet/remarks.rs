//! What else is worth knowing about a plan.

use super::money::written;
use super::types::FleetInput;
use super::usage::Usage;
use super::{currency, price};
use crate::domain::UnitState;

/// Sentences by sensor in the order of their names, those about proofs first.
pub(super) fn remarks(input: &FleetInput, met_is_proven: bool, usage: &Usage) -> Vec<String> {
    let mut remarks = Vec::new();
    if !met_is_proven {
        remarks.push(
            "The search ended before it was proven that no more anglers can be met: a larger budget or fewer bookings at a time may show more."
                .to_owned(),
        );
    }
    let mut sensors: Vec<usize> = (0..input.sensors.len()).collect();
    sensors.sort_by_key(|index| input.sensors.get(*index).map(|sensor| &sensor.id));
    for sensor in sensors {
        remarks.extend(saved(input, usage, sensor));
        remarks.extend(idle(input, usage, sensor));
    }
    remarks
}

/// Units in repair or on loan that would save a purchase: with the same assignments each of them takes the place of one that
/// is bought.
fn saved(input: &FleetInput, usage: &Usage, sensor: usize) -> Option<String> {
    let record = input.sensors.get(sensor)?;
    let (_, bought) = usage.stock(sensor);
    let state = |wanted: UnitState| {
        let units = input.units.iter().filter(move |unit| unit.sensor == record.id && unit.state == wanted);
        let mut serials: Vec<&str> = units.map(|unit| unit.serial.as_str()).collect();
        serials.sort_unstable();
        serials
    };
    let (repair, loan) = (state(UnitState::InRepair), state(UnitState::OnLoan));
    let spare = u32::try_from(repair.len() + loan.len()).unwrap_or(u32::MAX);
    let count = spare.min(bought);
    let saving = price(input, sensor)? * i128::from(count);
    let mut places = Vec::new();
    for (serials, place) in [(repair, "in repair"), (loan, "on loan")] {
        if !serials.is_empty() {
            places.push(format!("{place}: {}", serials.join(", ")));
        }
    }
    (count > 0).then(|| {
        format!(
            "{count} of the {bought} units of {} to buy, {}, would be saved by units that are not ready ({}), were they ready in time.",
            record.display_name,
            written(saving, currency(input)),
            places.join("; ")
        )
    })
}

/// Units ready that no booking uses on any day.
fn idle(input: &FleetInput, usage: &Usage, sensor: usize) -> Option<String> {
    let record = input.sensors.get(sensor)?;
    let (ready, _) = usage.stock(sensor);
    let idle = ready.saturating_sub(usage.peak(sensor));
    (idle > 0).then(|| match (idle, ready) {
        (idle, ready) if idle == ready => {
            format!("No booking uses any of the {ready} ready units of {}.", record.display_name)
        }
        (1, ready) => format!("1 of the {ready} ready units of {} is not needed on any day.", record.display_name),
        _ => format!("{idle} of the {ready} ready units of {} are not needed on any day.", record.display_name),
    })
}
