//! Get, list, create, update and delete, once for every kind of record.

use std::sync::Arc;

use catalog::filter::Filter;
use catalog::{ListQuery, Referrers, StoreError, Stored};
use domain::{Cancel, Fault, FaultList, FaultReason, Id};
use prost::Message as _;
use prost_reflect::DynamicMessage;

use crate::context::{Caller, Shared};
use crate::convert::joined;
use crate::error::Error;
use crate::paging::{Listing, page_size};
use crate::reflect::{Depth, descriptor, missing_in, to_dynamic};
use crate::resource::{Record, stored};
use crate::{mask, names};

/// How often an update without an etag is tried again when somebody else writes in between.
const ATTEMPTS: usize = 8;

pub(crate) async fn get<R: Record>(shared: &Shared, name: &str) -> Result<R::Message, Error> {
    let id = names::parse("name", R::COLLECTION, name)?;
    Ok(stored(shared.store().get::<R>(&id).await?))
}

/// What is to be listed, as a request has it.
pub(crate) struct ListRequest {
    pub(crate) page_size: i32,
    pub(crate) page_token: String,
    pub(crate) filter: String,
    pub(crate) caller: Option<Caller>,
}

/// A page as an answer has it.
pub(crate) struct Listed<M> {
    pub(crate) items: Vec<M>,
    pub(crate) next_page_token: String,
    pub(crate) total_size: i32,
}

pub(crate) async fn list<R: Record>(shared: &Shared, request: ListRequest) -> Result<Listed<R::Message>, Error> {
    let limit = page_size(request.page_size)?;
    let filter = Filter::parse(&request.filter, &R::filters())?;
    let selection = [request.filter.as_str()];
    let listing = Listing { kind: R::COLLECTION, selection: &selection };
    let after = match listing.position(&request.page_token)? {
        Some(position) => Some(Id::parse(&position).map_err(|_| Error::BadPageToken)?),
        None => None,
    };
    let page = shared.list::<R>(request.caller.as_ref(), &ListQuery { filter, limit, after }).await?;
    let last = page.items.last().filter(|_| page.more).map(|last| last.record.id().as_str());
    Ok(Listed {
        next_page_token: listing.token(last),
        total_size: i32::try_from(page.total).unwrap_or(i32::MAX),
        items: page.items.into_iter().map(stored).collect(),
    })
}

/// A record to be stored under an id of the caller's; `missing` are the required fields that the request leaves out.
pub(crate) struct CreateRequest<M> {
    pub(crate) id: String,
    pub(crate) record: Option<M>,
    pub(crate) missing: Vec<Fault>,
    pub(crate) caller: Option<Caller>,
}

pub(crate) async fn create<R: Record>(
    shared: &Shared,
    request: CreateRequest<R::Message>,
) -> Result<R::Message, Error> {
    let id_field = format!("{}_id", R::FIELD);
    let id = names::parse_id(&id_field, &request.id);
    // The record is read even without an id of its own, so that all faults come back at once.
    let stand_in = id.clone().or_else(|_| Id::parse("unnamed").map_err(Error::internal))?;
    let message = request.record.unwrap_or_default();
    let caller = request.caller;
    let size = message.encoded_len();
    let read = move |_: &Cancel| R::from_message(stand_in, message).map_err(|faults| under::<R>(faults));
    let read = shared.check(caller.as_ref(), size, read).await?;
    let mut missing = request.missing;
    if let Err(fault) = id {
        missing.insert(0, fault);
    }
    let record = joined(missing, read).map_err(|faults| Error::BadFields(once_each(faults)))?;
    let write = shared.write(caller);
    Ok(stored(shared.store().create(&record, &write).await?))
}

/// A change of a record.
pub(crate) struct UpdateRequest<M> {
    pub(crate) record: Option<M>,
    pub(crate) mask: Option<prost_types::FieldMask>,
    pub(crate) caller: Option<Caller>,
}

