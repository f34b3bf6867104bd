//! Units that somebody owns, and checks of them with a reference target.

use acoustics::units::{Celsius, Metres};
use jiff::civil::Date;

use std::collections::HashMap;

use crate::check::Faults;
use crate::field::{Field, MAX_NAME_CHARS, Record, name_of, named, names};
use crate::record::spot::{BOTTOM_TEMPERATURE, DEPTH};
use crate::{Booking, Fault, FaultReason, Id, defaults};

/// Longest label of a swap.
const MAX_LABEL: usize = 60;

/// Names of where units are.
pub const STATES: [(&str, UnitState); 4] = [
    ("ready", UnitState::Ready),
    ("in_repair", UnitState::InRepair),
    ("on_loan", UnitState::OnLoan),
    ("retired", UnitState::Retired),
];
const STATE_NAMES: &[&str] = &names(&STATES);

type UnitField = Field<Unit>;
type CheckField = Field<UnitCheck>;

/// One piece of a sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// Which sensor it is a piece of.
    pub sensor: Id,
    /// What is engraved or stuck on it.
    pub serial: String,
    /// Where it is.
    pub state: UnitState,
    /// The booking that it is lent to; none where it is with others, or not on loan.
    pub lent_to: Option<Id>,
    /// The first day on which it can be given out again; none where it is ready, or that is not known.
    pub back_day: Option<Date>,
}

/// Where a unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UnitState {
    /// Ready to be given out.
    Ready,
    /// In repair.
    InRepair,
    /// Lent to somebody else.
    OnLoan,
    /// Not used any more.
    Retired,
}

/// One check: at which position of the dial a target first showed.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitCheck {
    /// Resource id.
    pub id: Id,
    /// The unit.
    pub unit: Id,
    /// The option of the unit's sensor that was used.
    pub option: Id,
    /// The reference target.
    pub target: Id,
    /// The day.
    pub day: Date,
    /// Depth of the target under the transducer.
    pub depth: Metres,
    /// Position of the dial at which the target first showed, as it was read.
    pub shown_at: String,
    /// Temperature at the bottom.
    pub bottom_temperature: Celsius,
    /// Label that two checks share when the units were swapped in one hole over one target; empty without.
    pub swap: String,
    /// Free notes.
    pub notes: String,
}

impl Record for Unit {
    type Known = Self;
    const COLLECTION: &'static str = "units";

    const FIELDS: &'static [Field<Self>] = &[
        UnitField::id(|u| &u.id, |u, id| u.id = id).example("unit-07"),
        UnitField::name(|u| &u.display_name, |u, text| u.display_name = text).example("Unit 7"),
        UnitField::notes(|u| &u.notes, |u, text| u.notes = text),
        UnitField::reference("sensor", "sensors", |u| Some(&u.sensor), |u, id| u.sensor = id)
            .required()
            .example("two-beam"),
        UnitField::text("serial", MAX_NAME_CHARS, |u| &u.serial, |u, text| u.serial = text)
            .required()
            .accepts("each serial of a sensor once")
            .advice("give what is engraved or stuck on it")
            .example("LB-0007"),
        UnitField::choice(
            "state",
            STATE_NAMES,
            |u| name_of(&STATES, &u.state),
            |u, name| {
                u.state = named(&STATES, name).unwrap_or(u.state);
            },
        )
        .left_out("ready")
        .example("ready"),
        UnitField::reference("lent_to", "bookings", |u| u.lent_to.as_ref(), |u, id| u.lent_to = Some(id))
            .accepts("of a unit on loan"),
        UnitField::day("back_day", |u| u.back_day, |u, day| u.back_day = Some(day))
            .accepts("the first day on which a unit on loan or in repair can be given out again")
            .left_out("not known")
            .example(""),
    ];

    fn blank(id: Id) -> Self {
        Self {
            sensor: id.clone(),
            id,
            display_name: String::new(),
            notes: String::new(),
            serial: String::new(),
            state: UnitState::Ready,
            lent_to: None,
            back_day: None,
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Self, Fault> {
        Ok(self.clone())
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        let state = name_of(&STATES, &self.state).unwrap_or_default();
        if self.lent_to.is_some() && self.state != UnitState::OnLoan {
            let text = format!(
                "lent_to names a booking, and the unit is {state}; accepted: a booking where the state is on_loan; leave one of the two out"
            );
            faults.found.push(Fault::new("lent_to", FaultReason::Contradiction, text));
        }
        if let Some(day) = self.back_day
            && !matches!(self.state, UnitState::OnLoan | UnitState::InRepair)
        {
            let text = format!(
                "back_day is {day}, and the unit is {state}; accepted: a day where the state is on_loan or in_repair; leave one of the two out"
            );
            faults.found.push(Fault::new("back_day", FaultReason::Contradiction, text));
        }
        faults.found.into_vec()
    }
}

impl Unit {
    /// The unit in the hands of a booking, until the day after its last one.
    ///
    /// # Errors
    /// It is not ready: where it is instead, in words. Lending it to the booking that has it changes nothing.
    pub fn lent(&self, booking: &Booking) -> Result<Self, String> {
        match (self.state, &self.lent_to) {
            (UnitState::Ready, _) => {}
            (UnitState::OnLoan, Some(holder)) if *holder == booking.id => {}
            _ => return Err(self.whereabouts()),
        }
        let back_day = booking.last_day.tomorrow().ok();
        Ok(Self { state: UnitState::OnLoan, lent_to: Some(booking.id.clone()), back_day, ..self.clone() })
    }

    /// The unit at the desk again, or in repair until a day.
    ///
    /// # Errors
    /// It was not away, or is retired: where it is, in words. A unit at the desk may go into repair.
    pub fn back(&self, to: Back) -> Result<Self, String> {
        let (state, back_day) = match to {
            Back::Ready => (UnitState::Ready, None),
            Back::ToRepair(until) => (UnitState::InRepair, until),
        };
        let comes_from = match self.state {
            UnitState::OnLoan | UnitState::InRepair => true,
            UnitState::Ready => state == UnitState::InRepair,
            UnitState::Retired => false,
        };
        if comes_from { Ok(Self { state, lent_to: None, back_day, ..self.clone() }) } else { Err(self.whereabouts()) }
    }

    /// Such as `on loan to bookings/a until 2027-01-18`.
    fn whereabouts(&self) -> String {
        let place = match self.state {
            UnitState::Ready => "ready",
            UnitState::InRepair => "in repair",
            UnitState::OnLoan => "on loan",
            UnitState::Retired => "retired",
        };
        let to = self.lent_to.as_ref().map(|booking| format!(" to bookings/{booking}")).unwrap_or_default();
        let until = self.back_day.map(|day| format!(", to be back on {day}")).unwrap_or_default();
        format!("{place}{to}{until}")
    }
}

/// How a unit comes back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Back {
    /// It can be given out again.
    Ready,
    /// It goes to be repaired until that day, as far as that is known.
    ToRepair(Option<Date>),
}

