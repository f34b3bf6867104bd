//! Checks of units.

use acoustics::units::{Celsius, Metres};
use domain::{Fault, Id, Record as _, UnitCheck, defaults};
use proto::v1;

use super::Reading;
use crate::names;

/// Reads a check.
pub(crate) fn from(id: Id, message: v1::UnitCheck) -> Result<UnitCheck, Vec<Fault>> {
    let mut reading = Reading::default();
    let check = UnitCheck {
        unit: reading.name("unit", "units", &message.unit, &id),
        option: reading.id("option", &message.option, &id),
        target: reading.name("target", "targets", &message.target, &id),
        day: reading.day("day", &message.day),
        id,
        depth: Metres::new(message.depth_m),
        shown_at: message.shown_at,
        bottom_temperature: message.bottom_temperature_c.map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new),
        swap: message.swap,
        notes: message.notes,
    };
    reading.finish(check, UnitCheck::check)
}

/// Writes a check, without what the store knows of it.
pub(crate) fn to(check: &UnitCheck) -> v1::UnitCheck {
    v1::UnitCheck {
        name: format!("unitChecks/{}", check.id),
        unit: names::of("units", &check.unit),
        option: check.option.to_string(),
        target: names::of("targets", &check.target),
        day: check.day.to_string(),
        depth_m: check.depth.get(),
        shown_at: check.shown_at.clone(),
        bottom_temperature_c: Some(check.bottom_temperature.get()),
        swap: check.swap.clone(),
        notes: check.notes.clone(),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