pub(crate) async fn update<R: Record>(
    shared: &Shared,
    request: UpdateRequest<R::Message>,
) -> Result<R::Message, Error> {
    let Some(incoming) = request.record else {
        let message = format!("{} is left out; it is required; give it", R::FIELD);
        return Err(Error::field(R::FIELD, FaultReason::Missing, message));
    };
    let name_field = format!("{}.name", R::FIELD);
    let id = names::parse(&name_field, R::COLLECTION, R::message_name(&incoming))?;
    let etag = R::message_etag(&incoming).to_owned();
    let paths = request.mask.map(|mask| mask.paths).unwrap_or_default();
    let size = incoming.encoded_len();
    let (incoming, at) = (to_dynamic(&incoming)?, id.clone());
    let merge = Arc::new(move |current: Stored<R>| merged::<R>(at.clone(), &stored(current), &paths, &incoming));
    Ok(stored(change(shared, (&id, &etag), (request.caller, size), merge).await?))
}

/// Reads a record, changes it and writes it back; `size` is what the change has to go through, in bytes. Where somebody else writes between
/// our reading and our writing, that is a conflict only for a caller who says by its etag what it has seen; for others the change is made
/// again, to what is there then.
pub(crate) async fn change<R: Record>(
    shared: &Shared,
    (id, etag): (&Id, &str),
    (caller, size): (Option<Caller>, usize),
    change: Arc<impl Fn(Stored<R>) -> Result<R, Error> + Send + Sync + 'static>,
) -> Result<Stored<R>, Error> {
    let write = shared.write(caller.clone());
    for _ in 0..ATTEMPTS {
        let current = shared.store().get::<R>(id).await?;
        if !etag.is_empty() && etag != current.etag {
            return Err(Error::StaleEtag { name: format!("{}/{id}", R::COLLECTION), given: etag.to_owned() });
        }
        let (seen, change) = (current.etag.clone(), Arc::clone(&change));
        let record = shared.check(caller.as_ref(), size, move |_: &Cancel| change(current)).await??;
        match shared.store().update(&record, Some(&seen), &write).await {
            Err(StoreError::StaleEtag { .. }) if etag.is_empty() => {}
            outcome => return Ok(outcome?),
        }
    }
    Err(Error::Overloaded { what: format!("{}/{id} is being changed by others all the time", R::COLLECTION) })
}

/// The record after a change, if it is sound.
fn merged<R: Record>(id: Id, current: &R::Message, paths: &[String], incoming: &DynamicMessage) -> Result<R, Error> {
    let merged = mask::apply(paths, &to_dynamic(current)?, incoming).map_err(Error::BadFields)?;
    let bytes = merged.encode_to_vec();
    let missing = missing_in(&bytes, &descriptor::<R::Message>()?, Depth::Whole)?;
    let message = R::Message::decode(bytes.as_slice()).map_err(Error::internal)?;
    joined(missing, R::from_message(id, message)).map_err(|faults| Error::BadFields(under::<R>(faults)))
}

pub(crate) async fn delete<R: Record>(
    shared: &Shared,
    (name, etag): (&str, &str),
    referrers: Referrers,
    caller: Option<Caller>,
) -> Result<(), Error> {
    let id = names::parse("name", R::COLLECTION, name)?;
    let etag = Some(etag).filter(|etag| !etag.is_empty());
    Ok(shared.store().delete::<R>(&id, etag, referrers, &shared.write(caller)).await?)
}

/// What a request's `force` says of those that refer to what is to go.
pub(crate) const fn referrers(force: bool) -> Referrers {
    if force { Referrers::Leave } else { Referrers::Refuse }
}

fn under<R: Record>(faults: Vec<Fault>) -> Vec<Fault> {
    faults.into_iter().map(|fault| fault.under(R::FIELD)).collect()
}

/// Keeps the first fault of each field.
fn once_each(faults: Vec<Fault>) -> Vec<Fault> {
    let mut kept = FaultList::default();
    for fault in faults {
        kept.push_first_of_field(fault);
    }
    kept.into_vec()
}
