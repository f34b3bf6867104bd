//! Units whose labels look as if they had been swapped on a day.
//!
//! Where one unit is worse than it should be by as much as another, checked on the same day, is better, the likeliest story is not
//! a weak unit beside one that beats physics.

use jiff::civil::Date;

use domain::{Cancel, Cancelled};

use super::judge::Judge;
use super::types::{Standing, UnitStanding};
use super::{robust, words};

/// How far the two may differ in size, in standard deviations of a reading.
const BALANCED: f64 = 4.0;

/// A reading or a unit that is off.
struct Off {
    /// Place among the standings.
    standing: usize,
    day: Date,
    /// dB; negative for better.
    by: f64,
}

/// Marks pairs whose labels look swapped: neither is called weak by it.
pub(super) fn swapped(judge: &Judge<'_>, units: &mut [UnitStanding], cancel: &Cancel) -> Result<(), Cancelled> {
    let (limit, error) = (judge.input.settings.weak_limit.get(), judge.input.settings.reading_error.get());
    let each = units.iter().enumerate().map(|(place, unit)| cancel.check().map(|()| off(judge, place, unit)));
    let off: Vec<Off> = each.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect();
    let mut pairs: Vec<(usize, usize, Date)> = Vec::new();
    for worse in off.iter().filter(|one| one.by > limit) {
        cancel.check()?;
        let fits = |other: &&Off| {
            other.by < -limit && other.day == worse.day && (other.by + worse.by).abs() <= BALANCED * error
        };
        let better = off.iter().filter(|other| other.standing != worse.standing).find(fits);
        if let Some(better) = better
            && !pairs.iter().any(|(a, b, _)| (*a, *b) == (worse.standing, better.standing))
        {
            pairs.push((worse.standing, better.standing, worse.day));
        }
    }
    for (worse, better, day) in pairs {
        for (own, other) in [(worse, better), (better, worse)] {
            let serial =
                units.get(other).and_then(|unit| judge.input.units.get(unit.unit)).map(|unit| unit.serial.clone());
            if let (Some(unit), Some(serial)) = (units.get_mut(own), serial) {
                if unit.standing == Standing::Weak {
                    unit.standing = Standing::Doubtful;
                    unit.text.pop();
                }
                unit.text.push(words::labels(&serial, day));
            }
        }
    }
    Ok(())
}

/// The readings of a unit that are far from what it should show, on each of their days.
fn off(judge: &Judge<'_>, place: usize, unit: &UnitStanding) -> Vec<Off> {
    let weakness = unit.weakness.map(acoustics::units::Db::get);
    let own = judge.observed.iter().zip(judge.readings).filter(|(one, _)| one.unit == unit.unit);
    let level = {
        let believed = own.clone().filter(|(_, reading)| reading.doubt.is_none());
        let values: Vec<f64> = believed.map(|(one, _)| one.deficit).collect();
        robust::median(&values)
    };
    own.filter_map(|(one, reading)| {
        // A believed reading is off by the unit's weakness, a doubted one by its distance from the believed ones besides.
        let by = match (&reading.doubt, weakness, level) {
            (None, Some(weakness), _) => weakness,
            (Some(_), Some(weakness), Some(level)) => weakness + one.deficit - level,
            (None | Some(_), _, _) => return None,
        };
        Some(Off { standing: place, day: one.check.day, by })
    })
    .collect()
}
