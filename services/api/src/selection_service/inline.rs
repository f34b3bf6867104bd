//! Records that stand in a request itself, beside those that it names.

use domain::selection::RunInput;
use domain::{
    Cancel, CustomGoal, Fault, FaultList, FaultReason, Id, Record, Sensor, Shelter, ShelterRecord, Spot, Target,
    TargetRecord,
};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::run;
use crate::convert::{custom_goal, sensor, shelter, spot, target};
use crate::error::Error;
use crate::names::{self, OptionName};
use crate::resolve::{self, Found, Named};

/// Records of a request.
pub(super) struct Inline {
    spots: Vec<Spot>,
    sensors: Vec<Sensor>,
    shelter: Option<Shelter>,
    lure: Option<Target>,
    fish: Option<Target>,
    goals: Vec<CustomGoal>,
}

/// The same as messages.
pub(super) struct Messages {
    pub(super) spots: Vec<v1::Spot>,
    pub(super) sensors: Vec<v1::Sensor>,
    pub(super) shelter: Option<v1::Shelter>,
    pub(super) lure: Option<v1::Target>,
    pub(super) fish: Option<v1::Target>,
    pub(super) goals: Vec<v1::CustomGoal>,
}

/// What of a request stands for a required field of its spec.
#[derive(Default)]
pub(super) struct Instead<'a> {
    pub(super) lure: Option<&'a v1::Target>,
    pub(super) fish: Option<&'a v1::Target>,
}

/// Refuses what is left out; a lure and a fish of the request itself need no name in the spec, and a goal of the user's own no preset.
pub(super) fn refuse(missing: Vec<Fault>, spec: &v1::RunSpec, instead: &Instead<'_>) -> Result<(), Error> {
    let given = [
        ("spec.lure", instead.lure.is_some()),
        ("spec.fish", instead.fish.is_some()),
        ("spec.goal", !spec.custom_goal.is_empty()),
    ];
    let missing: Vec<Fault> =
        missing.into_iter().filter(|f| !given.iter().any(|(field, here)| *here && f.field == *field)).collect();
    if missing.is_empty() { Ok(()) } else { Err(Error::BadFields(missing)) }
}

impl Inline {
    /// Reads the records; each spot with its path.
    pub(super) fn read(given: Messages, path: &dyn Fn(usize) -> String, cancel: &Cancel) -> Result<Self, Error> {
        let mut faults = FaultList::default();
        let mut one =
            |field, m: v1::Target| read(field, "targets", m.name.clone(), |id| target::from(id, m), &mut faults);
        let lure = given.lure.and_then(|m| one("lure", m));
        let fish = given.fish.and_then(|m| one("fish", m));
        let shelter = given
            .shelter
            .and_then(|m| read("shelter", "shelters", m.name.clone(), |id| shelter::from(id, m), &mut faults));
        let spots = all(given.spots, cancel, |i, m| {
            read(&path(i), "spots", m.name.clone(), |id| spot::from(id, m), &mut faults)
        });
        let sensors = all(given.sensors, cancel, |i, m| {
            read(&format!("sensors[{i}]"), "sensors", m.name.clone(), |id| sensor::from(id, m), &mut faults)
        });
        let goals = all(given.goals, cancel, |i, m| {
            read(&format!("goals[{i}]"), "goals", m.name.clone(), |id| custom_goal::from(id, m), &mut faults)
        });
        cancel.check().map_err(Error::internal)?;
        if faults.is_empty() {
            Ok(Self { spots, sensors, shelter, lure, fish, goals })
        } else {
            Err(Error::BadFields(faults.into_vec()))
        }
    }

    pub(super) const fn has_spots(&self) -> bool {
        !self.spots.is_empty()
    }

    const fn is_empty(&self) -> bool {
        self.spots.is_empty()
            && self.sensors.is_empty()
            && self.shelter.is_none()
            && self.lure.is_none()
            && self.fish.is_none()
            && self.goals.is_empty()
    }

    /// Takes what is here from the request and the rest from the store.
    pub(super) async fn complete(
        self,
        shared: &Shared,
        message: &v1::RunSpec,
        caller: Option<&Caller>,
    ) -> Result<RunInput, Error> {
        if self.is_empty() {
            return resolve::run_input(shared, message, caller).await.map_err(|e| e.under("spec"));
        }
        let (_, read) = shared.read(caller, message.clone(), run::spec).await?;
        let spec = read.map_err(|f| Error::BadFields(f).under("spec"))?;
        let spots = if self.spots.is_empty() { resolve::spots(shared, &spec, caller).await? } else { Ok(self.spots) };
        let sensors = if self.sensors.is_empty() {
            resolve::sensors(shared, &spec.options).await?
        } else {
            let names: Vec<_> = self.sensors.iter().map(|s| OptionName::All { sensor: s.id.clone() }).collect();
            resolve::choose(&names, self.sensors)
        };
        let shelter = match self.shelter {
            Some(shelter) => Some(shelter),
            None => stored::<ShelterRecord>(shared, spec.shelter.as_ref()).await?,
        };
        let lure = target_of(shared, "lure", self.lure, spec.lure.as_ref()).await?;
        let fish = target_of(shared, "fish", self.fish, spec.fish.as_ref()).await?;
        let found = Found {
            spots,
            sensors,
            others: resolve::others(shared, &spec.others).await?,
            goals: resolve::goals(shared, &spec, self.goals).await?,
        };
        let named = Named { shelter: Ok(shelter), lure, fish };
        resolve::assembled(shared, caller, (spec, found, named)).await.map_err(|e| e.under("spec"))
    }
}

/// All records of a kind, until the call ends.
fn all<M, R>(messages: Vec<M>, cancel: &Cancel, mut from: impl FnMut(usize, M) -> Option<R>) -> Vec<R> {
    let numbered = messages.into_iter().enumerate().take_while(|_| !cancel.is_cancelled());
    numbered.filter_map(|(index, message)| from(index, message)).collect()
}

/// A record of the request; its name may be left out.
fn read<R: Record>(
    field: &str,
    collection: &'static str,
    name: String,
    from: impl FnOnce(Id) -> Result<R, Vec<Fault>>,
    faults: &mut FaultList,
) -> Option<R::Known> {
    let name = if name.is_empty() { format!("{collection}/unnamed") } else { name };
    match names::parse(&format!("{field}.name"), collection, &name) {
        Ok(id) => match from(id).and_then(|record| record.known().map_err(|fault| vec![fault])) {
            Ok(record) => Some(record),
            Err(found) => {
                faults.extend(found.into_iter().map(|f| f.under(field)));
                None
            }
        },
        Err(fault) => {
            faults.push(fault);
            None
        }
    }
}

async fn stored<R: catalog::Resource>(shared: &Shared, id: Option<&Id>) -> Result<Option<R::Known>, Error> {
    match id {
        Some(id) => resolve::known(&shared.store().get::<R>(id).await?.record).map(Some),
        None => Ok(None),
    }
}

async fn target_of(
    shared: &Shared,
    field: &str,
    inline: Option<Target>,
    id: Option<&Id>,
) -> Result<Result<Target, Fault>, Error> {
    if let Some(target) = inline {
        return Ok(Ok(target));
    }
    Ok(stored::<TargetRecord>(shared, id).await?.ok_or_else(|| {
        Fault::new(field, FaultReason::Missing, format!("{field} is left out; accepted: targets/{{id}}; name one"))
    }))
}
