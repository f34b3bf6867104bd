//! What decides between sensors, beside what a run is asked.

use planning::recommend::{Choice, Use};
use proto::v1;

use super::{Reading, fact, run};
use crate::names;
use crate::resolve::unknown;
use domain::{CustomGoal, Fault};

/// Reads the choice of a spec; paths are relative to it. `goals` are those that its uses name, as the run keeps them.
pub(crate) fn choice(message: &v1::RunSpec, goals: &[CustomGoal]) -> Result<Choice, Vec<Fault>> {
    let mut reading = Reading::default();
    let uses = message
        .uses
        .iter()
        .enumerate()
        .filter_map(|(index, one)| {
            let prefix = run::use_prefix(index);
            let name = run::goal_name(&mut reading, &prefix, (one.goal, &one.custom_goal))?;
            let goal = name.among(goals);
            if goal.is_none() {
                reading.add(unknown(format!("{prefix}custom_goal"), &one.custom_goal));
            }
            Some(Use { goal: goal?, share: one.share })
        })
        .collect();
    let owned = run::each(&mut reading, "owned", &message.owned, |field, name| names::parse(field, "sensors", name));
    let budget = message.budget.clone().map(fact::money);
    reading.finish(Choice { uses, weights: message.weights.clone(), owned, budget }, |_| Vec::new())
}
