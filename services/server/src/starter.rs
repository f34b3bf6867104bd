//! Lures and fish that come with the program, so that nobody has to type target strengths: `lakebeam import --starter` stores them, and
//! `advise` takes them by name where the store has none of that name.

use std::collections::BTreeMap;

use catalog::exchange::csv;
use domain::{Record as _, TargetRecord};
use proto::v1;

/// The set, as a file that may be imported.
pub(crate) const TARGETS: &str = include_str!("../starter/targets.csv");

/// The target of a name such as `perch-20` or `targets/perch-20`; none that is not in the set.
pub(crate) fn target(name: &str) -> Option<v1::Target> {
    let id = name.strip_prefix("targets/").unwrap_or(name);
    records().into_iter().find(|target| target.id().as_str() == id).map(|target| api::target_message(&target))
}

fn records() -> Vec<TargetRecord> {
    csv::read(TARGETS.as_bytes(), &BTreeMap::new()).records.into_iter().map(|(_, target)| target).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_target_of_the_set_is_sound_and_says_where_its_figures_come_from() {
        let read = csv::read::<TargetRecord>(TARGETS.as_bytes(), &BTreeMap::new());
        assert_eq!((read.faults, read.unused), (Vec::new(), Vec::new()));
        for (line, target) in read.records {
            let message = api::target_message(&target);
            assert!(message.shape.is_some() && message.kind != 0, "line {line}");
            assert!(!target.notes.is_empty(), "line {line}");
        }
        for name in ["small-jig", "targets/perch-20"] {
            assert!(target(name).is_some(), "{name}");
        }
        assert!(target("kraken").is_none());
    }
}
