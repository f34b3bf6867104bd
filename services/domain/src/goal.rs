//! Goals as presets of weights and limits.
//!
//! No publication gives these figures. The weights and limits of [`Goal::WatchLure`] are the ones with which the model
//! reproduces common practice (which beam serves to which depth); the others change them in the direction that the
//! goal names. Every explanation prints them, so that a reader can disagree with a number instead of with a verdict.

use crate::desirability::OneSided;
use crate::selection::Goal;

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

/// A goal's weights and limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preset {
    /// Weights.
    pub weights: Weights,
    /// Limits.
    pub limits: Limits,
    /// Why these, in a sentence.
    pub reason: &'static str,
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
pub const SEARCH: Preset = Preset {
    weights: Weights { coverage: 3.0, clutter: 1.0, resolution: 0.5, interference: 1.0 },
    limits: Limits { coverage_radius: OneSided::line(0.5, 4.0), watch_footprint: OneSided::line(10.0, 2.0), ..BASE },
    reason: "behind-goal-search",
};

/// Watch one lure and the fish at it.
pub const WATCH_LURE: Preset = Preset {
    weights: Weights { coverage: 1.0, clutter: 1.0, resolution: 1.0, interference: 1.0 },
    limits: BASE,
    reason: "behind-goal-lure",
};

/// Tell the fish of a school apart.
pub const SCHOOL: Preset = Preset {
    weights: Weights { coverage: 0.5, clutter: 1.0, resolution: 3.0, interference: 1.0 },
    limits: Limits { watch_footprint: OneSided::line(4.0, 0.8), single_fish: Some(OneSided::line(0.3, 0.9)), ..BASE },
    reason: "behind-goal-school",
};

/// Fish along weeds.
pub const WEED_EDGE: Preset = Preset {
    weights: Weights { coverage: 0.5, clutter: 3.0, resolution: 1.0, interference: 1.0 },
    limits: Limits { coverage_radius: OneSided::line(0.2, 1.5), ..BASE },
    reason: "behind-goal-weeds",
};

impl Goal {
    /// Weights and limits of this goal.
    #[must_use]
    pub const fn preset(self) -> Preset {
        match self {
            Self::Search => SEARCH,
            Self::WatchLure => WATCH_LURE,
            Self::School => SCHOOL,
            Self::WeedEdge => WEED_EDGE,
        }
    }
}
