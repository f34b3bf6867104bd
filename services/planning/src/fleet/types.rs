//! What a fleet is planned from, and what a plan says.

use acoustics::units::{Db, Metres};
use jiff::civil::Date;

use crate::LeftOut;
use domain::selection::OptionRef;
use domain::{Booking, CustomGoal, Id, Money, Sensor, Shelter, Spot, Target, Unit};
use domain::{Sentence, joined};

/// The relative gap of the cost at which the search stops unless said otherwise.
pub const DEFAULT_GAP: f64 = 0.01;

/// Everything that a fleet is planned from.
#[derive(Debug, Clone, PartialEq)]
pub struct FleetInput {
    /// Sensors that the units and options belong to.
    pub sensors: Vec<Sensor>,
    /// The options that may be used.
    pub options: Vec<OptionRef>,
    /// The units that there are; only those that are ready count as owned.
    pub units: Vec<Unit>,
    /// The spots of the bookings.
    pub spots: Vec<Spot>,
    /// The shelters of the bookings.
    pub shelters: Vec<Shelter>,
    /// Their lures and fish.
    pub targets: Vec<Target>,
    /// Their goals, as far as they are stored ones.
    pub goals: Vec<CustomGoal>,
    /// Who fishes where and when.
    pub bookings: Vec<Booking>,
    /// What may be spent; none for no limit.
    pub budget: Option<Money>,
    /// Relative gap of the cost at which the search may stop, 0 to 0.5; [`DEFAULT_GAP`] serves most. The search is also
    /// bounded by a count of nodes, never by a clock, so that one input always gives one plan.
    pub gap: f64,
    /// The day of the plan, and the plan before it.
    pub replan: Replan,
}

/// From which day on is planned, and what is kept of the plan before. The default keeps nothing and plans every day.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replan {
    /// The first day that is planned: what ended before it is over, what began before it is out. None for every day.
    pub from: Option<Date>,
    /// What bookings have by the plan to keep.
    pub kept: Vec<Kept>,
    /// What it is worth to spare one booking a change; none where no money outweighs a change.
    pub change_worth: Option<Money>,
}

/// What a booking has by the plan to keep. The booking may be gone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// The booking.
    pub booking: Id,
    /// What it is called.
    pub display_name: String,
    /// What it gets.
    pub gear: Gear,
    /// Which units, as far as they are owned; kept where they are there.
    pub units: Vec<Id>,
    /// Whether the customer was told.
    pub promised: bool,
}

/// Units of one option, by name, so that they can be told when the records are gone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gear {
    /// The sensor.
    pub sensor: Id,
    /// Its option.
    pub option: Id,
    /// What the sensor is called.
    pub sensor_name: String,
    /// Such as `180 kHz, 14°`.
    pub beam: String,
    /// How many units.
    pub units: u32,
}

/// Which units to buy, and which to give to whom.
#[derive(Debug, Clone, PartialEq)]
pub struct FleetPlan {
    /// Units to buy, by sensor in the order of the input.
    pub purchases: Vec<Purchase>,
    /// What all of them cost.
    pub cost: Money,
    /// No plan that meets as many anglers costs less.
    pub least_cost: Money,
    /// (cost − least cost) / cost; 0 for nothing to pay.
    pub gap: f64,
    /// Whether it is proven that no more anglers can be met, and none of them for less.
    pub cost_is_proven: bool,
    /// Whether, besides, no plan that meets as many for as little has a better mean score.
    pub score_is_proven: bool,
    /// Mean score over the anglers that are met; 0 when there are none.
    pub mean_score: f64,
    /// What each booking that is met gets, in the order of the input.
    pub assignments: Vec<Assignment>,
    /// The bookings that are not met, in the order of the input.
    pub unmet: Vec<Unmet>,
    /// Each day on which any booking runs, with each sensor that is used at all.
    pub days: Vec<SensorDay>,
    /// How to set up for each booking that is met, in the order of the input.
    pub cards: Vec<SetUpCard>,
    /// What else is worth knowing: units in repair that would save a purchase, units that nobody needs.
    pub remarks: Vec<Sentence>,
    /// What is different from the plan that was to be kept, in the order of the bookings' names.
    pub changes: Vec<Change>,
    /// Bookings and units that could not be planned with, because of their faults.
    pub left_out: Vec<LeftOut>,
}

