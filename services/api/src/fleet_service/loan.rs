//! Units that go out with a booking and come back.

use std::collections::{BTreeMap, BTreeSet};

use catalog::filter::Filter;
use catalog::{Resource as _, Stored};
use domain::unit::Back;
use domain::{Booking, Fault, FaultReason, Id, Unit, UnitState};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::Reading;
use crate::error::Error;
use crate::resource::stored;
use crate::{documents, names, resolve};

/// Most units of one call.
const MOST: usize = 1_000;

/// Lends units to a booking, all or none.
pub(super) async fn hand_out(
    shared: &Shared,
    message: v1::HandOutUnitsRequest,
    caller: Option<Caller>,
) -> Result<v1::HandOutUnitsResponse, Error> {
    let booking = names::parse("booking", "bookings", &message.booking)?;
    let booking = resolve::record::<Booking>(shared, "booking", &booking).await??;
    let ids = if message.units.is_empty() {
        if message.plan.is_empty() {
            let text =
                "units are left out, and so is plan; accepted: one of the two; name units, or the plan that does";
            return Err(Error::field("units", FaultReason::Missing, text.to_owned()));
        }
        let plan: v1::FleetPlan = documents::get(shared, "plan", &message.plan).await?;
        planned(&plan, &booking.id)?
    } else {
        named(&message.units)?
    };
    let units = units(shared, &ids).await?;
    let units = change(shared, &units, |unit| unit.lent(&booking), caller).await?;
    let held = lent_to(shared, &booking.id).await?.len();
    let missing = booking.anglers.saturating_sub(u32::try_from(held).unwrap_or(u32::MAX));
    Ok(v1::HandOutUnitsResponse { units, missing })
}

/// The units that a plan names for a booking.
fn planned(plan: &v1::FleetPlan, booking: &Id) -> Result<Vec<Id>, Fault> {
    let name = names::of("bookings", booking);
    let given = plan.assignments.iter().find(|own| own.booking == name).map(|own| own.given.as_slice());
    let ids: Result<Vec<Id>, Fault> =
        given.unwrap_or_default().iter().map(|unit| names::parse("plan", "units", &unit.unit)).collect();
    match ids {
        Ok(ids) if ids.is_empty() => {
            let text = format!(
                "plan '{}' names no units for {name}; accepted: a plan that does; name the units, or plan again",
                plan.name
            );
            Err(Fault::new("plan", FaultReason::Contradiction, text))
        }
        ids => ids,
    }
}

/// Takes units back, all or none.
pub(super) async fn take_back(
    shared: &Shared,
    message: v1::TakeBackUnitsRequest,
    caller: Option<Caller>,
) -> Result<Vec<v1::Unit>, Error> {
    let to = back(&message)?;
    let units = if message.units.is_empty() {
        if message.booking.is_empty() {
            let text =
                "units are left out, and so is booking; accepted: one of the two; name the units, or who had them";
            return Err(Error::field("units", FaultReason::Missing, text.to_owned()));
        }
        let booking = names::parse("booking", "bookings", &message.booking)?;
        held(shared, &booking).await?
    } else {
        units(shared, &named(&message.units)?).await?
    };
    change(shared, &units, |unit| unit.back(to), caller).await
}

/// How the units of a request come back.
fn back(message: &v1::TakeBackUnitsRequest) -> Result<Back, Error> {
    let mut reading = Reading::default();
    let state = match v1::UnitState::try_from(message.state) {
        Ok(v1::UnitState::Unspecified) => Some(UnitState::Ready),
        _ => reading.choice("state", message.state, crate::convert::unit::state, v1::UnitState::as_str_name),
    };
    let day = (!message.back_day.is_empty()).then(|| reading.day("back_day", &message.back_day));
    let to = match (state, day) {
        (Some(UnitState::InRepair), day) => Back::ToRepair(day),
        (Some(UnitState::Ready), None) | (None, _) => Back::Ready,
        (Some(UnitState::Ready), Some(_)) => {
            let text = "back_day is given for units that are ready; accepted: with UNIT_STATE_IN_REPAIR; leave it out";
            reading.refuse("back_day", FaultReason::Contradiction, text);
            Back::Ready
        }
        (Some(UnitState::OnLoan | UnitState::Retired), _) => {
            let text = "state is not one to come back to; accepted: UNIT_STATE_READY, UNIT_STATE_IN_REPAIR; for others update the unit";
            reading.refuse("state", FaultReason::Contradiction, text);
            Back::Ready
        }
    };
    reading.finish(to, |_| Vec::new()).map_err(Error::BadFields)
}

