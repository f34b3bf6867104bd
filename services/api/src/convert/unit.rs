//! Units.

use domain::{Fault, Id, Record as _, Unit, UnitState};
use proto::v1;

use super::Reading;
use crate::names;

/// Reads a unit.
pub(crate) fn from(id: Id, message: v1::Unit) -> Result<Unit, Vec<Fault>> {
    let mut reading = Reading::default();
    let state = match v1::UnitState::try_from(message.state) {
        Ok(v1::UnitState::Unspecified) => UnitState::Ready,
        _ => reading.choice("state", message.state, state, v1::UnitState::as_str_name).unwrap_or(UnitState::Ready),
    };
    let unit = Unit {
        sensor: reading.name("sensor", "sensors", &message.sensor, &id),
        lent_to: (!message.lent_to.is_empty()).then(|| reading.name("lent_to", "bookings", &message.lent_to, &id)),
        back_day: (!message.back_day.is_empty()).then(|| reading.day("back_day", &message.back_day)),
        id,
        state,
        display_name: message.display_name,
        notes: message.notes,
        serial: message.serial,
    };
    reading.finish(unit, Unit::check)
}

pub(crate) fn state(state: v1::UnitState) -> Option<UnitState> {
    Some(match state {
        v1::UnitState::Unspecified => return None,
        v1::UnitState::Ready => UnitState::Ready,
        v1::UnitState::InRepair => UnitState::InRepair,
        v1::UnitState::OnLoan => UnitState::OnLoan,
        v1::UnitState::Retired => UnitState::Retired,
    })
}

/// Writes a unit, without what the store knows of it.
pub(crate) fn to(unit: &Unit) -> v1::Unit {
    let state = match unit.state {
        UnitState::Ready => v1::UnitState::Ready,
        UnitState::InRepair => v1::UnitState::InRepair,
        UnitState::OnLoan => v1::UnitState::OnLoan,
        UnitState::Retired => v1::UnitState::Retired,
    };
    v1::Unit {
        name: format!("units/{}", unit.id),
        display_name: unit.display_name.clone(),
        notes: unit.notes.clone(),
        sensor: names::of("sensors", &unit.sensor),
        serial: unit.serial.clone(),
        state: state.into(),
        lent_to: unit.lent_to.as_ref().map_or_else(String::new, |booking| names::of("bookings", booking)),
        back_day: unit.back_day.map_or_else(String::new, |day| day.to_string()),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
