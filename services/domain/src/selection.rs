//! What a selection run is asked and what it answers: the contract between the kernel, the store, the API and the reports.

use std::borrow::Cow;

use acoustics::units::{Angle, Db, Metres};

use super::goal::{CustomGoal, Goal};
use super::{Id, Sensor, Sentence, Shelter, Spot, Target};

/// Everything that a run needs, as it was when the run started: a run never reads the catalog again.
#[derive(Debug, Clone, PartialEq)]
pub struct RunInput {
    /// Spots in the order asked for.
    pub spots: Vec<Spot>,
    /// Sensors that the options belong to.
    pub sensors: Vec<Sensor>,
    /// Options to score: indices into `sensors` and into that sensor's options, in the order asked for.
    pub options: Vec<OptionRef>,
    /// Shelter that is shared; none when fishing alone.
    pub shelter: Option<Shelter>,
    /// What the others in it have.
    pub others: Others,
    /// The lure.
    pub lure: Target,
    /// The fish.
    pub fish: Target,
    /// Settings.
    pub settings: Settings,
    /// The goals of the user's own that the uses of the sensor name.
    pub goals: Vec<CustomGoal>,
}

/// What the other people in a shelter have.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Others {
    /// The same option as the one that is judged, set the same way.
    #[default]
    Same,
    /// Some of these options.
    Given {
        /// Sensors that the options belong to.
        sensors: Vec<Sensor>,
        /// Indices into these sensors and into that sensor's options.
        options: Vec<OptionRef>,
    },
    /// Nobody knows.
    Unknown,
}

/// An option of a sensor, by position in `RunInput::sensors`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct OptionRef {
    /// Index of the sensor.
    pub sensor: usize,
    /// Index of the option in the sensor.
    pub option: usize,
}

/// What a run may vary.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// What is wanted of the beam: weights and limits.
    pub goal: Goal,
    /// Largest tolerated fraction of range cells with interference marks; default 0.02.
    pub interference_tolerance: f64,
    /// Margin by which the lure must pass the threshold; default 3 dB.
    pub lure_margin: Db,
    /// How far the bottom must pass the threshold to look like a bottom; default 30 dB.
    pub strong_mark: Db,
    /// Lateral offset of the lure from the transducer; none means the hole radius.
    pub lure_offset: Option<Metres>,
    /// How the transducer hangs; upright by default.
    pub lean: Lean,
    /// Draws for the uncertainty; 0 leaves it out.
    pub draws: u32,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            goal: Goal::WATCH_LURE,
            interference_tolerance: 0.02,
            lure_margin: Db::new(3.0),
            strong_mark: Db::new(30.0),
            lure_offset: None,
            lean: Lean::UPRIGHT,
            draws: 0,
            seed: 1,
        }
    }
}

/// How a hung transducer leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean {
    /// Of its axis from the vertical.
    pub angle: Angle,
    /// Where its face looks, round from the lure's side, which is up the slope; none means away from the lure, the way that costs most.
    pub direction: Option<Angle>,
}

impl Lean {
    /// As it should hang.
    pub const UPRIGHT: Self = Self { angle: Angle::new(0.0), direction: None };

    /// Towards the lure and across, radians.
    #[must_use]
    pub fn parts(self) -> [f64; 2] {
        let angle = self.angle.get();
        match self.direction {
            None => [0.0 - angle, 0.0],
            Some(direction) => [angle * libm::cos(direction.get()), angle * libm::sin(direction.get())],
        }
    }
}

