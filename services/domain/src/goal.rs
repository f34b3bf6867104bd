//! Goals: presets of weights and limits, and goals with weights and limits of the user's own.
//!
//! No publication gives the figures of the presets. The weights and limits of [`Preset::WatchLure`] are the ones with which the model
//! reproduces common practice (which beam serves to which depth); the others change them in the direction that the
//! goal names. Every explanation prints them, so that a reader can disagree with a number instead of with a verdict; who disagrees
//! stores a goal with other numbers.

use crate::desirability::OneSided;
use crate::{Id, Part, Sentence};

/// Desirability of a worthless figure, with its tail: `TAIL`/e. At or under it a criterion is at its floor: what it asks for is not there.
pub const DESIRABILITY_FLOOR: f64 = 0.036_787_944_117_144_23;

/// Weights of the four criteria; only their ratios matter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Of the coverage.
    pub coverage: f64,
    /// Of the clutter.
    pub clutter: f64,
    /// Of the resolution.
    pub resolution: f64,
    /// Of the interference.
    pub interference: f64,
}

impl Weights {
    /// In the order coverage, clutter, resolution, interference.
    #[must_use]
    pub const fn as_array(self) -> [f64; 4] {
        [self.coverage, self.clutter, self.resolution, self.interference]
    }
}

/// Between which figures each desirability runs from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Coverage radius, m.
    pub coverage_radius: OneSided,
    /// Watch footprint, m.
    pub watch_footprint: OneSided,
    /// Dead zone height, m.
    pub dead_zone_height: OneSided,
    /// Lure over plants, dB.
    pub lure_over_vegetation: OneSided,
    /// Headroom, dB.
    pub headroom: OneSided,
    /// Probability that no other fish shares the lure's cell, where the goal asks for it.
    pub single_fish: Option<OneSided>,
}

/// How a goal weighs: all that scoring takes from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighing {
    /// Weights.
    pub weights: Weights,
    /// Limits.
    pub limits: Limits,
}

/// A goal that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Preset {
    /// Find fish: coverage counts most.
    Search,
    /// Watch one lure and the fish at it.
    WatchLure,
    /// Tell fish of a school apart.
    School,
    /// Fish along weeds.
    WeedEdge,
}

/// Names of the presets in tables.
pub const PRESETS: [(&str, Preset); 4] = [
    ("search", Preset::Search),
    ("watch_lure", Preset::WatchLure),
    ("school", Preset::School),
    ("weed_edge", Preset::WeedEdge),
];

/// A goal of the user's own, with every figure that it weighs by.
#[derive(Debug, Clone, PartialEq)]
pub struct CustomGoal {
    /// Resource id.
    pub id: Id,
    /// Title for people.
    pub display_name: String,
    /// Free notes.
    pub notes: String,
    /// Its weights and limits.
    pub weighing: Weighing,
}

/// What an angler wants of the beam, as it was when it was asked for: nothing of it is looked up again.
#[derive(Debug, Clone, PartialEq)]
pub enum Goal {
    /// One that comes with the program.
    Preset(Preset),
    /// One of the user's own.
    Custom(Box<CustomGoal>),
}

/// Which goal is meant, before it is looked up.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum GoalName {
    /// One that comes with the program.
    Preset(Preset),
    /// A stored one, by its id.
    Custom(Id),
}

impl Goal {
    /// Find fish.
    pub const SEARCH: Self = Self::Preset(Preset::Search);
    /// Watch one lure.
    pub const WATCH_LURE: Self = Self::Preset(Preset::WatchLure);
    /// Tell the fish of a school apart.
    pub const SCHOOL: Self = Self::Preset(Preset::School);
    /// Fish along weeds.
    pub const WEED_EDGE: Self = Self::Preset(Preset::WeedEdge);
    /// Every goal that comes with the program.
    pub const PRESETS: [Self; 4] = [Self::SEARCH, Self::WATCH_LURE, Self::SCHOOL, Self::WEED_EDGE];

    /// Its weights and limits.
    #[must_use]
    pub fn weighing(&self) -> Weighing {
        match self {
            Self::Preset(preset) => preset.weighing(),
            Self::Custom(goal) => goal.weighing,
        }
    }

