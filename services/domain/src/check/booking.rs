//! Checks of a booking.

use super::{Faults, within};
use crate::{Booking, Fault, FaultReason};

/// Longest booking, days.
const MAX_DAYS: i32 = 366;

impl Booking {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        let people = within(1.0, 60.0, "people");
        faults.number("anglers", f64::from(self.anglers), people, "give how many fish");
        if self.last_day < self.first_day {
            faults.add(
                "last_day",
                FaultReason::Contradiction,
                format!(
                    "last_day is {}; accepted: not before first_day, which is {}; swap them",
                    self.last_day, self.first_day
                ),
            );
        } else if self.days() > MAX_DAYS {
            faults.add(
                "last_day",
                FaultReason::OutOfRange,
                format!("the booking lasts {} days; accepted: up to {MAX_DAYS}; make several of it", self.days()),
            );
        }
        faults.number("min_score", self.min_score, within(0.0, 1.0, ""), "leave it out for 0.3");
        let headroom = within(-20.0, 40.0, "dB");
        faults.number("min_headroom_db", self.min_headroom.get(), headroom, "leave it out for 0 dB");
        faults.found.into_vec()
    }

    /// How many days it lasts, the first and the last included.
    #[must_use]
    pub fn days(&self) -> i32 {
        (self.last_day - self.first_day).get_days() + 1
    }
}
