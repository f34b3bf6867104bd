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

mod estimate;
mod expect;
mod input;
mod judge;
mod labels;
mod robust;
mod trust;
mod types;
mod words;

pub use input::{AssessmentInput, AssessmentSettings, misread};
pub use types::{Assessment, Cohort, Doubt, Reading, Standing, Swap, Trend, UnitStanding};

use std::collections::BTreeSet;

use acoustics::units::Db;

use crate::PlanningError;
use domain::{Cancel, Cancelled};
use estimate::Estimate;
use expect::Observed;
use judge::{Judge, groups};

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
    let swaps = swaps(input, &observed, cancel)?;
    Ok(Assessment { readings, cohorts, units, swaps, left_out })
}

/// Pairs of checks that bear the same label.
fn swaps(input: &AssessmentInput, observed: &[Observed<'_>], cancel: &Cancel) -> Result<Vec<Swap>, Cancelled> {
    let mut found = Vec::new();
    for (index, first) in observed.iter().enumerate().filter(|(_, one)| !one.swap.is_empty()) {
        cancel.check()?;
        let label = first.swap;
        let second = observed.iter().skip(index + 1).find(|other| other.swap == label);
        if let Some(second) = second {
            let error = libm::sqrt(2.0) * input.settings.reading_error.get();
            let difference = Estimate { value: second.deficit - first.deficit, error, freedom: f64::INFINITY };
            found.push(Swap {
                first: first.unit,
                second: second.unit,
                difference: Db::new(difference.value),
                interval: difference.interval(input.settings.interval),
            });
        }
    }
    Ok(found)
}
