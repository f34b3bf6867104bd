//! From the names in a spec to everything that a run is computed from.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use catalog::filter::Filter;
use catalog::{ListQuery, Resource, Stored, nearest};
use domain::goal::PRESETS;
use domain::selection::{OptionRef, Others, RunInput, Settings};
use domain::{
    Cancel, CustomGoal, Fault, FaultList, FaultReason, Goal, GoalName, GoalRecord, Id, Record as _, Sensor,
    SensorRecord, Shelter, ShelterRecord, Spot, SpotRecord, Target, TargetRecord,
};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::run::{self, OthersSpec, Spec};
use crate::error::Error;
use crate::names::OptionName;
use crate::paging::MAX_PAGE;

/// Reads a spec and looks up what it names; every unknown name comes back at once.
pub(crate) async fn run_input(
    shared: &Shared,
    message: &v1::RunSpec,
    caller: Option<&Caller>,
) -> Result<RunInput, Error> {
    let (_, read) = shared.read(caller, message.clone(), run::spec).await?;
    let spec = read.map_err(Error::BadFields)?;
    let found = Found {
        spots: spots(shared, &spec, caller).await?,
        sensors: sensors(shared, &spec.options).await?,
        others: others(shared, &spec.others).await?,
        goals: goals(shared, &spec, Vec::new()).await?,
    };
    let shelter = match &spec.shelter {
        Some(id) => Some(record::<ShelterRecord>(shared, "shelter", id).await?),
        None => None,
    };
    let lure = record::<TargetRecord>(shared, "lure", spec.lure.as_ref().ok_or_else(|| missing("lure"))?).await?;
    let fish = record::<TargetRecord>(shared, "fish", spec.fish.as_ref().ok_or_else(|| missing("fish"))?).await?;
    let named = Named { shelter: shelter.transpose(), lure, fish };
    assembled(shared, caller, (spec, found, named)).await
}

/// Puts everything together. Every spot is checked again with the others: a hundred thousand of them take their time.
pub(crate) async fn assembled(
    shared: &Shared,
    caller: Option<&Caller>,
    (spec, found, named): (Spec, Found, Named),
) -> Result<RunInput, Error> {
    let size = found.spots.as_ref().map_or(0, |spots| spots.len() * size_of::<Spot>());
    shared.check(caller, size, move |cancel| assemble(spec, found, named, cancel)).await?
}

/// Records by what a spec asks for.
pub(crate) struct Found {
    /// Spots, or the faults of the names.
    pub(crate) spots: Result<Vec<Spot>, Vec<Fault>>,
    /// Sensors with the options to score.
    pub(crate) sensors: Result<Chosen, Vec<Fault>>,
    /// What the others in a shelter have.
    pub(crate) others: Result<Others, Vec<Fault>>,
    /// What is wanted of the beam.
    pub(crate) goals: Result<Goals, Vec<Fault>>,
}

/// The goal of a spec, and those of the user's own that its uses name.
pub(crate) struct Goals {
    goal: Goal,
    of_uses: Vec<CustomGoal>,
}

/// Sensors and the options to score.
pub(crate) struct Chosen {
    pub(crate) sensors: Vec<Sensor>,
    pub(crate) options: Vec<OptionRef>,
}

/// Single records, or the fault of the name.
pub(crate) struct Named {
    pub(crate) shelter: Result<Option<Shelter>, Fault>,
    pub(crate) lure: Result<Target, Fault>,
    pub(crate) fish: Result<Target, Fault>,
}

/// Puts everything together, or names every fault.
fn assemble(spec: Spec, found: Found, named: Named, cancel: &Cancel) -> Result<RunInput, Error> {
    let mut faults = Vec::new();
    let spots = found.spots.map_err(|mut f| faults.append(&mut f)).ok();
    let chosen = found.sensors.map_err(|mut f| faults.append(&mut f)).ok();
    let others = found.others.map_err(|mut f| faults.append(&mut f)).ok();
    let goals = found.goals.map_err(|mut f| faults.append(&mut f)).ok();
    let shelter = named.shelter.map_err(|f| faults.push(f)).ok();
    let lure = named.lure.map_err(|f| faults.push(f)).ok();
    let fish = named.fish.map_err(|f| faults.push(f)).ok();
    let (Some(spots), Some(chosen), Some(others), Some(goals), Some(shelter), Some(lure), Some(fish)) =
        (spots, chosen, others, goals, shelter, lure, fish)
    else {
        return Err(Error::BadFields(faults));
    };
    if spots.is_empty() {
        return Err(Error::EmptyBatch { field: "spec.spot_filter", what: "spots" });
    }
    if chosen.options.is_empty() {
        return Err(Error::EmptyBatch { field: "spec.options", what: "sensors" });
    }
    let Chosen { sensors, options } = chosen;
    let settings = Settings { goal: goals.goal, ..spec.settings };
    let input = RunInput { spots, sensors, options, shelter, others, lure, fish, settings, goals: goals.of_uses };
    let faults = input.check_unless(cancel).map_err(Error::internal)?;
    if faults.is_empty() { Ok(input) } else { Err(Error::BadFields(faults)) }
}

