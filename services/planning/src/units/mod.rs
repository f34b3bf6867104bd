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
//! - a unit's level m is the mean of its k deficits that agree, with the standard error σ/√k; a reading that contradicts the
//!   others, or was made at a depth or with a target unlike the rest and is far off, is left aside and said so;
//! - b is the median of the *other* units' levels, so that a weak unit does not hide itself, with the standard error
//!   1.2533 s/√n, where s is their spread by the median absolute deviation (never under that of the readings alone);
//! - a unit is called weak by two readings that agree or more, never by one; one that is better than sound ones by as much is
//!   not believed, nor is a weak one that it may have changed labels with;
//! - w = m − b, its interval from Student's t with the degrees of freedom after Satterthwaite (1946), as b's error is
//!   estimated and the reading's is not.
//!
//! P. J. Huber, Robust Statistics (1981), chapter 5; F. E. Satterthwaite, Biometrics Bulletin 2, 110–114 (1946),
//! <https://doi.org/10.2307/3002019>; the small-sample factors of the deviation are those of C. Croux and
//! P. J. Rousseeuw (1992), from memory, and held to simulation in a test.

mod expect;
mod input;
mod labels;
mod robust;
mod trust;
mod words;

pub use input::{AssessmentInput, AssessmentSettings, misread};
pub use trust::Doubt;

use std::collections::BTreeSet;

use acoustics::units::Db;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::{LeftOut, PlanningError};
use domain::Sentence;
use domain::{Cancel, Cancelled, Id, Unit};
use expect::Observed;
use robust::{Level, level, spread};

/// Days in a year, for trends.
const YEAR_DAYS: f64 = 365.25;
/// Shortest time over which a change is given: over less, the error of two readings would be blown up to a year.
const LEAST_TREND_DAYS: i32 = 60;
/// Fewest other units that tell bias from weakness.
const LEAST_OTHERS: usize = 2;
/// Fewest readings that agree before a unit is called weak.
const LEAST_AGREEING: usize = 2;

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

/// Assesses units from their checks. Units and checks with faults are left out and listed.
///
/// # Errors
/// Faults of the settings, or no check that can be used; every fault is told at once. Or the work is cancelled.
pub fn assess(input: &AssessmentInput, cancel: &Cancel) -> Result<Assessment, PlanningError> {
    let (observed, left_out) = input.observed(cancel)?;
    let error = input.settings.reading_error.get();
    let odd = trust::odd(&observed, &input.targets, error, cancel)?;
    let groups = groups(input, &observed, &odd, cancel)?;
    let believed: BTreeSet<usize> =
        groups.iter().flat_map(|group| &group.units).flat_map(|own| own.believed.clone()).collect();
    let mut readings: Vec<Reading> = observed.iter().map(Observed::reading).collect();
    for (index, (reading, doubt)) in readings.iter_mut().zip(odd).enumerate() {
        reading.doubt = doubt.or_else(|| (!believed.contains(&index)).then_some(Doubt::Contradicts));
    }
    let judge = Judge { input, observed: &observed, readings: &readings };
    let left: BTreeSet<&str> = left_out.iter().map(|out| out.name.as_str()).collect();
    let known = (0..input.units.len()).filter(|unit| {
        input.units.get(*unit).is_some_and(|unit| !left.contains(format!("units/{}", unit.id).as_str()))
    });
    let units = known.map(|unit| cancel.check().map(|()| judge.unit(unit, &groups)));
    let units: Vec<Option<UnitStanding>> = units.collect::<Result<_, _>>()?;
    let mut units: Vec<UnitStanding> = units.into_iter().flatten().collect();
    labels::swapped(&judge, &mut units, cancel)?;
    units.sort_by(|a, b| {
        b.probability_weak.total_cmp(&a.probability_weak).then_with(|| b.level().total_cmp(&a.level()))
    });
    let cohorts = groups.iter().map(|group| judge.cohort(group)).collect();
    let swaps = judge.swaps(cancel)?;
    Ok(Assessment { readings, cohorts, units, swaps, left_out })
}

/// The units of one option.
#[derive(Debug)]
struct Group {
    sensor: Id,
    option: Id,
    units: Vec<GroupUnit>,
}

/// One unit on that option.
#[derive(Debug)]
struct GroupUnit {
    unit: usize,
    /// Its readings, by index; those that are unlike the rest are not among them.
    readings: Vec<usize>,
    /// Those of them that agree.
    believed: Vec<usize>,
    /// What these say.
    deficits: Vec<f64>,
}