/// Units by name, each once.
fn named(units: &[String]) -> Result<Vec<Id>, Error> {
    if units.len() > MOST {
        let text = format!("units are {}; accepted: up to {MOST}; hand them out in parts", units.len());
        return Err(Error::field("units", FaultReason::TooLong, text));
    }
    let mut reading = Reading::default();
    let mut ids =
        crate::convert::run::each(&mut reading, "units", units, |field, name| names::parse(field, "units", name));
    ids.sort_unstable();
    ids.dedup();
    reading.finish(ids, |_| Vec::new()).map_err(Error::BadFields)
}

async fn units(shared: &Shared, ids: &[Id]) -> Result<Vec<Stored<Unit>>, Error> {
    let found = shared.store().get_many::<Unit>(ids).await?;
    let mut found: BTreeMap<Id, Stored<Unit>> = found.into_iter().map(|unit| (unit.record.id.clone(), unit)).collect();
    let all: Vec<Option<Stored<Unit>>> = ids.iter().map(|id| found.remove(id)).collect();
    let missing = |(id, unit): (&Id, &Option<Stored<Unit>>)| {
        unit.is_none().then(|| resolve::unknown("units".to_owned(), &names::of("units", id)))
    };
    let faults: Vec<Fault> = ids.iter().zip(&all).filter_map(missing).collect();
    if faults.is_empty() { Ok(all.into_iter().flatten().collect()) } else { Err(Error::BadFields(faults)) }
}

/// The ids of the units that a booking holds.
async fn lent_to(shared: &Shared, booking: &Id) -> Result<Vec<Id>, Error> {
    let filter =
        Filter::parse(&format!("lent_to = \"bookings/{booking}\""), &Unit::filters()).map_err(Error::internal)?;
    Ok(resolve::all::<Unit>(shared, filter, None).await?.into_iter().map(|unit| unit.id).collect())
}

/// The units that a booking holds, of which there is one at least.
async fn held(shared: &Shared, booking: &Id) -> Result<Vec<Stored<Unit>>, Error> {
    let ids = lent_to(shared, booking).await?;
    if ids.is_empty() {
        let text = format!("bookings/{booking} holds no units; accepted: a booking with units on loan; name the units");
        return Err(Error::field("booking", FaultReason::Contradiction, text));
    }
    units(shared, &ids).await
}

/// Units that are out come back when their bookings are over, whenever that is by now.
pub(crate) async fn follow(shared: &Shared, caller: Option<Caller>) -> Result<(), Error> {
    let filter = Filter::parse("state = on_loan", &Unit::filters()).map_err(Error::internal)?;
    let out = resolve::all::<Unit>(shared, filter, None).await?;
    let holders: BTreeSet<&Id> = out.iter().filter_map(|unit| unit.lent_to.as_ref()).collect();
    let mut late = Vec::new();
    for holder in holders {
        // A booking that is gone leaves its units where they are.
        let Ok(booking) = resolve::record::<Booking>(shared, "booking", holder).await? else { continue };
        let own = out.iter().filter(|unit| unit.lent_to.as_ref() == Some(holder));
        late.extend(own.filter_map(|unit| unit.lent(&booking).ok().filter(|after| after != unit)));
    }
    let ids: Vec<Id> = late.iter().map(|unit| unit.id.clone()).collect();
    let after = |unit: &Unit| Ok(late.iter().find(|after| after.id == unit.id).unwrap_or(unit).clone());
    if ids.is_empty() { Ok(()) } else { change(shared, &units(shared, &ids).await?, after, caller).await.map(drop) }
}

/// Changes units that stand as they were read, all or none.
async fn change(
    shared: &Shared,
    units: &[Stored<Unit>],
    to: impl Fn(&Unit) -> Result<Unit, String>,
    caller: Option<Caller>,
) -> Result<Vec<v1::Unit>, Error> {
    let mut elsewhere = Vec::new();
    let mut changed = Vec::with_capacity(units.len());
    for unit in units {
        match to(&unit.record) {
            Ok(record) => changed.push(record),
            Err(place) => elsewhere.push((names::of("units", &unit.record.id), place)),
        }
    }
    if !elsewhere.is_empty() {
        return Err(Error::UnitsElsewhere(elsewhere));
    }
    let records: Vec<(&Unit, Option<&str>)> =
        changed.iter().zip(units).map(|(record, unit)| (record, Some(unit.etag.as_str()))).collect();
    shared.store().update_all(&records, &shared.write(caller)).await?;
    let ids: Vec<Id> = changed.into_iter().map(|unit| unit.id).collect();
    Ok(self::units(shared, &ids).await?.into_iter().map(stored).collect())
}
