//! Which options may share a shelter.

use acoustics::units::Db;
use domain::{Cancel, Cancelled};

use super::neighbours::{LaidOutShelter, Neighbours};
use super::site::Band;
use super::types::{Mix, Rule, RulesInput};

/// Pairs of allowed options that stay within tolerance at their start gain in any mixture, each with the gain it may then use.
pub(super) fn mixes(
    neighbours: &Neighbours<'_>,
    band: &Band,
    hut: &LaidOutShelter,
    (rules, input): (&[Rule], &RulesInput),
    cancel: &Cancel,
) -> Result<Vec<Mix>, Cancelled> {
    if hut.people() < 2 || input.options.len() < 2 {
        return Ok(Vec::new());
    }
    let allowed: Vec<&Rule> = rules.iter().filter(|rule| rule.refusal.is_none()).collect();
    let mut found = Vec::new();
    for (index, first) in allowed.iter().enumerate() {
        for second in allowed.iter().skip(index + 1) {
            cancel.check()?;
            let first_highest = highest(neighbours, band, hut, (first, second));
            let second_highest = highest(neighbours, band, hut, (second, first));
            if let (Some(first_highest), Some(second_highest)) = (first_highest, second_highest) {
                found.push(Mix { first: first.option, second: second.option, first_highest, second_highest });
            }
        }
    }
    Ok(found)
}

/// The highest gain of an option in a mixture with another; none where that is under its start gain.
fn highest(neighbours: &Neighbours<'_>, band: &Band, hut: &LaidOutShelter, (own, other): (&Rule, &Rule)) -> Option<Db> {
    let pair = (own.option, other.option);
    let range = (own.start_gain.get(), own.highest_gain.get());
    let (mixed, _) = band.least(|sample| neighbours.mixed_gain(pair, sample, hut, range))?;
    Some(Db::new(mixed))
}
