//! Planning which units to buy, and which to give to whom.

use domain::{Booking, Cancel, Fault, GoalRecord, ShelterRecord, SpotRecord, TargetRecord, Unit};
use planning::PlanningError;
use planning::fleet::{FleetInput, Replan, plan as best};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::fleet_plan::{self, Spec};
use crate::error::Error;
use crate::resolve::{self, Chosen};
use crate::resource::timestamp;
use crate::{documents, names};

/// Looks up what the spec names, plans, and stores the plan unless only the answer is wanted.
pub(super) async fn plan(
    shared: &Shared,
    v1::PlanFleetRequest { spec, validate_only }: v1::PlanFleetRequest,
    caller: Option<Caller>,
) -> Result<v1::FleetPlan, Error> {
    let (message, read) = shared.read(caller.as_ref(), spec.unwrap_or_default(), fleet_plan::spec).await?;
    let spec = read.map_err(|faults| Error::BadFields(faults).under("spec"))?;
    let (input, kept) = input(shared, spec).await?;
    let work = move |cancel: &Cancel| best(&input, cancel).map(|plan| (plan, input));
    let (plan, input) = shared.compute(caller.as_ref(), work).await?.map_err(refused)?;
    let answer = v1::FleetPlan {
        spec: Some(v1::FleetSpec { keep: kept, ..message }),
        create_time: Some(timestamp(shared.context.clock.now())),
        ..fleet_plan::to(&input, &plan)
    };
    if validate_only {
        return Ok(answer);
    }
    documents::keep(shared, answer, caller).await
}

/// What is planned from, and the whole name of the plan to keep.
async fn input(shared: &Shared, spec: Spec) -> Result<(FleetInput, String), Error> {
    let mut faults: Vec<Fault> = Vec::new();
    let (mut kept, mut name) = (Vec::new(), String::new());
    if !spec.keep.is_empty() {
        let plan: v1::FleetPlan = documents::get(shared, "spec.keep", &spec.keep).await?;
        kept = fleet_plan::kept(&plan, &spec.untold);
        name = plan.name;
    }
    // What was not chosen is not planned, and not called off either.
    kept.retain(|own| spec.bookings.is_empty() || spec.bookings.contains(&own.booking));
    let bookings = if spec.bookings.is_empty() {
        resolve::all::<Booking>(shared, None, None).await?
    } else {
        let found = resolve::named::<Booking>(shared, "bookings", &spec.bookings).await?;
        found.unwrap_or_else(|mut found| {
            faults.append(&mut found);
            Vec::new()
        })
    };
    let chosen = resolve::sensors(shared, &spec.options).await?;
    let chosen = chosen.unwrap_or_else(|mut found| {
        faults.append(&mut found);
        Chosen { sensors: Vec::new(), options: Vec::new() }
    });
    if !faults.is_empty() {
        return Err(Error::BadFields(faults).under("spec"));
    }
    if bookings.is_empty() {
        return Err(Error::EmptyBatch { field: "spec.bookings", what: "bookings" });
    }
    if chosen.options.is_empty() {
        return Err(Error::EmptyBatch { field: "spec.options", what: "sensors" });
    }
    let shelters = resolve::distinct(bookings.iter().filter_map(|booking| booking.shelter.as_ref()));
    let targets = resolve::distinct(bookings.iter().flat_map(|booking| [&booking.lure, &booking.fish]));
    let goals = bookings.iter().filter_map(|booking| booking.custom_goal.as_ref());
    let goals = resolve::present::<GoalRecord>(shared, resolve::distinct(goals)).await?;
    let spots = resolve::distinct(bookings.iter().map(|booking| &booking.spot));
    // Units of sensors that may not be used are of no use here.
    let mut units = resolve::all::<Unit>(shared, None, None).await?;
    units.retain(|unit| chosen.sensors.iter().any(|sensor| sensor.id == unit.sensor));
    let input = FleetInput {
        spots: resolve::present::<SpotRecord>(shared, spots).await?,
        shelters: resolve::present::<ShelterRecord>(shared, shelters).await?,
        targets: resolve::present::<TargetRecord>(shared, targets).await?,
        sensors: chosen.sensors,
        options: chosen.options,
        units,
        goals,
        bookings,
        budget: spec.budget,
        gap: spec.gap,
        replan: Replan { from: spec.from, kept, change_worth: spec.change_worth },
    };
    Ok((input, name))
}

/// Faults of the spec stand inside it; those of stored records carry the record's name.
fn refused(error: PlanningError) -> Error {
    match error {
        PlanningError::Faults(faults) => Error::BadFields(
            faults
                .into_iter()
                .map(|fault| if names::is_stored(&fault.field) { fault } else { fault.under("spec") })
                .collect(),
        ),
        other => other.into(),
    }
}
