//! What a recommendation is made from and what it says, without any text.

use domain::selection::{Failure, Finding};
use domain::{Goal, Id, Money};

/// Share of the draws that makes it likely.
pub const LIKELY: f64 = 0.5;

/// A goal with its share of the time.
#[derive(Debug, Clone, PartialEq)]
pub struct Use {
    /// What is wanted of the beam.
    pub goal: Goal,
    /// Share of the time; only the ratios of shares matter.
    pub share: f64,
}

/// What decides between sensors, beside the figures of a run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choice {
    /// Uses; empty means the goal of the run, all of the time.
    pub uses: Vec<Use>,
    /// Weight of each spot of the run, such as days a season; empty means 1 each.
    pub weights: Vec<f64>,
    /// Sensors of the run that the customer owns: they cost nothing more.
    pub owned: Vec<Id>,
    /// Most that may be spent; none for no limit.
    pub budget: Option<Money>,
}

/// A candidate: position in `RunInput::sensors`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CandidateIndex(pub usize);

/// A place: position in `RunInput::spots`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlaceIndex(pub usize);

/// What a candidate costs and who has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cost {
    /// The customer has it.
    Owned,
    /// Price in billionths of the currency's unit.
    Price(i128),
    /// The price is not given.
    Unpriced,
}

/// What a candidate is worth at one place: V, and whether every use works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Σ share · v over the uses, 0 to 1.
    pub value: f64,
    /// Whether every use works.
    pub works: bool,
}

/// What a candidate is worth at a place, or over all places; as a mean over draws, where there are draws.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Total {
    /// R: weight of the places where every use works, as a share of all weight; of one place the share of draws in which it does.
    pub works: f64,
    /// U: weighted mean of V.
    pub value: f64,
}

/// The table that a decision is taken from.
#[derive(Debug, Clone, PartialEq)]
pub struct Worths {
    /// Candidates, in the order of the run's sensors.
    pub costs: Vec<Cost>,
    /// Weights of the places; they add up to 1.
    pub weights: Vec<f64>,
    /// By candidate, then place: the recorded figures.
    pub nominal: Vec<Vec<Worth>>,
    /// By candidate, then place: the mean over the draws; the recorded figures where there are none.
    pub expected: Vec<Vec<Total>>,
    /// By draw, then candidate.
    pub draws: Vec<Vec<Total>>,
    /// By unknown, then draw: what was drawn.
    pub unknowns: Vec<Vec<f64>>,
    /// Most that may be spent, billionths.
    pub budget: Option<i128>,
}

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advice {
    /// Buy this one.
    Take(CandidateIndex),
    /// Keep this one: nothing affordable is clearly better.
    Keep {
        /// The best of those owned.
        owned: CandidateIndex,
        /// The best of those that can be bought.
        best: Option<CandidateIndex>,
    },
    /// No candidate that can be had works at any place.
    WorksNowhere,
    /// The budget buys no candidate, and none is owned.
    NothingAffordable {
        /// The cheapest one.
        cheapest: Option<CandidateIndex>,
    },
}

/// How sure the advice is.
#[derive(Debug, Clone, PartialEq)]
pub enum Firmness {
    /// Right in 80 % of the draws.
    Firm,
    /// Right in half of the draws.
    Likely,
    /// One of these is right in 80 % of the draws.
    TossUp {
        /// The smallest set.
        among: Vec<CandidateIndex>,
        /// Share of the draws in which one of them is right.
        right: f64,
    },
    /// More than three would have to be named.
    TooLittleKnown,
}

/// Where a difference between two candidates comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whereabouts {
    /// All of it from one place.
    All(PlaceIndex),
    /// More than half of it from one place.
    Mostly(PlaceIndex),
    /// From several places.
    Spread,
}

/// Another candidate beside the recommended one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The other one.
    pub candidate: CandidateIndex,
    /// How much dearer it is, billionths; negative for cheaper.
    pub price: i128,
    /// How much higher its U is; negative for lower.
    pub value: f64,
    /// How much more R it has.
    pub works: f64,
    /// Where the difference comes from.
    pub at: Whereabouts,
}

/// Two sensors together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Both, in the order of the run's sensors.
    pub both: [CandidateIndex; 2],
    /// What both cost, billionths.
    pub price: i128,
    /// Worth of both.
    pub total: Total,
    /// U over that of the best single one.
    pub gain: f64,
}

/// What would settle the decision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settling {
    /// Position in `Worths::unknowns`.
    pub unknown: usize,
    /// How much the share of draws in which the advice is right would rise.
    pub gain: f64,
}

