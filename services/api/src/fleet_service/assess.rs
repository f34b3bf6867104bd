//! Assessing units from their checks.

use std::collections::BTreeSet;

use domain::{Cancel, Fault, Id, SensorRecord, TargetRecord, Unit, UnitCheck};
use planning::units::{AssessmentInput, assess as judge, misread};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::assessment::{self, Spec};
use crate::convert::unit_check;
use crate::documents;
use crate::error::Error;
use crate::names;
use crate::resolve;
use crate::resource::timestamp;

/// Looks up what the spec names, assesses the units and stores the outcome.
pub(super) async fn assess(
    shared: &Shared,
    v1::AssessUnitsRequest { spec, validate_only }: v1::AssessUnitsRequest,
    caller: Option<Caller>,
) -> Result<v1::UnitAssessment, Error> {
    let message = spec.unwrap_or_default();
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
    if validate_only { Ok(answer) } else { documents::keep(shared, answer, caller).await }
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

/// What is wrong with a check that its record alone does not tell: its beam and its position are those of its unit's kind.
pub(super) async fn misread_faults(shared: &Shared, message: &v1::UnitCheck) -> Result<Vec<Fault>, Error> {
    let stand_in = Id::stand_in();
    let (Ok(unit), Ok(check)) =
        (names::parse("unit", "units", &message.unit), unit_check::from(stand_in, message.clone()))
    else {
        return Ok(Vec::new());
    };
    let Ok(unit) = resolve::record::<Unit>(shared, "unit", &unit).await? else { return Ok(Vec::new()) };
    let Ok(sensor) = resolve::record::<SensorRecord>(shared, "sensor", &unit.sensor).await? else {
        return Ok(Vec::new());
    };
    Ok(misread(&sensor, &check).into_iter().map(|fault| fault.under("unit_check")).collect())
}