/// One spot × one option.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Index of the spot in the run.
    pub spot: usize,
    /// Index into `RunInput::options`.
    pub option: usize,
    /// The four criteria as measured.
    pub criteria: Criteria,
    /// The gains.
    pub gains: Gains,
    /// The desirabilities, each in [0, 1].
    pub desirability: Desirability,
    /// Weighted geometric mean of the desirabilities; 0 when disqualified.
    pub score: f64,
    /// 1 for the best option at this spot; disqualified options share the ranks after the last qualified one, ordered by option.
    pub rank: u32,
    /// Why the option is disqualified; empty when it is not.
    pub failures: Vec<Failure>,
    /// Defaults and assumed figures that this finding leans on.
    pub assumptions: Vec<Assumption>,
    /// Things worth saying that do not disqualify.
    pub notices: Vec<Notice>,
    /// Bands and acceptabilities, when draws were asked for.
    pub uncertainty: Option<Uncertainty>,
}

/// The criteria as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criteria {
    /// Mean radius of the circle in which fish show, over the fish layer, at search gain.
    pub coverage_radius: Metres,
    /// Mean area of that circle, m².
    pub coverage_area_m2: f64,
    /// Diameter in which other fish show at the lure's depth, at working gain.
    pub watch_footprint: Metres,
    /// Range cell.
    pub range_cell: Metres,
    /// Probability that no other fish shares the lure's cell.
    pub single_fish_probability: f64,
    /// Height over the bottom under which the lure is hidden.
    pub dead_zone_height: Metres,
    /// Lure over the plants, in dB; none without plants in the lure's cell.
    pub lure_over_vegetation: Option<Db>,
    /// Clear gain less working gain; none when fishing alone.
    pub headroom: Option<Db>,
    /// Fraction of range cells with interference marks at working gain; 0 when alone.
    pub interference_fraction: f64,
}

/// The gains, dB over zero gain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gains {
    /// Least gain that shows the lure with its margin.
    pub lure: Db,
    /// Least gain that shows the bottom strongly.
    pub bottom: Db,
    /// The larger of the two.
    pub working: Db,
    /// Highest gain at which neighbours stay under tolerance; none when alone; may be negative (then there is no clear gain).
    pub clear: Option<Db>,
    /// Gain to search with.
    pub search: Db,
    /// Greatest gain of the sensor.
    pub max: Db,
}

/// Desirabilities in [0, 1].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Desirability {
    /// Of the coverage radius.
    pub coverage: f64,
    /// Of the clutter: dead zone height and lure over vegetation.
    pub clutter: f64,
    /// Of the watch footprint (and of single-fish probability where the goal asks).
    pub resolution: f64,
    /// Of the headroom.
    pub interference: f64,
}

/// Why an option is disqualified at a spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Failure {
    /// Even the greatest gain does not show the lure.
    LureGainBeyondMax {
        /// How many decibels are missing.
        missing: Db,
    },
    /// Even the greatest gain does not show the bottom.
    BottomGainBeyondMax {
        /// How many decibels are missing.
        missing: Db,
    },
    /// The lure hangs outside the main lobe at its depth.
    LureOutsideBeam {
        /// Lateral offset of the lure.
        offset: Metres,
        /// Radius of the main lobe at the lure's depth.
        lobe_radius: Metres,
    },
    /// Neighbours show at every gain of the dial.
    NoClearGain {
        /// Fraction of range cells with interference marks at zero gain.
        fraction_at_zero: f64,
    },
    /// The noise of the water and the receiver would show before the lure does.
    NoiseBeforeLure {
        /// How many decibels the noise is above the needed threshold.
        by: Db,
    },
    /// The lure is so near that the transducer still rings from its ping.
    LureInRingDown {
        /// Slant range of the lure.
        range: Metres,
        /// Range from which on echoes show.
        blind: Metres,
    },
}

/// A default or an assumed figure that a finding leans on.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumption {
    /// Field of the API it stands for, such as `floor_db`.
    pub field: Cow<'static, str>,
    /// What was taken, and why.
    pub sentence: Sentence,
}

