//! Unit checks: which units of a fleet are sound, and which are weak.
//!
//! A check lowers a reference target to a known depth under the transducer and notes the position of the dial at which it
//! first shows. What that is above the gain that the sonar equation expects is the *deficit*:
//!
//! y = b + w + e
//!
//! with b what the model is off for every unit of one option (its cohort), w how much worse this unit is, and e the error
//! of the reading, of a stated standard deviation σ. From the checks of a fleet
//!
//! - a unit's level m is the median of its deficits (of one or two, their mean), with the standard error σ·c/√k;
//! - b is the median of the *other* units' levels, so that a weak unit does not hide itself, with the standard error
//!   1.2533 s/√n, where s is their spread by the median absolute deviation (never under that of the readings alone);
//! - w = m − b, its interval from Student's t with the degrees of freedom after Satterthwaite (1946), as b's error is
//!   estimated and the reading's is not.
//!
//! P. J. Huber, Robust Statistics (1981), chapter 5; F. E. Satterthwaite, Biometrics Bulletin 2, 110–114 (1946),
//! <https://doi.org/10.2307/3002019>; the small-sample factors of the deviation are those of C. Croux and
//! P. J. Rousseeuw (1992), from memory, and held to simulation in a test.

mod expect;
mod input;
mod robust;
mod words;

pub use input::{AssessmentInput, AssessmentSettings};

use acoustics::units::Db;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::PlanningError;
use domain::Sentence;
use domain::{Id, Unit};
use expect::Observed;
use robust::{Level, level, spread};

/// Days in a year, for trends.
const YEAR_DAYS: f64 = 365.25;
/// Shortest time over which a change is given: over less, the error of two readings would be blown up to a year.
const LEAST_TREND_DAYS: i32 = 60;
/// Fewest other units that tell bias from weakness.
const LEAST_OTHERS: usize = 2;

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
    fn level(&self) -> f64 {
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

/// Assesses units from their checks.
///
/// # Errors
/// Every fault of the input at once: unknown names, positions that are not on the dial, serials given twice, and so on.
pub fn assess(input: &AssessmentInput) -> Result<Assessment, PlanningError> {
    let observed = input.observed().map_err(PlanningError::Faults)?;
    let mut cohorts: Vec<Group> = Vec::new();
    for one in &observed {
        let Some(unit) = input.units.get(one.unit) else { continue };
        let key = (&unit.sensor, &one.check.option);
        match cohorts.iter_mut().find(|group| (&group.sensor, &group.option) == key) {
            Some(group) => group.add(one),
            None => cohorts.push(Group::new(key.0.clone(), key.1.clone(), one)),
        }
    }
    let judge = Judge { input, observed: &observed };
    let mut units: Vec<UnitStanding> = (0..input.units.len()).filter_map(|unit| judge.unit(unit, &cohorts)).collect();
    units.sort_by(|a, b| {
        b.probability_weak.total_cmp(&a.probability_weak).then_with(|| b.level().total_cmp(&a.level()))
    });
    Ok(Assessment {
        readings: observed.iter().map(|one| one.reading()).collect(),
        cohorts: cohorts.iter().map(|group| judge.cohort(group)).collect(),
        units,
        swaps: judge.swaps(),
    })
}

/// Deficits of the units of one option.
#[derive(Debug)]
struct Group {
    sensor: Id,
    option: Id,
    /// By unit: its deficits.
    units: Vec<(usize, Vec<f64>)>,
}

impl Group {
    fn new(sensor: Id, option: Id, first: &Observed) -> Self {
        Self { sensor, option, units: vec![(first.unit, vec![first.deficit])] }
    }

    fn add(&mut self, one: &Observed) {
        match self.units.iter_mut().find(|(unit, _)| *unit == one.unit) {
            Some((_, deficits)) => deficits.push(one.deficit),
            None => self.units.push((one.unit, vec![one.deficit])),
        }
    }
}

/// A figure with its standard error and the degrees of freedom of that.
#[derive(Debug, Clone, Copy)]
struct Estimate {
    value: f64,
    error: f64,
    freedom: f64,
}

impl Estimate {
    /// Ends of the interval that holds the truth with that probability.
    fn interval(self, probability: f64) -> (Db, Db) {
        let half = self.error * self.quantile(0.5 + 0.5 * probability);
        (Db::new(self.value - half), Db::new(self.value + half))
    }

    fn quantile(self, p: f64) -> f64 {
        // The quantile of the library never returns with infinite degrees of freedom.
        if self.freedom.is_infinite() {
            return normal_quantile(p);
        }
        StudentsT::new(0.0, 1.0, self.freedom).map_or_else(|_| normal_quantile(p), |t| t.inverse_cdf(p))
    }

    /// Probability that the truth is above a limit.
    fn above(self, limit: f64) -> f64 {
        let x = (self.value - limit) / self.error;
        if self.freedom.is_infinite() {
            return normal_below(x);
        }
        StudentsT::new(0.0, 1.0, self.freedom).map_or_else(|_| normal_below(x), |t| t.cdf(x))
    }
}

fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

fn normal_below(x: f64) -> f64 {
    Normal::standard().cdf(x)
}

struct Judge<'a> {
    input: &'a AssessmentInput,
    observed: &'a [Observed<'a>],
}