    /// What weighs so, in a sentence.
    #[must_use]
    pub fn reason(&self) -> Sentence {
        match self {
            Self::Preset(preset) => Sentence::plain(preset.reason()),
            Self::Custom(goal) => {
                Sentence::new("behind-goal-custom", [("goal", Part::Name(goal.display_name.clone()))])
            }
        }
    }

    /// Key of the words that say where its weights come from.
    #[must_use]
    pub const fn origin(&self) -> &'static str {
        match self {
            Self::Preset(_) => "from-goal",
            Self::Custom(_) => "from-custom-goal",
        }
    }

    /// Which one it is.
    #[must_use]
    pub fn name(&self) -> GoalName {
        match self {
            Self::Preset(preset) => GoalName::Preset(*preset),
            Self::Custom(goal) => GoalName::Custom(goal.id.clone()),
        }
    }
}

impl GoalName {
    /// The goal of this name; none where it is a stored one that is not among `stored`.
    #[must_use]
    pub fn among(&self, stored: &[CustomGoal]) -> Option<Goal> {
        match self {
            Self::Preset(preset) => Some(Goal::Preset(*preset)),
            Self::Custom(id) => {
                stored.iter().find(|goal| goal.id == *id).map(|goal| Goal::Custom(Box::new(goal.clone())))
            }
        }
    }
}

/// Coverage radius: under 0.3 m the beam is hardly wider than the hole; from 2.5 m on a fish is seen long before it
/// reaches the lure. Watch footprint: a circle of 1.5 m is what a fish crosses in a moment; over 6.5 m the display shows
/// fish that never see the lure. Shadow: a lure is worked from 0.1 to 0.9 m over the bottom. Cover: 10 dB is a clear mark
/// over plants, at −5 dB it is lost among them. Headroom: a turn of 6 dB is what a hand finds without looking.
const BASE: Limits = Limits {
    coverage_radius: OneSided::line(0.3, 2.5),
    watch_footprint: OneSided::line(6.5, 1.5),
    dead_zone_height: OneSided::line(0.9, 0.1),
    lure_over_vegetation: OneSided::line(-5.0, 10.0),
    headroom: OneSided::line(-6.0, 6.0),
    single_fish: None,
};

/// Find fish.
const SEARCH: Weighing = Weighing {
    weights: Weights { coverage: 3.0, clutter: 1.0, resolution: 0.5, interference: 1.0 },
    limits: Limits { coverage_radius: OneSided::line(0.5, 4.0), watch_footprint: OneSided::line(10.0, 2.0), ..BASE },
};

/// Watch one lure and the fish at it.
const WATCH_LURE: Weighing =
    Weighing { weights: Weights { coverage: 1.0, clutter: 1.0, resolution: 1.0, interference: 1.0 }, limits: BASE };

/// Tell the fish of a school apart.
const SCHOOL: Weighing = Weighing {
    weights: Weights { coverage: 0.5, clutter: 1.0, resolution: 3.0, interference: 1.0 },
    limits: Limits { watch_footprint: OneSided::line(4.0, 0.8), single_fish: Some(OneSided::line(0.3, 0.9)), ..BASE },
};

/// Fish along weeds.
const WEED_EDGE: Weighing = Weighing {
    weights: Weights { coverage: 0.5, clutter: 3.0, resolution: 1.0, interference: 1.0 },
    limits: Limits { coverage_radius: OneSided::line(0.2, 1.5), ..BASE },
};

impl Preset {
    /// Every preset.
    pub const ALL: [Self; 4] = [Self::Search, Self::WatchLure, Self::School, Self::WeedEdge];

    /// Its weights and limits.
    #[must_use]
    pub const fn weighing(self) -> Weighing {
        match self {
            Self::Search => SEARCH,
            Self::WatchLure => WATCH_LURE,
            Self::School => SCHOOL,
            Self::WeedEdge => WEED_EDGE,
        }
    }

    /// Key of the sentence that says why these.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Search => "behind-goal-search",
            Self::WatchLure => "behind-goal-lure",
            Self::School => "behind-goal-school",
            Self::WeedEdge => "behind-goal-weeds",
        }
    }
}