/// A decision between candidates.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// What to do.
    pub advice: Advice,
    /// Share of the draws in which that is right; none without draws.
    pub right: Option<f64>,
    /// How sure it is; none without draws.
    pub firmness: Option<Firmness>,
    /// U and R by candidate, as means over the draws.
    pub totals: Vec<Total>,
    /// W by candidate: the least V.
    pub least: Vec<f64>,
    /// P by candidate: share of the draws in which it has the largest R and a U within 0.02 of the best.
    pub probability: Vec<f64>,
    /// By candidate: mean over the draws of how far its U stays under the best one's.
    pub regret: Vec<f64>,
    /// Whether a candidate can be had: owned, or within the budget.
    pub affordable: Vec<bool>,
    /// Whether no other candidate is at most as dear and at least as good, and better in one.
    pub efficient: Vec<bool>,
    /// Best first: by R, then U, then price, then position.
    pub order: Vec<CandidateIndex>,
    /// Cheapest within five points of the best, where it is another one.
    pub within_five: Option<CandidateIndex>,
    /// The next cheaper efficient one.
    pub cheaper: Option<Step>,
    /// What more money buys; none where it buys nothing.
    pub dearer: Option<Step>,
    /// The best pair, where it does better.
    pub pair: Option<Pair>,
    /// The unknown that would settle most.
    pub settling: Option<Settling>,
}

/// Why an option does not work at a place for a use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hindrance {
    /// It is ruled out.
    Failure(Failure),
    /// A criterion is at its floor.
    AtFloor(Criterion),
}

/// A criterion of the score.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// Too little water is seen.
    Coverage,
    /// The bottom or plants hide the lure.
    Clutter,
    /// Fish cannot be told apart.
    Resolution,
    /// Neighbours show before the lure does.
    Interference,
}

/// How the recommended sensor is used at a place for a use.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceAdvice {
    /// The place.
    pub place: PlaceIndex,
    /// Position in the uses.
    pub use_index: usize,
    /// The finding of the switch position; its rank is among the options of the sensor.
    pub finding: Finding,
    /// Why it does not work; empty where it does.
    pub hindrances: Vec<Hindrance>,
    /// Beside whom the setting holds.
    pub beside: Beside,
}

/// Beside whom a setting holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beside {
    /// Everybody that is taken to be around.
    All,
    /// That share of the usual units, where nobody knows what others have and none holds beside all.
    Share(f64),
}

/// An input that is not known exactly, at one place or everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unknown {
    /// What it is.
    pub kind: UnknownKind,
    /// Where; none for all places.
    pub place: Option<PlaceIndex>,
}

/// Kinds of unknown, each with a way to find it out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnknownKind {
    /// Angle of the beams.
    Beamwidth,
    /// How loud the sensors send.
    SourceLevel,
    /// How sensitive the sensors are.
    Threshold,
    /// Echo of the lure.
    Lure,
    /// Echo of the fish.
    Fish,
    /// Echo of the bottom.
    Bottom,
    /// Echo of the plants.
    Plants,
    /// Depth.
    Depth,
    /// How upright the transducer hangs.
    Tilt,
    /// Whether the mud holds gas.
    Gas,
    /// What bottom and ice take of a bounce.
    Bounce,
    /// How neighbours' beams are turned and lie to the slope.
    Heading,
    /// Time from ping to ping.
    Interval,
    /// Whether the display confirms marks.
    Confirmation,
    /// At which level angles are stated.
    WidthLevel,
    /// What ratings of power mean.
    PowerKind,
    /// What the neighbours have.
    Neighbours,
}

/// A recommendation.
#[derive(Debug, Clone, PartialEq)]
pub struct Recommendation {
    /// The decision.
    pub decision: Decision,
    /// The table it was taken from.
    pub worths: Worths,
    /// Uses, shares adding up to 1.
    pub uses: Vec<Use>,
    /// By place and use: how the sensor that is advised is set.
    pub places: Vec<PlaceAdvice>,
    /// Places at which no candidate that can be had works, with the largest party with which one does.
    pub nowhere: Vec<Nowhere>,
    /// By unknown of the table.
    pub unknowns: Vec<Unknown>,
    /// Draws that were taken; fewer than asked for where there are very many places and options.
    pub draws: u32,
}

/// A place at which nothing works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nowhere {
    /// The place.
    pub place: PlaceIndex,
    /// People in the shelter with whom something works; none where fewer people do not help.
    pub people: Option<u32>,
    /// Which of those that can be had comes nearest, and what hinders it by the recorded figures.
    pub nearest: Option<(CandidateIndex, Option<Hindrance>)>,
    /// The cheapest beyond the money that works there.
    pub would: Option<CandidateIndex>,
}

impl From<Worth> for Total {
    fn from(worth: Worth) -> Self {
        Self { works: if worth.works { 1.0 } else { 0.0 }, value: worth.value }
    }
}

impl Total {
    /// Whether it works at a place: in half of the draws at least.
    #[must_use]
    pub fn likely_works(self) -> bool {
        self.works >= LIKELY
    }
}

impl Advice {
    /// The sensor that the customer has in the end.
    #[must_use]
    pub const fn sensor(self) -> Option<CandidateIndex> {
        match self {
            Self::Take(sensor) | Self::Keep { owned: sensor, .. } => Some(sensor),
            Self::WorksNowhere | Self::NothingAffordable { .. } => None,
        }
    }
}
