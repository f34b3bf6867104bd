//! Which readings can be believed, before any of them accuses a unit.
//!
//! Readings of one unit agree when they lie within [`AGREEMENT`] standard deviations of one reading: the range of three normal
//! figures passes that once in a thousand, that of ten once in sixty. A reading of another depth or with another target than the
//! rest of its kind, and far off these, tells of its record rather than of the unit.

use std::ops::Range;

use acoustics::units::Metres;

use super::expect::Observed;
use super::robust::median;
use super::types::Doubt;
use domain::{Cancel, Cancelled, Id, Target, UnitCheck};

/// Widest range of readings that agree, in standard deviations of one.
const AGREEMENT: f64 = 5.0;
/// A reading that is further from the others of its kind, in standard deviations, is far off.
const FAR: f64 = 4.0;
/// Fewest readings of other units that show what is usual, and the share of them that has to be alike.
const USUAL: usize = 4;
const ALIKE: f64 = 0.8;
/// Depths within a tenth are alike; one that is off by more than a third is unlike.
const NEAR: f64 = 1.1;
const UNLIKE: f64 = 1.3;

/// Marks readings that are unlike the rest of their kind, in the order of the readings.
pub(super) fn odd(
    observed: &[Observed<'_>],
    targets: &[Target],
    reading_error: f64,
    cancel: &Cancel,
) -> Result<Vec<Option<Doubt>>, Cancelled> {
    let each = observed.iter().map(|one| cancel.check().map(|()| odd_one(one, observed, targets, reading_error)));
    each.collect()
}

fn odd_one(one: &Observed<'_>, all: &[Observed<'_>], targets: &[Target], reading_error: f64) -> Option<Doubt> {
    let kind = |other: &Observed<'_>| (&other.sensor.id, &other.check.option) == (&one.sensor.id, &one.check.option);
    let others: Vec<&Observed<'_>> = all.iter().filter(|other| other.unit != one.unit && kind(other)).collect();
    if others.len() < USUAL {
        return None;
    }
    let middle = median(&others.iter().map(|other| other.deficit).collect::<Vec<f64>>())?;
    if (one.deficit - middle).abs() <= FAR * reading_error {
        return None;
    }
    let most = |alike: &dyn Fn(&UnitCheck) -> bool| {
        let count = others.iter().filter(|other| alike(other.check)).count();
        crate::selection::count(count) >= ALIKE * crate::selection::count(others.len())
    };
    let ratio = |a: f64, b: f64| if a > b { a / b } else { b / a };
    let usual = median(&others.iter().map(|other| other.check.depth.get()).collect::<Vec<f64>>())?;
    if ratio(one.check.depth.get(), usual) > UNLIKE && most(&|check| ratio(check.depth.get(), usual) <= NEAR) {
        return Some(Doubt::OddDepth { usual: Metres::new(usual) });
    }
    let target: &Id = others.iter().map(|other| &other.check.target).find(|id| most(&|check| check.target == **id))?;
    let called = targets.iter().find(|known| known.id == *target)?.display_name.clone();
    (*target != one.check.target).then_some(Doubt::OddTarget { usual: called })
}

/// The indices of the readings of one unit that agree: as many as there are, of equally many the later ones; and the later ones
/// where two or more of them agree and are all later than the rest, for then the unit has changed.
pub(super) fn agreeing(readings: &[&Observed<'_>], reading_error: f64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..readings.len()).collect();
    let deficit = |index: usize| readings.get(index).map_or(0.0, |one| one.deficit);
    let day = |index: usize| readings.get(index).map(|one| one.check.day);
    order.sort_by(|a, b| deficit(*a).total_cmp(&deficit(*b)).then(a.cmp(b)));
    let width = AGREEMENT * reading_error;
    // Windows are stretches of the order, each given by its ends: readings that agree are many, and so are their windows.
    let mut end = 0;
    let windows: Vec<Range<usize>> = (0..order.len())
        .map(|from| {
            let first = order.get(from).map_or(0.0, |index| deficit(*index));
            while order.get(end).is_some_and(|index| deficit(*index) - first <= width) {
                end += 1;
            }
            from..end
        })
        .collect();
    let days = |window: &Range<usize>| order.get(window.clone()).unwrap_or_default().iter().filter_map(|i| day(*i));
    let most = windows.iter().map(ExactSizeIterator::len).max().unwrap_or_default();
    let largest = windows.iter().filter(|window| window.len() == most).max_by_key(|window| days(window).max());
    let Some(largest) = largest else { return Vec::new() };
    let changed = windows.iter().find(|window| {
        let apart = window.end <= largest.start || largest.end <= window.start;
        apart && window.len() >= 2 && {
            let rest = days(&(0..window.start)).chain(days(&(window.end..order.len()))).max();
            rest.is_some() && days(window).min() > rest
        }
    });
    let mut agreeing = order.get(changed.unwrap_or(largest).clone()).unwrap_or_default().to_vec();
    agreeing.sort_unstable();
    agreeing
}
