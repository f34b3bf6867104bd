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
    for (first, second) in pairs(allowed.len()) {
        cancel.check()?;
        let (Some(first), Some(second)) = (allowed.get(first), allowed.get(second)) else { continue };
        let first_highest = highest(neighbours, band, hut, (first, second));
        let second_highest = highest(neighbours, band, hut, (second, first));
        if let (Some(first_highest), Some(second_highest)) = (first_highest, second_highest) {
            found.push(Mix { first: first.option, second: second.option, first_highest, second_highest });
        }
    }
    found.sort_unstable_by_key(|mix| (mix.first, mix.second));
    Ok(found)
}

/// Options that are held against so many others before the next ones come.
const BLOCK: usize = 6;

/// All pairs of so many, block by block: an option's tables serve a whole block before they may have to go.
fn pairs(count: usize) -> impl Iterator<Item = (usize, usize)> {
    let blocks = move || (0..count).step_by(BLOCK);
    let all = move |start: usize| start..count.min(start + BLOCK);
    blocks()
        .flat_map(move |rows| blocks().filter(move |columns| *columns >= rows).map(move |columns| (rows, columns)))
        .flat_map(move |(rows, columns)| all(rows).flat_map(move |first| all(columns).map(move |second| (first, second))))
        .filter(|(first, second)| first < second)
}

/// The highest gain of an option in a mixture with another; none where that is under its start gain.
fn highest(neighbours: &Neighbours<'_>, band: &Band, hut: &LaidOutShelter, (own, other): (&Rule, &Rule)) -> Option<Db> {
    let pair = (own.option, other.option);
    let range = (own.start_gain.get(), own.highest_gain.get());
    let (mixed, _) = band.least(|sample| neighbours.mixed_gain(pair, sample, hut, range))?;
    Some(Db::new(mixed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_comes_once() {
        for count in [0, 1, 2, BLOCK, BLOCK + 1, 3 * BLOCK + 2] {
            let mut found: Vec<_> = pairs(count).collect();
            found.sort_unstable();
            let expected: Vec<_> = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))).collect();
            assert_eq!(found, expected);
        }
    }
}
