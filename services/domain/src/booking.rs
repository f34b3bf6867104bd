//! Bookings: who fishes where and when, and what the gear must be able to do.

use acoustics::units::Db;
use jiff::civil::Date;

use super::Id;
use super::selection::Goal;

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
    /// What is wanted of the beam.
    pub goal: Goal,
    /// The lure.
    pub lure: Id,
    /// The fish.
    pub fish: Id,
    /// Least score that will do, 0 to 1.
    pub min_score: f64,
    /// Least headroom that will do where several share a shelter.
    pub min_headroom: Db,
}
