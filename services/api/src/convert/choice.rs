//! What decides between sensors, beside what a run is asked.

use planning::recommend::{Choice, Use};
use proto::v1;

use super::{Reading, fact, run};
use crate::names;
use domain::Fault;

/// Reads the choice of a spec; paths are relative to it.
pub(crate) fn choice(message: &v1::RunSpec) -> Result<Choice, Vec<Fault>> {
    let mut reading = Reading::default();
    let uses = message
        .uses
        .iter()
        .enumerate()
        .filter_map(|(index, one)| {
            let field = format!("uses[{index}].goal");
            let goal = reading.choice(&field, one.goal, run::goal, v1::Goal::as_str_name)?;
            Some(Use { goal, share: one.share })
        })
        .collect();
    let owned = run::each(&mut reading, "owned", &message.owned, |field, name| names::parse(field, "sensors", name));
    let budget = message.budget.clone().map(fact::money);
    reading.finish(Choice { uses, weights: message.weights.clone(), owned, budget }, |_| Vec::new())
}
