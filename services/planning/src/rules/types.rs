//! What rules are derived from, and what they say.

use acoustics::units::{Db, Metres};

use crate::generic::GenericUnit;
use domain::selection::OptionRef;
use domain::setting::Setting;
use domain::{BottomClass, Confirmation, Point, Sensor, Shelter, Target};

/// Everything that rules are derived from.
#[derive(Debug, Clone, PartialEq)]
pub struct RulesInput {
    /// The shelters, each with its holes or its party.
    pub shelters: Vec<Shelter>,
    /// Sensors that the options belong to.
    pub sensors: Vec<Sensor>,
    /// The options that may be brought.
    pub options: Vec<OptionRef>,
    /// Classes of units that may be brought although they are in no list; rules name them by their place behind the options.
    pub unlisted: Vec<GenericUnit>,
    /// Bands of depth that rules are given for.
    pub bands: Vec<DepthBand>,
    /// Bottoms that may lie under a shelter.
    pub bottoms: Vec<BottomClass>,
    /// The lure that must show.
    pub lure: Target,
    /// Settings.
    pub settings: RulesSettings,
}

/// Depths from the shallowest to the deepest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DepthBand {
    /// The shallowest.
    pub shallow: Metres,
    /// The deepest.
    pub deep: Metres,
}

/// What an organizer may vary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RulesSettings {
    /// Largest tolerated fraction of range cells with interference marks; default 0.02.
    pub tolerance: f64,
    /// Margin by which the lure must pass the threshold; default 3 dB.
    pub lure_margin: Db,
    /// How far the bottom must pass the threshold; default 30 dB.
    pub strong_mark: Db,
    /// Height of the lure over the bottom; none for the default of each depth.
    pub lure_height: Option<Metres>,
    /// Clear distance between the floor of a shelter and those of others like it on all sides; none where it stands alone.
    pub next_shelter: Option<Metres>,
}

impl Default for RulesSettings {
    fn default() -> Self {
        Self {
            tolerance: 0.02,
            lure_margin: Db::new(3.0),
            strong_mark: Db::new(30.0),
            lure_height: None,
            next_shelter: None,
        }
    }
}

/// The rules of an event.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleBook {
    /// One sheet a shelter, in the order of the input.
    pub sheets: Vec<Sheet>,
}

/// The rules of one shelter.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Index of the shelter.
    pub shelter: usize,
    /// How many fish in it.
    pub people: u32,
    /// Its holes.
    pub holes: Vec<Point>,
    /// Least distance between two of them; none for a single hole.
    pub spacing: Option<Metres>,
    /// One entry a band of depth.
    pub bands: Vec<BandRules>,
}

/// The rules of one shelter in one band of depth.
#[derive(Debug, Clone, PartialEq)]
pub struct BandRules {
    /// Index of the band.
    pub band: usize,
    /// One rule an option, in the order of the input.
    pub rules: Vec<Rule>,
    /// Pairs of allowed options that may be mixed.
    pub mixes: Vec<Mix>,
    /// Clear distance to other shelters from which on these rules are those of a shelter that stands alone, whatever stands there of the options; none
    /// where 40 m are not enough.
    pub holds_beyond: Option<Metres>,
    /// What helps soonest; none where an option is allowed as it is.
    pub help: Option<Help>,
}

/// What one option may do in one shelter and one band.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Index into the options, then the classes that are not listed.
    pub option: usize,
    /// Why it is not allowed; none if it is.
    pub refusal: Option<Refusal>,
    /// Gain at which the lure and the bottom show at every depth of the band.
    pub start_gain: Db,
    /// How it is set: positions of the dial where the threshold is known, else from where the lure first shows. None where it is not allowed.
    pub setting: Option<Setting>,
    /// The start gain on the dial, rounded up, but never past the highest gain; none beyond its end, and where the threshold is assumed.
    pub start_dial: Option<String>,
    /// Depth that asks for this start gain.
    pub start_depth: Metres,
    /// Bottom that asks for it.
    pub start_bottom: BottomClass,
    /// Highest gain at which neighbours stay within tolerance at every depth, whatever they have of what may be mixed with it; at most the greatest.
    pub highest_gain: Db,
    /// The same among neighbours of which all have this option; not under the other.
    pub alike_highest_gain: Db,
    /// That on the dial, as the highest gain.
    pub alike_highest_dial: Option<String>,
    /// The same on the dial, rounded down; none under its beginning, and where the threshold is assumed.
    pub highest_dial: Option<String>,
    /// Depth and bottom that set the highest gain; none where the dial ends first.
    pub limited_by: Option<(Metres, BottomClass)>,
    /// Least distance between holes for this party, however they are arranged; none where no distance up to 40 m is enough.
    pub least_spacing: Option<Metres>,
    /// Greatest party in this shelter, if it stands alone and all have this option.
    pub most_people: u32,
}

/// Why an option is not allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// Its greatest gain does not show the lure or the bottom at every depth of the band.
    GainBeyondMax {
        /// Decibels that are missing.
        missing: Db,
    },
    /// Neighbours show before the lure does.
    NeighboursShow {
        /// Decibels from the highest gain to the start gain.
        missing: Db,
    },
    /// Neighbours show at every gain of the dial.
    NoClearGain {
        /// Decibels from the highest gain to the start gain.
        missing: Db,
    },
}

/// Two options that may share a shelter. A party of any options of which each two may be mixed keeps to the highest gain of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mix {
    /// Index of the first option.
    pub first: usize,
    /// Index of the second.
    pub second: usize,
}

/// An option by index, as an answer names it.
pub type UnitChoice = usize;

/// The single change that helps soonest where no option is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Help {
    /// Marks are drawn only when several pings confirm them.
    Confirmation {
        /// The option.
        option: UnitChoice,
        /// The confirmation that is enough.
        confirmation: Confirmation,
    },
    /// Everybody keeps to a lower gain, at which the lure still shows but with less than its margin.
    LowerGain {
        /// The option.
        option: UnitChoice,
        /// How far under the start gain.
        by: Db,
    },
    /// Fewer people.
    FewerPeople {
        /// The option.
        option: UnitChoice,
        /// How many fit.
        people: u32,
    },
    /// More room between shelters: each option of the rules of a shelter that stands alone is then allowed.
    FartherShelters {
        /// The clear distance that is enough; none where 40 m are not.
        clear: Option<Metres>,
    },
    /// None of the options reaches the depths of the band even alone.
    OtherOptions,
}
