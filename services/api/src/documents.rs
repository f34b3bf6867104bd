//! Derived documents: stored as the message that was answered, listed newest first.

use catalog::Referrers;
use prost::{Message, Name};
use prost_reflect::{DynamicMessage, SerializeOptions};
use proto::v1;
use tonic::{Response, Status};

use crate::context::{Caller, Shared};
use crate::error::Error;
use crate::paging::{Listing, page_size};
use crate::reflect::descriptor;
use crate::{fleet_service, ids, rules_service};

/// A page of documents.
pub(crate) struct Listed<M> {
    pub(crate) items: Vec<M>,
    pub(crate) next_page_token: String,
}

/// Stores a document under a new id.
pub(crate) async fn put<M: Message>(
    shared: &Shared,
    collection: &'static str,
    id: &str,
    message: &M,
    caller: Option<Caller>,
) -> Result<(), Error> {
    Ok(shared.store().put_document(collection, id, message.encode_to_vec(), &shared.write(caller)).await?)
}

/// The document of a name.
pub(crate) async fn get<M: Message + Default>(
    shared: &Shared,
    collection: &'static str,
    field: &str,
    name: &str,
) -> Result<M, Error> {
    let id = ids::read(shared, field, collection, name).await?;
    let stored = shared.store().document(collection, id.as_str()).await?;
    M::decode(stored.body.as_slice()).map_err(Error::internal)
}

/// Removes a document.
pub(crate) async fn delete(
    shared: &Shared,
    collection: &'static str,
    (name, referrers): (&str, Referrers),
    caller: Option<Caller>,
) -> Result<Response<()>, Status> {
    let id = crate::names::parse("name", collection, name).map_err(|fault| Error::BadFields(vec![fault]))?;
    let gone = shared.store().delete_computed(collection, id.as_str(), referrers, &shared.write(caller)).await;
    Ok(Response::new(gone.map_err(Error::from)?))
}

/// A page of a collection.
pub(crate) async fn list<M: Message + Default>(
    shared: &Shared,
    collection: &'static str,
    (size, page_token): (i32, &str),
) -> Result<Listed<M>, Error> {
    let limit = page_size(size)?;
    let listing = Listing { kind: collection, selection: &[] };
    let before = match listing.position(page_token)? {
        Some(position) => Some(position.parse().map_err(|_| Error::BadPageToken)?),
        None => None,
    };
    let (found, more) = shared.store().list_documents(collection, before, limit).await?;
    let last = found.last().filter(|_| more).map(|document| document.seq.to_string());
    let items = found.iter().map(|document| M::decode(document.body.as_slice()).map_err(Error::internal));
    Ok(Listed { items: items.collect::<Result<_, _>>()?, next_page_token: listing.token(last.as_deref()) })
}

/// A stored body as JSON, with the field names of the .proto files and whole numbers as numbers.
pub(crate) fn json(collection: &str, body: &[u8]) -> Result<serde_json::Value, Error> {
    let read = match collection {
        rules_service::COLLECTION => as_json::<v1::ShelterRules>,
        fleet_service::PLANS => as_json::<v1::FleetPlan>,
        fleet_service::ASSESSMENTS => as_json::<v1::UnitAssessment>,
        fleet_service::FITS => as_json::<v1::BeamFit>,
        fleet_service::DRAFTS => as_json::<v1::BeamSurveyDraft>,
        other => return Err(Error::internal(format!("{other} are no documents"))),
    };
    read(body)
}

fn as_json<M: Message + Name>(body: &[u8]) -> Result<serde_json::Value, Error> {
    let message = DynamicMessage::decode(descriptor::<M>()?, body).map_err(Error::internal)?;
    let options = SerializeOptions::new().use_proto_field_name(true).stringify_64_bit_integers(false);
    message.serialize_with_options(serde_json::value::Serializer, &options).map_err(Error::internal)
}

/// Fingerprint of a message.
pub(crate) fn fingerprint(message: &impl Message) -> String {
    blake3::hash(&message.encode_to_vec()).to_hex().to_string()
}