/// Serials that several units bear; each later unit is a fault.
#[must_use]
pub fn duplicate_serials(units: &[Unit]) -> Vec<Fault> {
    let mut seen: HashMap<(&str, &str), &Unit> = HashMap::new();
    let mut faults = Vec::new();
    for unit in units {
        let serial = unit.serial.trim();
        if let Some(first) = seen.get(&(unit.sensor.as_str(), serial)) {
            faults.push(Fault::new(
                format!("units/{}.serial", unit.id),
                FaultReason::Duplicate,
                format!(
                    "unit '{}' bears serial '{serial}', as does unit '{}'; accepted: each serial of a sensor once; correct one of them, or delete it",
                    unit.id, first.id
                ),
            ));
        } else {
            seen.insert((unit.sensor.as_str(), serial), unit);
        }
    }
    faults
}

impl Record for UnitCheck {
    type Known = Self;
    const COLLECTION: &'static str = "unitChecks";

    const FIELDS: &'static [Field<Self>] = &[
        CheckField::id(|c| &c.id, |c, id| c.id = id).example("unit-07-jan-15"),
        CheckField::reference("unit", "units", |c| Some(&c.unit), |c, id| c.unit = id).required().example("unit-07"),
        CheckField::reference("option", "", |c| Some(&c.option), |c, id| c.option = id)
            .required()
            .accepts("of the unit's sensor")
            .example("narrow"),
        CheckField::reference("target", "targets", |c| Some(&c.target), |c, id| c.target = id)
            .required()
            .accepts("of kind reference")
            .example("check-ball-38"),
        CheckField::day("day", |c| Some(c.day), |c, day| c.day = day).required(),
        CheckField::number("depth_m", DEPTH, |c| Some(c.depth.get()), |c, v| c.depth = Metres::new(v))
            .required()
            .accepts("of the target under the transducer")
            .advice("give the depth of the target under the transducer")
            .example("6"),
        // Whether the position is on the dial only the sensor tells.
        CheckField::text("shown_at", MAX_NAME_CHARS, |c| &c.shown_at, |c, text| c.shown_at = text)
            .required()
            .accepts("the position of the dial at which the target first showed, as it reads")
            .advice("give the position as the dial reads")
            .example("11:30"),
        CheckField::number(
            "bottom_temperature_c",
            BOTTOM_TEMPERATURE,
            |c| Some(c.bottom_temperature.get()),
            |c, v| c.bottom_temperature = Celsius::new(v),
        )
        .left_out("4")
        .advice("give the temperature at the bottom, or leave it out for 4 °C")
        .example("4"),
        CheckField::text("swap", MAX_LABEL, |c| &c.swap, |c, text| c.swap = text)
            .accepts("shared by two checks whose units were swapped in one hole"),
        CheckField::notes(|c| &c.notes, |c, text| c.notes = text),
    ];

    fn blank(id: Id) -> Self {
        Self {
            unit: id.clone(),
            option: id.clone(),
            target: id.clone(),
            id,
            day: Date::default(),
            depth: Metres::new(0.0),
            shown_at: String::new(),
            bottom_temperature: defaults::BOTTOM_TEMPERATURE,
            swap: String::new(),
            notes: String::new(),
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Self, Fault> {
        Ok(self.clone())
    }

    fn check(&self) -> Vec<Fault> {
        Faults::of(self, Self::FIELDS).found.into_vec()
    }
}