impl GroupUnit {
    /// Whether there are several readings and no two of them agree.
    const fn contradicts_itself(&self) -> bool {
        self.readings.len() > 1 && self.believed.len() < 2
    }
}

/// Readings by option and unit, in the order of first appearance.
fn groups(
    input: &AssessmentInput,
    observed: &[Observed<'_>],
    odd: &[Option<Doubt>],
    cancel: &Cancel,
) -> Result<Vec<Group>, Cancelled> {
    let mut groups: Vec<Group> = Vec::new();
    for (index, (one, doubt)) in observed.iter().zip(odd).enumerate() {
        let Some(unit) = input.units.get(one.unit) else { continue };
        let key = (&unit.sensor, &one.check.option);
        let place = groups.iter().position(|group| (&group.sensor, &group.option) == key).unwrap_or_else(|| {
            groups.push(Group { sensor: key.0.clone(), option: key.1.clone(), units: Vec::new() });
            groups.len() - 1
        });
        let Some(group) = groups.get_mut(place) else { continue };
        let place = group.units.iter().position(|own| own.unit == one.unit).unwrap_or_else(|| {
            let own = GroupUnit { unit: one.unit, readings: Vec::new(), believed: Vec::new(), deficits: Vec::new() };
            group.units.push(own);
            group.units.len() - 1
        });
        if let (None, Some(own)) = (doubt, group.units.get_mut(place)) {
            own.readings.push(index);
        }
    }
    for own in groups.iter_mut().flat_map(|group| &mut group.units) {
        cancel.check()?;
        let readings: Vec<&Observed<'_>> = own.readings.iter().filter_map(|index| observed.get(*index)).collect();
        let agreeing = trust::agreeing(&readings, input.settings.reading_error.get());
        own.deficits = agreeing.iter().filter_map(|place| readings.get(*place)).map(|one| one.deficit).collect();
        own.believed = agreeing.iter().filter_map(|place| own.readings.get(*place).copied()).collect();
    }
    Ok(groups)
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
    readings: &'a [Reading],
}

/// How a unit stands on one option.
#[derive(Debug, Clone, Copy)]
struct Against<'a> {
    weakness: Estimate,
    /// Of the others; none where they are too few.
    bias: Option<Estimate>,
    others: usize,
    own: &'a GroupUnit,
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
        let levels: Vec<Level> = group.units.iter().filter_map(|own| self.level(own)).collect();
        let bias = self.bias(&levels).unwrap_or(Estimate { value: 0.0, error: f64::INFINITY, freedom: 1.0 });
        Cohort {
            sensor: group.sensor.clone(),
            option: group.option.clone(),
            bias: Db::new(bias.value),
            interval: bias.interval(self.input.settings.interval),
            units: small(group.units.len()),
            checks: small(group.units.iter().map(|own| own.readings.len()).sum()),
        }
    }

    /// What a unit's readings say; nothing where no two of several agree.
    fn level(&self, own: &GroupUnit) -> Option<Level> {
        let says = !own.deficits.is_empty() && !own.contradicts_itself();
        says.then(|| level(&own.deficits, self.input.settings.reading_error.get()))
    }

    fn unit(&self, unit: usize, groups: &[Group]) -> Option<UnitStanding> {
        let known: &Unit = self.input.units.get(unit)?;
        let limit = self.input.settings.weak_limit.get();
        let all = self.observed.iter().zip(self.readings).filter(|(one, _)| one.unit == unit);
        let (checks, readings): (Vec<&Observed>, Vec<&Reading>) = all.unzip();
        let own = groups.iter().flat_map(|group| group.units.iter().filter(move |own| own.unit == unit));
        let mut contradictory = own.clone().any(GroupUnit::contradicts_itself);
        contradictory |= own.clone().all(|own| own.deficits.is_empty()) && !checks.is_empty();
        let against: Vec<Against> = groups.iter().filter_map(|group| self.weakness(unit, group)).collect();
        // A unit with several options is as weak as its worst option says.
        let worst = against.iter().max_by(|a, b| a.weakness.above(limit).total_cmp(&b.weakness.above(limit)));
        let believed: Vec<&Observed> =
            checks.iter().zip(&readings).filter(|(_, reading)| reading.doubt.is_none()).map(|(one, _)| *one).collect();
        let trend = self.trend(&believed);
        let Some(worst) = worst else {
            let standing = if contradictory { Standing::Doubtful } else { Standing::Unknown };
            let mut text = if checks.is_empty() { words::unchecked(known) } else { Vec::new() };
            text.extend(words::doubts(self.input, &checks, &readings));
            text.extend(contradictory.then(words::contradictory));
            let (weakness, interval, checks) = (None, None, small(checks.len()));
            return Some(UnitStanding {
                unit,
                standing,
                weakness,
                interval,
                probability_weak: 0.0,
                checks,
                trend,
                text,
            });
        };
        let too_good = against.iter().find(|one| self.is_too_good(one));
        let probability = worst.weakness.above(limit);
        let standing = if contradictory || too_good.is_some() {
            Standing::Doubtful
        } else {
            self.verdict(probability, trend, worst)
        };
        let latest =
            worst.own.believed.iter().filter_map(|index| self.observed.get(*index)).max_by_key(|one| one.check.day);
        let mut text = latest.map_or_else(Vec::new, |one| words::reading(self.input, one, worst.bias));
        text.extend(words::doubts(self.input, &checks, &readings));
        text.extend(too_good.map(|one| words::too_good(-one.weakness.value)));
        text.extend(contradictory.then(words::contradictory));
        if worst.bias.is_some() && too_good.is_none() && !contradictory {
            let alone = worst.own.believed.len() < 2 && probability >= self.input.settings.watch_probability;
            text.push(words::verdict(standing, alone));
            let weak = matches!(standing, Standing::Weak | Standing::Watch);
            text.extend(latest.filter(|_| weak).map(words::lean));
        }
        Some(UnitStanding {
            unit,
            standing,
            weakness: Some(Db::new(worst.weakness.value)),
            interval: Some(worst.weakness.interval(self.input.settings.interval)),
            probability_weak: probability,
            checks: small(checks.len()),
            trend,
            text,
        })
    }

    /// Whether it is as surely better than sound ones as a weak one is worse.
    fn is_too_good(&self, one: &Against<'_>) -> bool {
        let settings = &self.input.settings;
        let below = 1.0 - one.weakness.above(-settings.weak_limit.get());
        one.others >= LEAST_OTHERS && below >= settings.weak_probability
    }

    fn verdict(&self, probability: f64, trend: Option<Trend>, worst: &Against<'_>) -> Standing {
        let settings = &self.input.settings;
        if worst.others < LEAST_OTHERS {
            Standing::Unknown
        } else if probability >= settings.weak_probability && worst.own.believed.len() >= LEAST_AGREEING {
            Standing::Weak
        } else if probability >= settings.watch_probability || trend.is_some_and(|t| t.interval.0.get() > 0.0) {
            Standing::Watch
        } else {
            Standing::Sound
        }
    }

    /// How much worse a unit is than the others of a cohort.
    fn weakness<'b>(&self, unit: usize, group: &'b Group) -> Option<Against<'b>> {
        let own = group.units.iter().find(|own| own.unit == unit)?;
        let level = self.level(own)?;
        let others: Vec<Level> =
            group.units.iter().filter(|other| other.unit != unit).filter_map(|other| self.level(other)).collect();
        let count = others.len();
        if count < LEAST_OTHERS {
            // Nothing but the model to hold it against.
            let model = self.input.settings.model_error.get();
            let error = libm::sqrt(level.error * level.error + model * model);
            let weakness = Estimate { value: level.value, error, freedom: f64::INFINITY };
            return Some(Against { weakness, bias: None, others: count, own });
        }
        let bias = self.bias(&others)?;
        let square = level.error * level.error + bias.error * bias.error;
        // Satterthwaite's degrees of freedom: the reading's error is stated, the bias's is estimated.
        let freedom = square * square / (bias.error * bias.error * bias.error * bias.error / bias.freedom);
        let weakness = Estimate { value: level.value - bias.value, error: libm::sqrt(square), freedom };
        Some(Against { weakness, bias: Some(bias), others: count, own })
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
    fn swaps(&self, cancel: &Cancel) -> Result<Vec<Swap>, Cancelled> {
        let mut found = Vec::new();
        for (index, first) in self.observed.iter().enumerate().filter(|(_, one)| !one.swap.is_empty()) {
            cancel.check()?;
            let label = first.swap;
            let second = self.observed.iter().skip(index + 1).find(|other| other.swap == label);
            if let Some(second) = second {
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
        Ok(found)
    }
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