pub(crate) fn missing(field: &str) -> Error {
    Error::field(field, FaultReason::Missing, format!("{field} is left out; accepted: targets/{{id}}; name one"))
}

/// The goals that a spec names, those of the request before those of the store as they are now; every unknown one is a fault.
pub(crate) async fn goals(
    shared: &Shared,
    spec: &Spec,
    inline: Vec<CustomGoal>,
) -> Result<Result<Goals, Vec<Fault>>, Error> {
    let of_spec = match &spec.goal {
        GoalName::Preset(_) => None,
        GoalName::Custom(id) => Some(("custom_goal", id)),
    };
    let named: Vec<(&str, &Id)> =
        of_spec.into_iter().chain(spec.use_goals.iter().map(|(field, id)| (field.as_str(), id))).collect();
    let elsewhere = named.iter().map(|(_, id)| *id).filter(|id| inline.iter().all(|goal| goal.id != **id));
    let mut known = present::<GoalRecord>(shared, distinct(elsewhere)).await?;
    known.extend(inline);
    let unknown = || named.iter().filter(|(_, id)| known.iter().all(|goal| goal.id != **id));
    if unknown().next().is_some() {
        let query = ListQuery { filter: None, limit: MAX_PAGE, after: None };
        let stored = shared.list::<GoalRecord>(None, &query).await?.items;
        return Ok(Err(unknown().map(|(field, id)| unknown_goal(field, id, &stored)).collect()));
    }
    let goal = spec.goal.among(&known).ok_or_else(|| Error::internal("a goal that was found is gone"))?;
    let of_uses = known.into_iter().filter(|goal| spec.use_goals.iter().any(|(_, id)| *id == goal.id)).collect();
    Ok(Ok(Goals { goal, of_uses }))
}

/// The fault of a goal that is not there, with the name that is nearest to it.
fn unknown_goal(field: &str, given: &Id, stored: &[Stored<GoalRecord>]) -> Fault {
    let presets = PRESETS.map(|(name, preset)| (name.replace('_', "-"), run::preset_to(preset).as_str_name()));
    let names = presets.iter().map(|(name, _)| name.as_str());
    let near = nearest(given.as_str(), stored.iter().map(|goal| goal.record.id.as_str()).chain(names.clone()));
    let near = near.map(|near| match presets.iter().find(|(name, _)| name == near) {
        Some((name, preset)) => format!("; the nearest known one is the preset {name}, which is {preset} in goal"),
        None => format!("; the nearest known one is '{}/{near}'", GoalRecord::COLLECTION),
    });
    let text = format!(
        "{field} is '{}/{given}', which does not exist; accepted: a stored goal, or a preset in goal ({}); list what there is{}",
        GoalRecord::COLLECTION,
        names.collect::<Vec<_>>().join(", "),
        near.unwrap_or_default()
    );
    Fault::new(field, FaultReason::Unknown, text)
}

pub(crate) fn unknown(field: String, name: &str) -> Fault {
    let message = format!("{field} is '{name}', which does not exist; accepted: a stored name; list what there is");
    Fault::new(field, FaultReason::Unknown, message)
}

/// One record by id; an unknown id is a fault of the field.
pub(crate) async fn record<R: Resource>(
    shared: &Shared,
    field: &str,
    id: &Id,
) -> Result<Result<R::Known, Fault>, Error> {
    match shared.store().get::<R>(id).await {
        Ok(stored) => known(&stored.record).map(Ok),
        Err(catalog::StoreError::NotFound { .. }) => {
            Ok(Err(unknown(field.to_owned(), &format!("{}/{id}", R::COLLECTION))))
        }
        Err(other) => Err(other.into()),
    }
}

/// A stored record as it is computed with. It passed its check, so that nothing is lacking but in a damaged one.
pub(crate) fn known<R: Resource>(record: &R) -> Result<R::Known, Error> {
    let name = || format!("{}/{}", R::COLLECTION, record.id());
    record.known().map_err(|fault| fault.under(&name()).into())
}

pub(crate) async fn spots(
    shared: &Shared,
    spec: &Spec,
    caller: Option<&Caller>,
) -> Result<Result<Vec<Spot>, Vec<Fault>>, Error> {
    if spec.spots.is_empty() {
        let filter = Filter::parse(&spec.spot_filter, &SpotRecord::filters())
            .map_err(|e| Error::BadFilter { field: "spec.spot_filter", message: e.to_string() })?;
        return Ok(Ok(all::<SpotRecord>(shared, filter, caller).await?));
    }
    named::<SpotRecord>(shared, "spots", &spec.spots).await
}

/// The ids that records refer to, each once.
pub(crate) fn distinct<'a>(ids: impl Iterator<Item = &'a Id>) -> Vec<Id> {
    ids.collect::<BTreeSet<_>>().into_iter().cloned().collect()
}

/// Records by id, as far as they exist; who refers to the others is told by the checks of what is derived.
pub(crate) async fn present<R: Resource>(shared: &Shared, ids: Vec<Id>) -> Result<Vec<R::Known>, Error> {
    shared.store().get_many::<R>(&ids).await?.iter().map(|stored| known(&stored.record)).collect()
}