/// Something worth saying that does not disqualify.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Notice {
    /// The lure is inside the dead zone height.
    LureInDeadZone {
        /// Height of the shadow.
        shadow: Metres,
        /// Height of the lure.
        lure: Metres,
    },
    /// Plants give a stronger echo than the lure.
    LureDrownsInCover {
        /// Lure over plants.
        ratio: Db,
    },
    /// A steep-skirted narrow beam in shallow water may lose the lure at the rim of the hole.
    LureNearLobeEdge {
        /// Lateral offset of the lure.
        offset: Metres,
        /// Radius of the main lobe.
        lobe_radius: Metres,
    },
    /// The lure is nearer than the far field begins: levels are approximate.
    NearField {
        /// Where it begins: (2a)²/λ, four times the Rayleigh distance a²/λ.
        rayleigh_distance: Metres,
    },
    /// The working gain passes the clear gain: neighbours will show.
    NeighboursShow {
        /// Clear gain less working gain, negative.
        headroom: Db,
    },
    /// Nothing of the option shows fish in the layer at search gain.
    NoCoverage,
}

/// What the draws gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertainty {
    /// Share of draws in which the option held rank 1, 2, … among those of its spot.
    pub rank_acceptability: Vec<f64>,
    /// 5, 50 and 95 % points of the score.
    pub score: Band,
    /// Of the coverage radius, m.
    pub coverage_radius_m: Band,
    /// Of the watch footprint, m.
    pub watch_footprint_m: Band,
    /// Of the dead zone height, m.
    pub dead_zone_height_m: Band,
    /// Of the lure over vegetation, dB; none without plants.
    pub lure_over_vegetation_db: Option<Band>,
    /// Of the headroom, dB; none when alone.
    pub headroom_db: Option<Band>,
    /// Of the working gain, dB.
    pub working_gain_db: Band,
    /// Share of draws in which the option was disqualified.
    pub disqualified: f64,
    /// Whether no other option at the spot is at least as good in every criterion and better in one.
    pub pareto: bool,
    /// Name of the input whose spread moves the score most, and its share of the variance.
    pub dominant_uncertainty: Option<(String, f64)>,
}

/// A band of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// 5 % point.
    pub low: f64,
    /// Median.
    pub median: f64,
    /// 95 % point.
    pub high: f64,
}

/// How an option did over all spots of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct OptionSummary {
    /// Index into `RunInput::options`.
    pub option: usize,
    /// Spots at which it ranks first.
    pub best_at: u32,
    /// Spots at which it is not disqualified.
    pub serves: u32,
    /// Spots at which its score is within 0.05 of the best.
    pub near_best_at: u32,
    /// Mean score, disqualified counted as 0.
    pub mean_score: f64,
    /// Lowest score over the spots.
    pub worst_score: f64,
}

/// One step of an explanation: a figure with its formula, unit, source and provenance, and what it was made from.
#[derive(Debug, Clone, PartialEq)]
pub struct ExplainStep {
    /// Stable name, such as `working_gain_db`.
    pub name: String,
    /// Symbol, such as `g_w`.
    pub symbol: &'static str,
    /// Name for people.
    pub title: Sentence,
    /// Value; none for a heading.
    pub value: Option<f64>,
    /// Unit, empty for a plain number.
    pub unit: &'static str,
    /// Formula in plain text.
    pub formula: &'static str,
    /// Where the formula or the figure comes from, where there is more to say than the formula.
    pub source: Option<Origin>,
    /// In plain words.
    pub text: Vec<Sentence>,
    /// What it was made from.
    pub inputs: Vec<ExplainStep>,
}

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// A publication, cited alike in every language.
    Published(&'static str),
    /// Key of the words, such as `from-spot`.
    Said(&'static str),
}

impl Origin {
    /// In English.
    #[must_use]
    pub fn text(self) -> String {
        match self {
            Self::Published(text) => text.to_owned(),
            Self::Said(key) => Sentence::plain(key).text(),
        }
    }
}

/// Resource id of an option, for people and for the API: `sensor/option`.
#[must_use]
pub fn option_path(sensor: &Id, option: &Id) -> String {
    format!("sensors/{sensor}/options/{option}")
}
