//! What an assessment says.

use acoustics::units::{Db, Metres};
use domain::{Id, Sentence};

use crate::LeftOut;

/// What an assessment says.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// Every check against what was expected, in the order of the input.
    pub readings: Vec<Reading>,
    /// Every option that was checked, in the order of first appearance.
    pub cohorts: Vec<Cohort>,
    /// Every unit, the worst first.
    pub units: Vec<UnitStanding>,
    /// Pairs that were swapped in one hole.
    pub swaps: Vec<Swap>,
    /// Units and checks that could not be used, because of their faults.
    pub left_out: Vec<LeftOut>,
}

/// One check against what was expected.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Index of the check.
    pub check: usize,
    /// Gain that the sonar equation expects for a unit exactly as stated.
    pub expected: Db,
    /// The same on the dial; none outside of it.
    pub expected_dial: Option<String>,
    /// Gain at the position that was read.
    pub shown: Db,
    /// Shown less expected.
    pub deficit: Db,
    /// Why it is left aside; none where it is believed.
    pub doubt: Option<Doubt>,
}

/// Why a reading is left aside.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// The same unit's other readings say otherwise.
    Contradicts,
    /// Its depth is unlike that of the rest.
    OddDepth {
        /// What is usual.
        usual: Metres,
    },
    /// Its target is unlike that of the rest.
    OddTarget {
        /// What the usual one is called.
        usual: String,
    },
}

/// Units of one option.
#[derive(Debug, Clone, PartialEq)]
pub struct Cohort {
    /// The sensor.
    pub sensor: Id,
    /// Its option.
    pub option: Id,
    /// What the model is off for all of them.
    pub bias: Db,
    /// Ends of its interval.
    pub interval: (Db, Db),
    /// Units with checks.
    pub units: u32,
    /// Checks.
    pub checks: u32,
}

/// Verdicts on a unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Standing {
    /// Nothing speaks against it.
    Sound,
    /// It may be weak, or is getting weaker: check again.
    Watch,
    /// It is weak by more than the limit, as good as surely.
    Weak,
    /// Too few checks, or too few like units, to tell.
    Unknown,
    /// Its checks contradict each other, or are too good to be true: check again before anything else.
    Doubtful,
}

/// How a unit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitStanding {
    /// Index of the unit.
    pub unit: usize,
    /// The verdict.
    pub standing: Standing,
    /// How much worse than its cohort; against the model alone where the cohort is too small; none without a check.
    pub weakness: Option<Db>,
    /// Ends of its interval.
    pub interval: Option<(Db, Db)>,
    /// Probability that it is worse by more than the limit.
    pub probability_weak: f64,
    /// Checks of it.
    pub checks: u32,
    /// Change a year, with the ends of its interval; none with fewer than three days of checks, or less than 60 days between.
    pub trend: Option<Trend>,
    /// The reading in plain words.
    pub text: Vec<Sentence>,
}

impl UnitStanding {
    /// How weak, for putting units in order.
    pub(super) fn level(&self) -> f64 {
        self.weakness.map_or(f64::NEG_INFINITY, Db::get)
    }
}

/// A change with time, dB a year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// The change.
    pub per_year: Db,
    /// Ends of its interval.
    pub interval: (Db, Db),
}

/// Two units swapped in one hole: the difference holds nothing but the two units.
#[derive(Debug, Clone, PartialEq)]
pub struct Swap {
    /// Index of the first unit.
    pub first: usize,
    /// Index of the second.
    pub second: usize,
    /// How much worse the second is.
    pub difference: Db,
    /// Ends of its interval.
    pub interval: (Db, Db),
}
