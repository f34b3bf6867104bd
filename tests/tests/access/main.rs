//! Callers of the services: what each may have at once, until when its token is good, and that all it writes bears its name.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod audit;
mod expiry;
mod limits;
mod own;
mod renders;
mod request_ids;

use catalog::{NewToken, Role, Write};
use domain::Id;
use jiff::Timestamp;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};

use tests::kit::service::Service;

/// What puts a token into every call.
type Show = Box<dyn FnMut(Request<()>) -> Result<Request<()>, Status> + Send + Sync>;

/// A channel on which every call shows a token.
type Link = InterceptedService<Channel, Show>;

fn show(channel: &Channel, token: &str) -> Link {
    let value: tonic::metadata::AsciiMetadataValue = format!("Bearer {token}").parse().unwrap();
    let show = move |mut request: Request<()>| {
        request.metadata_mut().insert("authorization", value.clone());
        Ok(request)
    };
    InterceptedService::new(channel.clone(), Box::new(show))
}

/// Stores a token made of one byte over and over, and gives it.
async fn add_token(service: &Service, name: &str, byte: u8, expire_time: Option<Timestamp>) -> String {
    let secret = api::Secret::new([byte; api::Secret::RANDOM_BYTES]);
    let name = Id::parse(name).unwrap();
    let token = NewToken { name, key: secret.key().to_owned(), hash: secret.hash(), role: Role::Write, expire_time };
    let write = Write { actor: "test".to_owned(), at: Timestamp::UNIX_EPOCH };
    service.store.add_token(&token, &write).await.unwrap();
    secret.reveal()
}
