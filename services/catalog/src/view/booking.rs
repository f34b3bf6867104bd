//! A booking as JSON.

use acoustics::units::Db;
use domain::selection::Goal;
use domain::{BadId, Booking, Id};
use serde::{Deserialize, Serialize};

use super::day;

names!(BookedGoalView => Goal { Search, WatchLure, School, WeedEdge });

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct BookingView {
    id: String,
    display_name: String,
    notes: String,
    spot: String,
    shelter: Option<String>,
    anglers: u32,
    first_day: String,
    last_day: String,
    goal: BookedGoalView,
    lure: String,
    fish: String,
    min_score: f64,
    min_headroom_db: f64,
}

impl From<&Booking> for BookingView {
    fn from(b: &Booking) -> Self {
        Self {
            id: b.id.to_string(),
            display_name: b.display_name.clone(),
            notes: b.notes.clone(),
            spot: b.spot.to_string(),
            shelter: b.shelter.as_ref().map(Id::to_string),
            anglers: b.anglers,
            first_day: b.first_day.to_string(),
            last_day: b.last_day.to_string(),
            goal: b.goal.into(),
            lure: b.lure.to_string(),
            fish: b.fish.to_string(),
            min_score: b.min_score,
            min_headroom_db: b.min_headroom.get(),
        }
    }
}

impl TryFrom<BookingView> for Booking {
    type Error = BadId;

    fn try_from(v: BookingView) -> Result<Self, BadId> {
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            spot: Id::parse(&v.spot)?,
            shelter: v.shelter.as_deref().map(Id::parse).transpose()?,
            anglers: v.anglers,
            first_day: day(&v.first_day)?,
            last_day: day(&v.last_day)?,
            goal: v.goal.into(),
            lure: Id::parse(&v.lure)?,
            fish: Id::parse(&v.fish)?,
            min_score: v.min_score,
            min_headroom: Db::new(v.min_headroom_db),
        })
    }
}
