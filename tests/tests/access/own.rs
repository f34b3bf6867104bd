//! A service that a process starts for itself answers nobody else.

use api::{Entry, Secret};
use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use tonic::Code;

use crate::{add_token, show};
use tests::kit::service::{Service, Setup, reason, spot};

#[tokio::test]
async fn only_the_one_secret_opens_a_service_of_ones_own() {
    let own = Secret::new([5; Secret::RANDOM_BYTES]);
    let service = Service::start_with(Setup { entry: Entry::Only(own.clone()), ..Setup::default() }).await;
    let stored = add_token(&service, "till", 1, None).await;
    let request =
        || v1::CreateSpotRequest { spot_id: "bar".to_owned(), spot: Some(spot(6.0, v1::BottomClass::Gravel)) };
    let status = service.catalog().create_spot(request()).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::Unauthenticated, "NO_TOKEN"));
    // Not even a token that a shared service over the same database would take.
    let status = CatalogServiceClient::new(show(&service.channel, &stored)).create_spot(request()).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::Unauthenticated, "UNKNOWN_TOKEN"));
    CatalogServiceClient::new(show(&service.channel, &own.reveal())).create_spot(request()).await.unwrap();
    let newest = service.store.audit_trail(None, 1).await.unwrap();
    assert_eq!((newest[0].actor.as_str(), newest[0].resource.as_str()), ("local", "spots/bar"));
}
