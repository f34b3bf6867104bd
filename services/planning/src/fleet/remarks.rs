//! What else is worth knowing about a plan.

use super::money::{currency, price, written};
use super::presence;
use super::types::FleetInput;
use super::usage::Usage;
use crate::LeftOut;
use domain::{Part, Sentence, Unit, UnitState};

/// Sentences by sensor in the order of their names, those about proofs first.
pub(super) fn remarks(input: &FleetInput, met_is_proven: bool, usage: &Usage) -> Vec<Sentence> {
    let mut remarks = Vec::new();
    if !met_is_proven {
        remarks.push(Sentence::plain("remark-open"));
    }
    let mut sensors: Vec<usize> = (0..input.sensors.len()).collect();
    sensors.sort_by_key(|index| input.sensors.get(*index).map(|sensor| &sensor.id));
    for sensor in sensors {
        remarks.extend(saved(input, usage, sensor));
        remarks.extend(idle(input, usage, sensor));
    }
    remarks
}

/// A record that was planned without.
pub(super) fn left_out(out: &LeftOut) -> Sentence {
    let parts = [("record", Part::Name(out.name.clone())), ("why", Part::Name(out.text()))];
    Sentence::new("remark-left-out", parts)
}

/// Units in repair or on loan that would save a purchase: with the same assignments each of them takes the place of one that
/// is bought.
fn saved(input: &FleetInput, usage: &Usage, sensor: usize) -> Option<Sentence> {
    let record = input.sensors.get(sensor)?;
    let (_, bought) = usage.stock(sensor);
    let state = |wanted: UnitState| {
        let away = |unit: &&Unit| unit.sensor == record.id && unit.state == wanted && presence::is_away(input, unit);
        let units = input.units.iter().filter(away);
        let mut serials: Vec<&str> = units.map(|unit| unit.serial.as_str()).collect();
        serials.sort_unstable();
        serials
    };
    let (repair, loan) = (state(UnitState::InRepair), state(UnitState::OnLoan));
    let spare = u32::try_from(repair.len() + loan.len()).unwrap_or(u32::MAX);
    let count = spare.min(bought);
    let saving = price(input, sensor)? * i128::from(count);
    if count == 0 {
        return None;
    }
    let key = match (repair.is_empty(), loan.is_empty()) {
        (_, true) => "remark-saved-repair",
        (true, false) => "remark-saved-loan",
        (false, false) => "remark-saved-both",
    };
    let parts = [
        ("count", Part::Figure(count.to_string())),
        ("bought", Part::Figure(bought.to_string())),
        ("sensor", Part::Name(record.display_name.clone())),
        ("saving", Part::Figure(written(saving, currency(input)))),
        ("repair", Part::Name(repair.join(", "))),
        ("loan", Part::Name(loan.join(", "))),
    ];
    Some(Sentence::new(key, parts))
}

/// Units ready that no booking uses on any day.
fn idle(input: &FleetInput, usage: &Usage, sensor: usize) -> Option<Sentence> {
    let record = input.sensors.get(sensor)?;
    let (ready, _) = usage.stock(sensor);
    let idle = ready.saturating_sub(usage.peak(sensor));
    let key = match idle {
        0 => return None,
        all if all == ready => "remark-idle-all",
        _ => "remark-idle",
    };
    let parts = [
        ("idle", Part::count(idle)),
        ("ready", Part::Figure(ready.to_string())),
        ("sensor", Part::Name(record.display_name.clone())),
    ];
    Some(Sentence::new(key, parts))
}