impl Judge<'_> {
    /// Bias of some units' levels.
    fn bias(&self, levels: &[Level]) -> Option<Estimate> {
        let values: Vec<f64> = levels.iter().map(|level| level.value).collect();
        let middle = robust::median(&values)?;
        let count = crate::selection::count(values.len());
        let readings = libm::sqrt(levels.iter().map(|level| level.error * level.error).sum::<f64>() / count);
        let deviation = spread(&values).max(readings);
        Some(Estimate {
            value: middle,
            error: robust::MEDIAN_ERROR * deviation / libm::sqrt(count),
            freedom: (count - 1.0).max(1.0),
        })
    }

    fn cohort(&self, group: &Group) -> Cohort {
        let levels: Vec<Level> = group.units.iter().map(|(_, deficits)| self.level(deficits)).collect();
        let bias = self.bias(&levels).unwrap_or(Estimate { value: 0.0, error: f64::INFINITY, freedom: 1.0 });
        Cohort {
            sensor: group.sensor.clone(),
            option: group.option.clone(),
            bias: Db::new(bias.value),
            interval: bias.interval(self.input.settings.interval),
            units: small(group.units.len()),
            checks: small(group.units.iter().map(|(_, deficits)| deficits.len()).sum()),
        }
    }

    fn level(&self, deficits: &[f64]) -> Level {
        level(deficits, self.input.settings.reading_error.get())
    }

    fn unit(&self, unit: usize, cohorts: &[Group]) -> Option<UnitStanding> {
        let known: &Unit = self.input.units.get(unit)?;
        let checks: Vec<&Observed> = self.observed.iter().filter(|one| one.unit == unit).collect();
        let against: Vec<(Estimate, Option<Estimate>, usize)> =
            cohorts.iter().filter_map(|group| self.weakness(unit, group)).collect();
        // A unit with several options is as weak as its worst option says.
        let worst = against.iter().max_by(|a, b| {
            let limit = self.input.settings.weak_limit.get();
            a.0.above(limit).total_cmp(&b.0.above(limit))
        });
        let trend = self.trend(&checks);
        let Some((weakness, bias, others)) = worst.copied() else {
            return Some(UnitStanding {
                unit,
                standing: Standing::Unknown,
                weakness: None,
                interval: None,
                probability_weak: 0.0,
                checks: 0,
                trend: None,
                text: words::unchecked(known),
            });
        };
        let probability = weakness.above(self.input.settings.weak_limit.get());
        let standing = self.verdict(probability, trend, others);
        let latest = checks.iter().max_by_key(|one| one.check.day);
        Some(UnitStanding {
            unit,
            standing,
            weakness: Some(Db::new(weakness.value)),
            interval: Some(weakness.interval(self.input.settings.interval)),
            probability_weak: probability,
            checks: small(checks.len()),
            trend,
            text: latest.map_or_else(Vec::new, |one| words::reading(self.input, one, bias, standing)),
        })
    }

    fn verdict(&self, probability: f64, trend: Option<Trend>, others: usize) -> Standing {
        let settings = &self.input.settings;
        if others < LEAST_OTHERS {
            Standing::Unknown
        } else if probability >= settings.weak_probability {
            Standing::Weak
        } else if probability >= settings.watch_probability || trend.is_some_and(|t| t.interval.0.get() > 0.0) {
            Standing::Watch
        } else {
            Standing::Sound
        }
    }

    /// How much worse a unit is than the others of a cohort, the bias of these, and how many they are.
    fn weakness(&self, unit: usize, group: &Group) -> Option<(Estimate, Option<Estimate>, usize)> {
        let own = self.level(&group.units.iter().find(|(known, _)| *known == unit)?.1);
        let others: Vec<Level> =
            group.units.iter().filter(|(known, _)| *known != unit).map(|(_, deficits)| self.level(deficits)).collect();
        let count = others.len();
        if count < LEAST_OTHERS {
            // Nothing but the model to hold it against.
            let model = self.input.settings.model_error.get();
            let error = libm::sqrt(own.error * own.error + model * model);
            return Some((Estimate { value: own.value, error, freedom: f64::INFINITY }, None, count));
        }
        let bias = self.bias(&others)?;
        let square = own.error * own.error + bias.error * bias.error;
        // Satterthwaite's degrees of freedom: the reading's error is stated, the bias's is estimated.
        let freedom = square * square / (bias.error * bias.error * bias.error * bias.error / bias.freedom);
        let weakness = Estimate { value: own.value - bias.value, error: libm::sqrt(square), freedom };
        Some((weakness, Some(bias), count))
    }

    /// The slope of a unit's deficits over the days, by least squares with the stated error.
    fn trend(&self, checks: &[&Observed]) -> Option<Trend> {
        let mut days: Vec<_> = checks.iter().map(|one| one.check.day).collect();
        days.sort_unstable();
        days.dedup();
        let (first, last) = (*days.first()?, *days.last()?);
        if days.len() < 3 || (last - first).get_days() < LEAST_TREND_DAYS {
            return None;
        }
        let at = |one: &Observed| f64::from((one.check.day - first).get_days()) / YEAR_DAYS;
        let count = crate::selection::count(checks.len());
        let mean_time = checks.iter().map(|one| at(one)).sum::<f64>() / count;
        let mean = checks.iter().map(|one| one.deficit).sum::<f64>() / count;
        let square: f64 = checks.iter().map(|one| (at(one) - mean_time) * (at(one) - mean_time)).sum();
        let product: f64 = checks.iter().map(|one| (at(one) - mean_time) * (one.deficit - mean)).sum();
        let slope = Estimate {
            value: product / square,
            error: self.input.settings.reading_error.get() / libm::sqrt(square),
            freedom: f64::INFINITY,
        };
        Some(Trend { per_year: Db::new(slope.value), interval: slope.interval(self.input.settings.interval) })
    }

    /// Pairs of checks that bear the same label.
    fn swaps(&self) -> Vec<Swap> {
        let mut found = Vec::new();
        for (index, first) in self.observed.iter().enumerate() {
            let label = first.check.swap.as_str();
            let second = self.observed.iter().skip(index + 1).find(|other| other.check.swap == label);
            if let (false, Some(second)) = (label.is_empty(), second) {
                let error = libm::sqrt(2.0) * self.input.settings.reading_error.get();
                let difference = Estimate { value: second.deficit - first.deficit, error, freedom: f64::INFINITY };
                found.push(Swap {
                    first: first.unit,
                    second: second.unit,
                    difference: Db::new(difference.value),
                    interval: difference.interval(self.input.settings.interval),
                });
            }
        }
        found
    }
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
