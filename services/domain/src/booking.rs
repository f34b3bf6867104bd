//! Bookings: who fishes where and when, and what the gear must be able to do.

use acoustics::units::Db;
use jiff::civil::Date;

use crate::check::Faults;
use crate::field::{Field, Record, name_of, named, names, within};
use crate::goal::{GoalName, PRESETS, Preset};
use crate::{Fault, FaultReason, Id, defaults};

type BookingField = Field<Booking>;

/// Longest booking, days.
const MAX_DAYS: i32 = 366;

const GOAL_NAMES: &[&str] = &names(&PRESETS);

/// A booking.
#[derive(Debug, Clone, PartialEq)]
pub struct Booking {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// Where.
    pub spot: Id,
    /// The shared shelter; none in the open, far apart.
    pub shelter: Option<Id>,
    /// How many fish; each gets one unit.
    pub anglers: u32,
    /// First day.
    pub first_day: Date,
    /// Last day, included.
    pub last_day: Date,
    /// What is wanted of the beam, of the goals that come with the program.
    pub goal: Option<Preset>,
    /// What is wanted of the beam, as a stored goal instead.
    pub custom_goal: Option<Id>,
    /// The lure.
    pub lure: Id,
    /// The fish.
    pub fish: Id,
    /// Least score that will do, 0 to 1.
    pub min_score: f64,
    /// Least headroom that will do where several share a shelter.
    pub min_headroom: Db,
}

impl Record for Booking {
    type Known = Self;
    const COLLECTION: &'static str = "bookings";

    const FIELDS: &'static [Field<Self>] = &[
        BookingField::id(|b| &b.id, |b, id| b.id = id).example("jan-15-party-of-four"),
        BookingField::name(|b| &b.display_name, |b, text| b.display_name = text).example("Party of four"),
        BookingField::notes(|b| &b.notes, |b, text| b.notes = text),
        BookingField::reference("spot", "spots", |b| Some(&b.spot), |b, id| b.spot = id)
            .required()
            .example("vesper-basin"),
        BookingField::reference("shelter", "shelters", |b| b.shelter.as_ref(), |b, id| b.shelter = Some(id))
            .left_out("in the open, far apart")
            .example("rental-hut-five"),
        BookingField::whole("anglers", within(1.0, 60.0, "people"), |b| Some(b.anglers), |b, v| b.anglers = v)
            .required()
            .advice("give how many fish")
            .example("4"),
        BookingField::day("first_day", |b| Some(b.first_day), |b, day| b.first_day = day).required(),
        BookingField::day("last_day", |b| Some(b.last_day), |b, day| b.last_day = day)
            .required()
            .accepts("not before the first, at most 366 days")
            .example("2027-01-16"),
        BookingField::choice(
            "goal",
            GOAL_NAMES,
            |b| b.goal.and_then(|goal| name_of(&PRESETS, &goal)),
            |b, name| b.goal = named(&PRESETS, name),
        )
        .left_out("custom_goal, or else watch_lure")
        .example("watch_lure"),
        BookingField::reference("custom_goal", "goals", |b| b.custom_goal.as_ref(), |b, id| b.custom_goal = Some(id))
            .accepts("instead of goal")
            .left_out("goal"),
        BookingField::reference("lure", "targets", |b| Some(&b.lure), |b, id| b.lure = id)
            .required()
            .accepts("of kind lure")
            .example("tungsten-jig-5"),
        BookingField::reference("fish", "targets", |b| Some(&b.fish), |b, id| b.fish = id)
            .required()
            .accepts("of kind fish")
            .example("perch-25"),
        BookingField::number("min_score", within(0.0, 1.0, ""), |b| Some(b.min_score), |b, v| b.min_score = v)
            .left_out("0.3")
            .advice("leave it out for 0.3")
            .example("0.3"),
        BookingField::number(
            "min_headroom_db",
            within(-20.0, 40.0, "dB"),
            |b| Some(b.min_headroom.get()),
            |b, v| b.min_headroom = Db::new(v),
        )
        .left_out("0")
        .advice("leave it out for 0 dB")
        .example("0"),
    ];

    fn blank(id: Id) -> Self {
        Self {
            spot: id.clone(),
            shelter: None,
            lure: id.clone(),
            fish: id.clone(),
            id,
            display_name: String::new(),
            notes: String::new(),
            anglers: 0,
            first_day: Date::default(),
            last_day: Date::default(),
            goal: None,
            custom_goal: None,
            min_score: defaults::MIN_SCORE,
            min_headroom: defaults::MIN_HEADROOM,
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
        if self.last_day < self.first_day {
            let message = format!(
                "last_day is {}; accepted: not before first_day, which is {}; swap them",
                self.last_day, self.first_day
            );
            faults.add("last_day", FaultReason::Contradiction, message);
        } else if self.days() > MAX_DAYS {
            let message =
                format!("the booking lasts {} days; accepted: up to {MAX_DAYS}; make several of it", self.days());
            faults.add("last_day", FaultReason::OutOfRange, message);
        }
        if self.goal.is_some() && self.custom_goal.is_some() {
            let message = "custom_goal is given beside goal; accepted: one of them; drop the other".to_owned();
            faults.add("custom_goal", FaultReason::Contradiction, message);
        }
        faults.found.into_vec()
    }
}

impl Booking {
    /// Which goal it has: the one that it names, or watching a lure.
    #[must_use]
    pub fn goal_name(&self) -> GoalName {
        match &self.custom_goal {
            Some(id) => GoalName::Custom(id.clone()),
            None => GoalName::Preset(self.goal.unwrap_or(Preset::WatchLure)),
        }
    }

    /// How many days it lasts, the first and the last included.
    #[must_use]
    pub fn days(&self) -> i32 {
        (self.last_day - self.first_day).get_days() + 1
    }
}