/// Records by id, in the order of the ids; every unknown one is a fault.
pub(crate) async fn named<R: Resource>(
    shared: &Shared,
    field: &str,
    ids: &[Id],
) -> Result<Result<Vec<R::Known>, Vec<Fault>>, Error> {
    let stored = shared.store().get_many::<R>(ids).await?;
    let present: BTreeMap<Id, R> = stored.into_iter().map(|s| (s.record.id().clone(), s.record)).collect();
    let mut faults = FaultList::default();
    let mut found = Vec::with_capacity(ids.len());
    for (index, id) in ids.iter().enumerate() {
        match present.get(id) {
            Some(record) => found.push(known(record)?),
            None => faults.push(unknown(format!("{field}[{index}]"), &format!("{}/{id}", R::COLLECTION))),
        }
    }
    Ok(if faults.is_empty() { Ok(found) } else { Err(faults.into_vec()) })
}

pub(crate) async fn sensors(shared: &Shared, options: &[OptionName]) -> Result<Result<Chosen, Vec<Fault>>, Error> {
    if options.is_empty() {
        let sensors = all::<SensorRecord>(shared, None, None).await?;
        let names: Vec<_> = sensors.iter().map(|s| OptionName::All { sensor: s.id.clone() }).collect();
        return Ok(choose(&names, sensors));
    }
    let ids: BTreeSet<&Id> = options.iter().map(sensor_of).collect();
    let ids: Vec<Id> = ids.into_iter().cloned().collect();
    Ok(choose(options, present::<SensorRecord>(shared, ids).await?))
}

/// What the others in a shelter have.
pub(crate) async fn others(shared: &Shared, spec: &OthersSpec) -> Result<Result<Others, Vec<Fault>>, Error> {
    let names = match spec {
        OthersSpec::Same => return Ok(Ok(Others::Same)),
        OthersSpec::Unknown => return Ok(Ok(Others::Unknown)),
        OthersSpec::Given(names) => names,
    };
    let renamed = |fault: Fault| Fault {
        field: format!("neighbour_{}", fault.field),
        message: format!("neighbour_{}", fault.message),
        ..fault
    };
    Ok(match sensors(shared, names).await? {
        Ok(Chosen { sensors, options }) => Ok(Others::Given { sensors, options }),
        Err(faults) => Err(faults.into_iter().map(renamed).collect()),
    })
}

const fn sensor_of(name: &OptionName) -> &Id {
    match name {
        OptionName::All { sensor } | OptionName::One { sensor, .. } => sensor,
    }
}

/// The options that names choose among sensors, in the order of the names, each once.
pub(crate) fn choose(names: &[OptionName], sensors: Vec<Sensor>) -> Result<Chosen, Vec<Fault>> {
    let mut options: Vec<OptionRef> = Vec::new();
    let mut chosen: HashSet<OptionRef> = HashSet::new();
    let mut faults = FaultList::default();
    let places: HashMap<&Id, usize> = sensors.iter().enumerate().map(|(at, sensor)| (&sensor.id, at)).collect();
    for (index, name) in names.iter().enumerate() {
        let id = sensor_of(name);
        let field = format!("options[{index}]");
        let Some(at) = places.get(id).copied() else {
            faults.push(unknown(field, &format!("sensors/{id}")));
            continue;
        };
        let count = sensors.get(at).map_or(0, |s| s.options.len());
        let wanted: Vec<usize> = match name {
            OptionName::All { .. } => (0..count).collect(),
            OptionName::One { option, .. } => {
                sensors.get(at).and_then(|s| s.options.iter().position(|o| o.id == *option)).into_iter().collect()
            }
        };
        if let (OptionName::One { option, .. }, true) = (name, wanted.is_empty()) {
            faults.push(unknown(field, &format!("sensors/{id}/options/{option}")));
            continue;
        }
        for option in wanted {
            let reference = OptionRef { sensor: at, option };
            if !chosen.insert(reference) {
                let text = format!(
                    "{field} chooses an option that an earlier entry chose already; accepted: each once; drop one"
                );
                faults.push(Fault::new(field.clone(), FaultReason::Duplicate, text));
                break;
            }
            options.push(reference);
        }
    }
    if faults.is_empty() { Ok(Chosen { sensors, options }) } else { Err(faults.into_vec()) }
}

/// Every record of a kind that a filter selects, by id.
pub(crate) async fn all<R: Resource>(
    shared: &Shared,
    filter: Option<Filter>,
    caller: Option<&Caller>,
) -> Result<Vec<R::Known>, Error> {
    let mut found = Vec::new();
    let mut after = None;
    loop {
        let page = shared.list::<R>(caller, &ListQuery { filter: filter.clone(), limit: MAX_PAGE, after }).await?;
        after = page.items.last().map(|s| s.record.id().clone());
        for stored in &page.items {
            found.push(known(&stored.record)?);
        }
        if !page.more {
            return Ok(found);
        }
    }
}
