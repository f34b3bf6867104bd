//! Derived documents: stored as the message that was answered, listed newest first.

use catalog::Referrers;
use prost::Message;
use proto::Kept;
use tonic::{Response, Status};

use crate::context::{Caller, Shared};
use crate::crud::referrers;
use crate::error::Error;
use crate::ids;
use crate::paging::{Listing, page_size};

/// A page of documents.
pub(crate) struct Listed<M> {
    pub(crate) items: Vec<M>,
    pub(crate) next_page_token: String,
}

/// Stores a message under a new name, and answers it with that name.
pub(crate) async fn keep<M: Kept>(shared: &Shared, message: M, caller: Option<Caller>) -> Result<M, Error> {
    let id = ids::fresh(shared, M::COLLECTION, M::LETTER).await?;
    let message = message.named(format!("{}/{id}", M::COLLECTION));
    shared.store().put_document(M::COLLECTION, &id, message.encode_to_vec(), &shared.write(caller)).await?;
    Ok(message)
}

/// The document of a name.
pub(crate) async fn get<M: Kept>(shared: &Shared, field: &str, name: &str) -> Result<M, Error> {
    let id = ids::read(shared, field, M::COLLECTION, name).await?;
    let stored = shared.store().document(M::COLLECTION, id.as_str()).await?;
    M::decode(stored.body.as_slice()).map_err(Error::internal)
}

/// Removes a document.
pub(crate) async fn delete<M: Kept>(
    shared: &Shared,
    (name, force): (&str, bool),
    caller: Option<Caller>,
) -> Result<Response<()>, Status> {
    remove(shared, M::COLLECTION, (name, referrers(force)), caller).await
}

/// Removes what was computed.
pub(crate) async fn remove(
    shared: &Shared,
    collection: &'static str,
    (name, referrers): (&str, Referrers),
    caller: Option<Caller>,
) -> Result<Response<()>, Status> {
    let id = crate::names::parse("name", collection, name).map_err(Error::from)?;
    let gone = shared.store().delete_computed(collection, id.as_str(), referrers, &shared.write(caller)).await;
    Ok(Response::new(gone.map_err(Error::from)?))
}

/// A page of what is kept, newest first.
pub(crate) async fn list<M: Kept>(shared: &Shared, (size, page_token): (i32, &str)) -> Result<Listed<M>, Error> {
    let limit = page_size(size)?;
    let listing = Listing { kind: M::COLLECTION, selection: &[] };
    let before = match listing.position(page_token)? {
        Some(position) => Some(position.parse().map_err(|_| Error::BadPageToken)?),
        None => None,
    };
    let (found, more) = shared.store().list_documents(M::COLLECTION, before, limit).await?;
    let last = found.last().filter(|_| more).map(|document| document.seq.to_string());
    let items = found.iter().map(|document| M::decode(document.body.as_slice()).map_err(Error::internal));
    Ok(Listed { items: items.collect::<Result<_, _>>()?, next_page_token: listing.token(last.as_deref()) })
}

/// Fingerprint of a message.
pub(crate) fn fingerprint(message: &impl Message) -> String {
    blake3::hash(&message.encode_to_vec()).to_hex().to_string()
}
