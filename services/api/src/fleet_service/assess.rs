//! Assessing units from their checks.

use std::collections::BTreeSet;

use domain::{Cancel, Id, SensorRecord, TargetRecord, Unit, UnitCheck};
use planning::units::{AssessmentInput, assess as judge};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::assessment::{self, Spec};
use crate::documents;
use crate::error::Error;
use crate::resolve;
use crate::resource::timestamp;

/// Looks up what the spec names, assesses the units and stores the outcome.
pub(super) async fn assess(
    shared: &Shared,
    message: v1::AssessmentSpec,
    caller: Option<Caller>,
) -> Result<v1::UnitAssessment, Error> {
    let (message, read) = shared.read(caller.as_ref(), message, assessment::spec).await?;
    let spec = read.map_err(|faults| Error::BadFields(faults).under("spec"))?;
    let input = input(shared, &spec).await?;
    let work = move |cancel: &Cancel| judge(&input, cancel).map(|outcome| (outcome, input));
    let (outcome, input) = shared.compute(caller.as_ref(), work).await??;
    let answer = v1::UnitAssessment {
        spec: Some(message),
        create_time: Some(timestamp(shared.context.clock.now())),
        ..assessment::to(&input, &outcome)
    };
    documents::keep(shared, answer, caller).await
}

async fn input(shared: &Shared, spec: &Spec) -> Result<AssessmentInput, Error> {
    let mut checks = resolve::all::<UnitCheck>(shared, None, None).await?;
    let units = if spec.units.is_empty() {
        let checked: BTreeSet<&Id> = checks.iter().map(|check| &check.unit).collect();
        let mut units = resolve::all::<Unit>(shared, None, None).await?;
        units.retain(|unit| checked.contains(&unit.id));
        units
    } else {
        let found = resolve::named::<Unit>(shared, "units", &spec.units).await?;
        found.map_err(|faults| Error::BadFields(faults).under("spec"))?
    };
    // Checks of units that are gone say nothing about those that are left.
    let wanted: BTreeSet<&Id> = units.iter().map(|unit| &unit.id).collect();
    checks.retain(|check| wanted.contains(&check.unit));
    let sensors = resolve::distinct(units.iter().map(|unit| &unit.sensor));
    let targets = resolve::distinct(checks.iter().map(|check| &check.target));
    Ok(AssessmentInput {
        sensors: resolve::present::<SensorRecord>(shared, sensors).await?,
        targets: resolve::present::<TargetRecord>(shared, targets).await?,
        units,
        checks,
        settings: spec.settings(),
    })
}
