//! Units and their checks as JSON in SI units.

use acoustics::units::{Celsius, Metres};
use domain::{BadId, Id, Unit, UnitCheck, UnitState};
use serde::{Deserialize, Serialize};

use super::day;

names!(StateView => UnitState { Ready, InRepair, OnLoan, Retired });

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct UnitView {
    id: String,
    display_name: String,
    notes: String,
    sensor: String,
    serial: String,
    state: StateView,
}

impl From<&Unit> for UnitView {
    fn from(u: &Unit) -> Self {
        Self {
            id: u.id.to_string(),
            display_name: u.display_name.clone(),
            notes: u.notes.clone(),
            sensor: u.sensor.to_string(),
            serial: u.serial.clone(),
            state: u.state.into(),
        }
    }
}

impl TryFrom<UnitView> for Unit {
    type Error = BadId;

    fn try_from(v: UnitView) -> Result<Self, BadId> {
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            sensor: Id::parse(&v.sensor)?,
            serial: v.serial,
            state: v.state.into(),
        })
    }
}

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct UnitCheckView {
    id: String,
    unit: String,
    option: String,
    target: String,
    day: String,
    depth_m: f64,
    shown_at: String,
    bottom_temperature_c: f64,
    swap: String,
    notes: String,
}

impl From<&UnitCheck> for UnitCheckView {
    fn from(c: &UnitCheck) -> Self {
        Self {
            id: c.id.to_string(),
            unit: c.unit.to_string(),
            option: c.option.to_string(),
            target: c.target.to_string(),
            day: c.day.to_string(),
            depth_m: c.depth.get(),
            shown_at: c.shown_at.clone(),
            bottom_temperature_c: c.bottom_temperature.get(),
            swap: c.swap.clone(),
            notes: c.notes.clone(),
        }
    }
}

impl TryFrom<UnitCheckView> for UnitCheck {
    type Error = BadId;

    fn try_from(v: UnitCheckView) -> Result<Self, BadId> {
        Ok(Self {
            id: Id::parse(&v.id)?,
            unit: Id::parse(&v.unit)?,
            option: Id::parse(&v.option)?,
            target: Id::parse(&v.target)?,
            day: day(&v.day)?,
            depth: Metres::new(v.depth_m),
            shown_at: v.shown_at,
            bottom_temperature: Celsius::new(v.bottom_temperature_c),
            swap: v.swap,
            notes: v.notes,
        })
    }
}
