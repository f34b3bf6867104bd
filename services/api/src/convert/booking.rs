//! Bookings.

use acoustics::units::Db;
use domain::{Booking, Fault, GoalRecord, Id, Record as _, defaults};
use proto::v1;

use super::{Reading, run};
use crate::names;

/// Reads a booking.
pub(crate) fn from(id: Id, message: v1::Booking) -> Result<Booking, Vec<Fault>> {
    let mut reading = Reading::default();
    let goal = reading.optional_choice("goal", message.goal, run::preset, v1::Goal::as_str_name);
    let own = !message.custom_goal.is_empty();
    let custom_goal = own.then(|| reading.name("custom_goal", GoalRecord::COLLECTION, &message.custom_goal, &id));
    let in_shelter = !message.shelter.is_empty();
    let shelter = in_shelter.then(|| reading.name("shelter", "shelters", &message.shelter, &id));
    let booking = Booking {
        spot: reading.name("spot", "spots", &message.spot, &id),
        shelter,
        first_day: reading.day("first_day", &message.first_day),
        last_day: reading.day("last_day", &message.last_day),
        lure: reading.name("lure", "targets", &message.lure, &id),
        fish: reading.name("fish", "targets", &message.fish, &id),
        id,
        display_name: message.display_name,
        notes: message.notes,
        anglers: message.anglers,
        goal,
        custom_goal,
        min_score: message.min_score.unwrap_or(defaults::MIN_SCORE),
        min_headroom: message.min_headroom_db.map_or(defaults::MIN_HEADROOM, Db::new),
    };
    reading.finish(booking, Booking::check)
}

/// Writes a booking, without what the store knows of it.
pub(crate) fn to(booking: &Booking) -> v1::Booking {
    v1::Booking {
        name: format!("bookings/{}", booking.id),
        display_name: booking.display_name.clone(),
        notes: booking.notes.clone(),
        spot: names::of("spots", &booking.spot),
        shelter: booking.shelter.as_ref().map_or_else(String::new, |shelter| names::of("shelters", shelter)),
        anglers: booking.anglers,
        first_day: booking.first_day.to_string(),
        last_day: booking.last_day.to_string(),
        goal: booking.goal.map_or(v1::Goal::Unspecified, run::preset_to).into(),
        custom_goal: booking.custom_goal.as_ref().map_or_else(String::new, |id| names::of(GoalRecord::COLLECTION, id)),
        lure: names::of("targets", &booking.lure),
        fish: names::of("targets", &booking.fish),
        min_score: Some(booking.min_score),
        min_headroom_db: Some(booking.min_headroom.get()),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
