//! How each unit stands against the others of its kind.

use acoustics::units::Db;
use domain::{Cancel, Cancelled, Id, Unit};

use super::estimate::Estimate;
use super::expect::Observed;
use super::input::AssessmentInput;
use super::robust::{self, Level, level, spread};
use super::types::{Cohort, Doubt, Reading, Standing, Trend, UnitStanding};
use super::{trust, words};

/// Days in a year, for trends.
const YEAR_DAYS: f64 = 365.25;
/// Shortest time over which a change is given: over less, the error of two readings would be blown up to a year.
const LEAST_TREND_DAYS: i32 = 60;
/// Fewest other units that tell bias from weakness.
const LEAST_OTHERS: usize = 2;
/// Fewest readings that agree before a unit is called weak.
const LEAST_AGREEING: usize = 2;

/// The units of one option.
#[derive(Debug)]
pub(super) struct Group {
    sensor: Id,
    option: Id,
    pub(super) units: Vec<GroupUnit>,
}

/// One unit on that option.
#[derive(Debug)]
pub(super) struct GroupUnit {
    unit: usize,
    /// Its readings, by index; those that are unlike the rest are not among them.
    readings: Vec<usize>,
    /// Those of them that agree.
    pub(super) believed: Vec<usize>,
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
pub(super) fn groups(
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

/// An assessment under way.
pub(super) struct Judge<'a> {
    pub(super) input: &'a AssessmentInput,
    pub(super) observed: &'a [Observed<'a>],
    pub(super) readings: &'a [Reading],
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

    pub(super) fn cohort(&self, group: &Group) -> Cohort {
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

    pub(super) fn unit(&self, unit: usize, groups: &[Group]) -> Option<UnitStanding> {
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
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
