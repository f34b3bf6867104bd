//! Bookings.

use domain::{Booking, Fault, Id, Record as _};

use super::{Resource, names, stored_as};
use crate::filter::Field;
use crate::view::BookingView;
use domain::booking::GOALS;

const GOAL_NAMES: &[&str] = &names(&GOALS);

stored_as!(Booking, BookingView);

impl Resource for Booking {
    const COLLECTION: &'static str = "bookings";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::text("spot", "'spots/' || (body ->> '$.spot')"),
        Field::text("shelter", "'shelters/' || (body ->> '$.shelter')"),
        Field::number("anglers", "body ->> '$.anglers'"),
        // Days are written with the year first, so their order as text is their order in time.
        Field::text("first_day", "body ->> '$.first_day'"),
        Field::text("last_day", "body ->> '$.last_day'"),
        Field::choice("goal", GOAL_NAMES, "body ->> '$.goal'"),
        Field::number("min_score", "body ->> '$.min_score'"),
        Field::time("create_time", "create_time"),
        Field::time("update_time", "update_time"),
    ];

    fn id(&self) -> &Id {
        &self.id
    }

    fn faults(&self) -> Vec<Fault> {
        self.check()
    }
}
