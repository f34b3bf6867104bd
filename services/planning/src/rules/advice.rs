//! The single change that helps soonest where no option is allowed: first what costs nobody anything, last what sends
//! somebody out.

use acoustics::units::Db;

use super::neighbours::{LaidOutShelter, Neighbours, confirmations};
use super::site::Band;
use super::types::{Help, Refusal, Rule, RulesInput};

/// What to change; none where an option is allowed as it is.
pub(super) fn help(
    neighbours: &Neighbours<'_>,
    band: &Band,
    hut: &LaidOutShelter,
    rules: &[Rule],
    input: &RulesInput,
) -> Option<Help> {
    if rules.iter().any(|rule| rule.refusal.is_none()) {
        return None;
    }
    let reaching: Vec<&Rule> =
        rules.iter().filter(|rule| !matches!(rule.refusal, Some(Refusal::GainBeyondMax { .. }))).collect();
    if reaching.is_empty() {
        return Some(Help::OtherOptions);
    }
    confirming(neighbours, band, hut, &reaching)
        .or_else(|| lowering(&reaching, input.settings.lure_margin))
        .or_else(|| fewer(&reaching))
}

/// The option with the least confirmation that is enough.
fn confirming(neighbours: &Neighbours<'_>, band: &Band, hut: &LaidOutShelter, rules: &[&Rule]) -> Option<Help> {
    confirmations().into_iter().find_map(|confirmation| {
        rules
            .iter()
            .filter_map(|rule| {
                let gain =
                    neighbours.confirmed_gain(rule.option, confirmation, band, &hut.neighbourhood, hut.recessed)?;
                let spare = gain - rule.start_gain.get();
                (spare >= 0.0).then_some((spare, rule.option))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, option)| Help::Confirmation { option, confirmation })
    })
}

/// The option whose highest gain misses its start gain by least, if the lure still shows there without its margin.
fn lowering(rules: &[&Rule], margin: Db) -> Option<Help> {
    let missing = |rule: &Rule| rule.start_gain - rule.highest_gain;
    let nearest = rules
        .iter()
        .filter(|rule| rule.highest_gain.get() >= 0.0)
        .min_by(|a, b| missing(a).get().total_cmp(&missing(b).get()))?;
    let by = missing(nearest);
    (by <= margin).then_some(Help::LowerGain { option: nearest.option, by })
}

/// The option that leaves most people in.
fn fewer(rules: &[&Rule]) -> Option<Help> {
    rules
        .iter()
        .max_by(|a, b| {
            let spare = |rule: &Rule| (rule.highest_gain - rule.start_gain).get();
            a.most_people.cmp(&b.most_people).then(spare(a).total_cmp(&spare(b)))
        })
        .map(|rule| Help::FewerPeople { option: rule.option, people: rule.most_people })
}
