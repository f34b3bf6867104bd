//! RulesService: what may be done in shared shelters.

use std::sync::Arc;

use domain::selection::OptionRef;
use domain::{Cancel, Fault, FaultReason, ShelterRecord, TargetRecord};
use planning::generic::GenericUnit;
use planning::rules::{RulesInput, SeatsInput, Terms, derive};
use planning::{PlanningError, layout};
use prost::Message as _;
use proto::v1;
use proto::v1::rules_service_server::RulesService;
use tonic::{Request, Response, Status};

use crate::context::{Caller, Shared};
use crate::convert::rules::{self, Spec};
use crate::convert::seats::{self, Party};
use crate::convert::{joined, shelter};
use crate::documents;
use crate::error::Error;
use crate::names::OptionName;
use crate::reflect::Depth;
use crate::request::{Incoming, parts, whole};
use crate::resolve::{self, Chosen};
use crate::resource::timestamp;

/// The handlers of RulesService.
pub struct RulesHandlers {
    shared: Arc<Shared>,
}

impl RulesHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl RulesService for RulesHandlers {
    async fn derive_shelter_rules(
        &self,
        request: Request<v1::DeriveShelterRulesRequest>,
    ) -> Result<Response<v1::ShelterRules>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let spec = message.spec.unwrap_or_default();
        let (spec, read) = self.shared.read(caller.as_ref(), spec, rules::spec).await?;
        let read = read.map_err(|faults| faults.into_iter().map(|f| f.under("spec")).collect());
        let read = joined(missing, read).map_err(Error::BadFields)?;
        Ok(Response::new(derived(&self.shared, spec, read, caller).await?))
    }

    async fn get_shelter_rules(
        &self,
        request: Request<v1::GetShelterRulesRequest>,
    ) -> Result<Response<v1::ShelterRules>, Status> {
        let name = whole(request)?.message.name;
        Ok(Response::new(documents::get(&self.shared, "name", &name).await?))
    }

    async fn delete_shelter_rules(
        &self,
        request: Request<v1::DeleteShelterRulesRequest>,
    ) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::delete::<v1::ShelterRules>(&self.shared, (&message.name, message.force), caller).await
    }

    async fn list_shelter_rules(
        &self,
        request: Request<v1::ListShelterRulesRequest>,
    ) -> Result<Response<v1::ListShelterRulesResponse>, Status> {
        let v1::ListShelterRulesRequest { page_size, page_token } = whole(request)?.message;
        let documents::Listed { items, next_page_token } =
            documents::list::<v1::ShelterRules>(&self.shared, (page_size, &page_token)).await?;
        let shelter_rules = items.into_iter().map(|rules| v1::ShelterRules { sheets: Vec::new(), ..rules }).collect();
        Ok(Response::new(v1::ListShelterRulesResponse { shelter_rules, next_page_token }))
    }

    async fn lay_out_shelter(
        &self,
        request: Request<v1::LayOutShelterRequest>,
    ) -> Result<Response<v1::LayOutShelterResponse>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let stand_in = domain::Id::parse("shelter").map_err(Error::internal)?;
        let shelter = message.shelter.unwrap_or_default();
        let bytes = shelter.encoded_len();
        let read = self.shared.check(caller.as_ref(), bytes, move |_| shelter::from(stand_in, shelter)).await?;
        let read = read.map_err(|faults| faults.into_iter().map(|fault| fault.under("shelter")).collect());
        let shelter = resolve::known(&joined(missing, read).map_err(Error::BadFields)?)?;
        let laid = move |cancel: &Cancel| layout::holes(&shelter, cancel);
        let holes = self.shared.compute(caller.as_ref(), laid).await?.map_err(Error::from)?;
        let spacing_m = layout::least_spacing(&holes).map_or(0.0, acoustics::units::Metres::get);
        Ok(Response::new(v1::LayOutShelterResponse { holes: rules::holes_to(&holes), spacing_m }))
    }

    async fn seat_people(
        &self,
        request: Request<v1::SeatPeopleRequest>,
    ) -> Result<Response<v1::SeatPeopleResponse>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let (message, read) = self.shared.read(caller.as_ref(), message, seats::party).await?;
        let party = joined(missing, read).map_err(Error::BadFields)?;
        Ok(Response::new(seated(&self.shared, message, party, caller).await?))
    }
}