/// A difference to the plan before, and what has to be said to whom.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The booking.
    pub booking: Id,
    /// What it is called.
    pub display_name: String,
    /// The kind of change.
    pub kind: ChangeKind,
    /// What it had; none where it had nothing.
    pub before: Option<Gear>,
    /// What it gets; none where it gets nothing.
    pub after: Option<Gear>,
    /// A sentence: what to say to whom.
    pub sentence: Sentence,
}

/// Kinds of changes. Matched without a wildcard at every edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ChangeKind {
    /// It gets another kind than before. The customer has to be told.
    Exchanged,
    /// It gets nothing any more. The customer has to be told.
    Dropped,
    /// It gets more or fewer units of the same kind. The customer has to be told.
    Resized,
    /// It gets something and had nothing. The customer has to be told.
    Added,
    /// It gets the same kind on another beam: a new card.
    Switched,
    /// It gets other pieces of the same kind. Those who hand out have to know.
    Renamed,
    /// The booking is gone, and its units are free. Those who hand out have to know.
    Cancelled,
}

impl ChangeKind {
    /// Whether the customer has to be told; otherwise those who hand out.
    #[must_use]
    pub const fn is_for_customer(self) -> bool {
        match self {
            Self::Exchanged | Self::Dropped | Self::Resized | Self::Added => true,
            Self::Switched | Self::Renamed | Self::Cancelled => false,
        }
    }
}

/// Units of one sensor to buy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Purchase {
    /// Index of the sensor.
    pub sensor: usize,
    /// How many.
    pub count: u32,
    /// What one costs.
    pub unit_price: Money,
    /// What they cost together.
    pub cost: Money,
}

/// One booking and what it gets: as many units as anglers, all of one sensor and on one option.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// Index of the booking.
    pub booking: usize,
    /// Index into the options of the input.
    pub option: usize,
    /// How many units.
    pub units: u32,
    /// Which ones; what is missing to the number is to be bought.
    pub named: Vec<Id>,
    /// Score of that option there.
    pub score: f64,
    /// Clear gain less working gain; none without neighbours.
    pub headroom: Option<Db>,
}

/// A booking that is not met.
#[derive(Debug, Clone, PartialEq)]
pub struct Unmet {
    /// Index of the booking.
    pub booking: usize,
    /// The kind of reason.
    pub reason: UnmetReason,
    /// A sentence or some: why, and what would help.
    pub sentences: Vec<Sentence>,
}

impl Unmet {
    /// The sentences in English, one after the other.
    #[must_use]
    pub fn text(&self) -> String {
        joined(&self.sentences)
    }
}

/// Why a booking is not met. Matched without a wildcard at every edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UnmetReason {
    /// No option can be used at the spot at all.
    NoOptionQualifies,
    /// Options can be used, but none reaches the least score.
    ScoreTooLow,
    /// Options reach the score, but none of these the least headroom.
    HeadroomTooLow,
    /// What would serve is not owned in that number and not for sale.
    NotForSale,
    /// What would serve costs more than the budget leaves.
    BudgetTooSmall,
}

/// Use of one sensor on one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SensorDay {
    /// The day.
    pub day: Date,
    /// Index of the sensor.
    pub sensor: usize,
    /// Units given out.
    pub used: u32,
    /// Units ready and bought.
    pub available: u32,
}

/// How to set up for one booking.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUpCard {
    /// Index of the booking.
    pub booking: usize,
    /// Index into the options of the input.
    pub option: usize,
    /// How many units.
    pub units: u32,
    /// Gain to start with: the least that shows lure and bottom.
    pub start_gain: Db,
    /// Where to start: a position of the dial where threshold and dial are known, or how to find it with the lure.
    pub start: Sentence,
    /// Highest gain at which neighbours stay off the display, or the greatest of the sensor; none without neighbours.
    pub highest_gain: Option<Db>,
    /// Where never to go above, in the same way; none without neighbours.
    pub highest: Option<Sentence>,
    /// Least distance between holes as laid out; none without neighbours.
    pub hole_spacing: Option<Metres>,
    /// How far the transducer hangs under the top of the ice: the thickness of the ice and a hand's breadth, so that it
    /// hangs free of the rim of the hole (common practice, no published source).
    pub hang_depth: Metres,
    /// How high over the bottom the lure hangs.
    pub lure_height: Metres,
    /// What to do, in order.
    pub steps: Vec<Sentence>,
}
