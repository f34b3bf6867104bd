//! Evaluate: a few options at one spot, at once, from stored records or from those in the request.

use domain::{Cancel, Fault, FaultList, FaultReason, Id, Sensor, Shelter, Spot, Target};
use planning::selection::{Prepared, Scratch};
use prost::Message as _;
use proto::v1;
use tonic::Request;

use crate::context::Shared;
use crate::convert::finding::FindingWriter;
use crate::convert::run;
use crate::convert::{sensor, shelter, spot, target};
use crate::error::Error;
use crate::names::{self, OptionName};
use crate::reflect::Depth;
use crate::request::{Incoming, parts};
use crate::resolve::{self, Found, Named};

/// Most options at once.
const MAX_OPTIONS: usize = 64;

/// Scores and ranks.
pub(super) async fn evaluate(
    shared: &Shared,
    request: Request<v1::EvaluateRequest>,
) -> Result<v1::EvaluateResponse, Error> {
    let (incoming, missing) = parts(request, Depth::Whole)?;
    let Incoming { mut message, caller } = incoming;
    let caller = caller.as_ref();
    let mut spec = message.spec.take().unwrap_or_default();
    // What stands in the request itself needs no name in the spec.
    let given = [("spec.lure", message.lure.is_some()), ("spec.fish", message.fish.is_some())];
    let missing: Vec<Fault> =
        missing.into_iter().filter(|f| !given.iter().any(|(field, here)| *here && f.field == *field)).collect();
    if !missing.is_empty() {
        return Err(Error::BadFields(missing));
    }
    let inline = shared.check(caller, message.encoded_len(), move || Inline::read(message)).await??;
    let input = if inline.is_empty() {
        if spec.spots.len() != 1 {
            return Err(one_spot(spec.spots.len()));
        }
        resolve::run_input(shared, &spec, caller).await.map_err(|e| e.under("spec"))?
    } else {
        inline.complete(shared, &mut spec).await?
    };
    if input.options.len() > MAX_OPTIONS {
        let text = format!(
            "spec.options chooses {} options; accepted: up to {MAX_OPTIONS}; start a run for more",
            input.options.len()
        );
        return Err(Error::field("spec.options", FaultReason::OutOfRange, text));
    }
    let copy = input.clone();
    let work = move |cancel: &Cancel| {
        let prepared = Prepared::new(&copy, cancel)?;
        let mut findings = Vec::with_capacity(prepared.option_count());
        prepared.evaluate_spot(0, &mut Scratch::new(), &mut findings, cancel).map(|()| findings)
    };
    let mut findings = shared.compute(caller, work).await?.map_err(Error::from)?;
    findings.sort_by_key(|f| f.rank);
    let id = Id::parse("unstored").map_err(Error::internal)?;
    let writer = FindingWriter::new(&id, &input);
    let mut messages: Vec<v1::Finding> = findings.iter().map(|f| writer.write(f)).collect::<Result<_, _>>()?;
    for finding in &mut messages {
        // Nothing is stored, so nothing has a name.
        finding.name.clear();
    }
    Ok(v1::EvaluateResponse { findings: messages })
}

fn one_spot(given: usize) -> Error {
    let text = format!(
        "spec.spots has {given} entries; accepted: exactly one, or a spot in the request; start a run for more"
    );
    Error::field("spec.spots", FaultReason::OutOfRange, text)
}

/// Records that stand in the request itself.
struct Inline {
    spot: Option<Spot>,
    sensors: Vec<Sensor>,
    shelter: Option<Shelter>,
    lure: Option<Target>,
    fish: Option<Target>,
}

impl Inline {
    fn read(message: v1::EvaluateRequest) -> Result<Self, Error> {
        let mut faults = FaultList::default();
        let spot =
            message.spot.and_then(|m| read("spot", "spots", m.name.clone(), |id| spot::from(id, m), &mut faults));
        let sensors = message
            .sensors
            .into_iter()
            .enumerate()
            .filter_map(|(i, m)| {
                read(&format!("sensors[{i}]"), "sensors", m.name.clone(), |id| sensor::from(id, m), &mut faults)
            })
            .collect();
        let shelter = message
            .shelter
            .and_then(|m| read("shelter", "shelters", m.name.clone(), |id| shelter::from(id, m), &mut faults));
        let lure =
            message.lure.and_then(|m| read("lure", "targets", m.name.clone(), |id| target::from(id, m), &mut faults));
        let fish =
            message.fish.and_then(|m| read("fish", "targets", m.name.clone(), |id| target::from(id, m), &mut faults));
        if faults.is_empty() {
            Ok(Self { spot, sensors, shelter, lure, fish })
        } else {
            Err(Error::BadFields(faults.into_vec()))
        }
    }

    const fn is_empty(&self) -> bool {
        self.spot.is_none()
            && self.sensors.is_empty()
            && self.shelter.is_none()
            && self.lure.is_none()
            && self.fish.is_none()
    }

    /// Takes what is here from the request and the rest from the store.
    async fn complete(self, shared: &Shared, message: &mut v1::RunSpec) -> Result<domain::selection::RunInput, Error> {
        let spec = run::spec(message).map_err(|f| Error::BadFields(f).under("spec"))?;
        let spots = match self.spot {
            Some(spot) => vec![spot],
            None if spec.spots.len() == 1 => stored::<Spot>(shared, spec.spots.first()).await?.into_iter().collect(),
            None => return Err(one_spot(spec.spots.len())),
        };
        let sensors = if self.sensors.is_empty() {
            resolve::sensors(shared, &spec.options).await?
        } else {
            let names: Vec<_> = self.sensors.iter().map(|s| OptionName::All { sensor: s.id.clone() }).collect();
            resolve::choose(&names, self.sensors)
        };
        let shelter = match self.shelter {
            Some(shelter) => Some(shelter),
            None => stored::<Shelter>(shared, spec.shelter.as_ref()).await?,
        };
        let lure = target_of(shared, "lure", self.lure, spec.lure.as_ref()).await?;
        let fish = target_of(shared, "fish", self.fish, spec.fish.as_ref()).await?;
        let found = Found { spots: Ok(spots), sensors };
        resolve::assemble(spec, found, Named { shelter: Ok(shelter), lure, fish }).map_err(|e| e.under("spec"))
    }
}

/// A record of the request; its name may be left out.
fn read<T>(
    field: &str,
    collection: &'static str,
    name: String,
    from: impl FnOnce(Id) -> Result<T, Vec<Fault>>,
    faults: &mut FaultList,
) -> Option<T> {
    let name = if name.is_empty() { format!("{collection}/unnamed") } else { name };
    match names::parse(&format!("{field}.name"), collection, &name) {
        Ok(id) => match from(id) {
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

async fn stored<R: catalog::Resource>(shared: &Shared, id: Option<&Id>) -> Result<Option<R>, Error> {
    match id {
        Some(id) => Ok(Some(shared.store().get::<R>(id).await?.record)),
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
    Ok(stored::<Target>(shared, id).await?.ok_or_else(|| {
        Fault::new(field, FaultReason::Missing, format!("{field} is left out; accepted: targets/{{id}}; name one"))
    }))
}