/// Looks up what a request names, and seats the people.
async fn seated(
    shared: &Shared,
    message: v1::SeatPeopleRequest,
    party: Party,
    caller: Option<Caller>,
) -> Result<v1::SeatPeopleResponse, Error> {
    let Party { spec, people, places } = party;
    let mut faults: Vec<Fault> = Vec::new();
    let shelter = resolve::named::<ShelterRecord>(shared, "shelters", &spec.shelters).await?;
    let shelter = shelter.map_err(|found| faults.extend(found.into_iter().map(seats::of_request))).ok();
    let chosen = resolve::sensors(shared, &spec.options).await?;
    let chosen =
        chosen.map_err(|found| faults.extend(found.into_iter().map(|fault| at_its_place(fault, &places)))).ok();
    let lure = resolve::record::<TargetRecord>(shared, "lure", &spec.lure).await?;
    let lure = lure.map_err(|fault| faults.push(fault)).ok();
    let (Some(shelter), Some(Chosen { sensors, options }), Some(lure), Some(band)) =
        (shelter.and_then(|all| all.into_iter().next()), chosen, lure, spec.bands.first().copied())
    else {
        return Err(Error::BadFields(faults));
    };
    let open_to = |names: &[OptionName]| -> Vec<usize> {
        let of_name = |name: &OptionName| {
            let is_it =
                |option: &OptionRef| sensors.get(option.sensor).is_some_and(|sensor| name.names(sensor, option.option));
            options.iter().enumerate().filter(|(_, option)| is_it(option)).map(|(at, _)| at).collect::<Vec<_>>()
        };
        let mut places = Vec::new();
        for place in names.iter().flat_map(of_name) {
            if !places.contains(&place) {
                places.push(place);
            }
        }
        places
    };
    let people = people.iter().map(|names| open_to(names)).collect();
    let terms = if message.same_for_all { Terms::Alike } else { Terms::Free };
    let input = SeatsInput {
        shelter,
        people,
        band,
        bottoms: spec.bottoms,
        lure,
        settings: spec.settings,
        terms,
        sensors,
        options,
    };
    let work = move |cancel: &Cancel| planning::rules::seats(&input, cancel).map(|found| (found, input));
    let (found, input) = shared.compute(caller.as_ref(), work).await?.map_err(Error::from)?;
    Ok(seats::to(&message, &input, &found))
}

/// A fault of the list of all options at its place among those of a person.
fn at_its_place(fault: Fault, places: &[String]) -> Fault {
    let at = fault.field.strip_prefix("options[").and_then(|rest| rest.split_once(']'));
    let named = at.and_then(|(at, rest)| Some((places.get(at.parse::<usize>().ok()?)?, rest)));
    let Some((place, rest)) = named else { return fault };
    let field = format!("{place}{rest}");
    Fault { message: fault.message.replace(&fault.field, &field), field, ..fault }
}

/// Looks up what the spec names, derives the rules and stores them.
async fn derived(
    shared: &Shared,
    message: v1::RulesSpec,
    spec: Spec,
    caller: Option<Caller>,
) -> Result<v1::ShelterRules, Error> {
    let mut faults: Vec<Fault> = Vec::new();
    let shelters = resolve::named::<ShelterRecord>(shared, "shelters", &spec.shelters).await?;
    let shelters = shelters.map_err(|mut found| faults.append(&mut found)).ok();
    let chosen = resolve::sensors(shared, &spec.options).await?;
    let chosen = chosen.map_err(|mut found| faults.append(&mut found)).ok();
    let lure = resolve::record::<TargetRecord>(shared, "lure", &spec.lure).await?;
    let lure = lure.map_err(|fault| faults.push(fault)).ok();
    let (Some(shelters), Some(Chosen { sensors, options }), Some(lure)) = (shelters, chosen, lure) else {
        return Err(Error::BadFields(faults).under("spec"));
    };
    if options.is_empty() {
        return Err(Error::EmptyBatch { field: "spec.options", what: "sensors" });
    }
    let input = RulesInput {
        shelters,
        sensors,
        options,
        unlisted: if message.unlisted_units { GenericUnit::ALL.to_vec() } else { Vec::new() },
        bands: spec.bands,
        bottoms: spec.bottoms,
        lure,
        settings: spec.settings,
    };
    let work = move |cancel: &Cancel| derive(&input, cancel).map(|book| (book, input));
    let (book, input) = shared.compute(caller.as_ref(), work).await?.map_err(refused)?;
    let mut answer = rules::to(&input, &book);
    answer.result_hash = documents::fingerprint(&answer);
    answer.spec = Some(message);
    answer.create_time = Some(timestamp(shared.context.clock.now()));
    documents::keep(shared, answer, caller).await
}

/// Faults of the input stand inside the spec; a shelter that is too small is one of them.
fn refused(error: PlanningError) -> Error {
    match error {
        PlanningError::Faults(faults) => Error::BadFields(faults).under("spec"),
        other => Error::field("spec.shelters", FaultReason::Contradiction, other.to_string()),
    }
}
