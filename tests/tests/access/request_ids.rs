//! A request has one id: the caller's own or one of ours, in the headers of the answer and in every error.

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use tonic::{Code, Request};
use tonic_types::StatusExt as _;

use tests::kit::service::Service;

fn named<M>(message: M, id: &str) -> Request<M> {
    let mut request = Request::new(message);
    request.metadata_mut().insert(api::REQUEST_ID, id.parse().unwrap());
    request
}

#[tokio::test]
async fn an_answer_and_an_error_bear_the_id_of_their_request() {
    let service = Service::start().await;
    let mut client: CatalogServiceClient<_> = service.catalog();
    let answer = client.list_spots(named(v1::ListSpotsRequest::default(), "till-7")).await.unwrap();
    assert_eq!(answer.metadata().get(api::REQUEST_ID).unwrap(), "till-7");
    for (what, code) in [("spots/nowhere", Code::NotFound), ("", Code::InvalidArgument)] {
        let status = client.get_spot(named(v1::GetSpotRequest { name: what.to_owned() }, "till-8")).await.unwrap_err();
        assert_eq!(status.code(), code);
        assert_eq!(status.metadata().get(api::REQUEST_ID).unwrap(), "till-8");
        let details = status.get_error_details();
        assert_eq!(details.request_info().unwrap().request_id, "till-8");
        // What was there before is still there.
        assert_eq!(details.error_info().unwrap().domain, api::ERROR_DOMAIN);
        assert_eq!(details.bad_request().is_some(), code == Code::InvalidArgument);
    }
    // Without an id of the caller's, each request gets one of its own.
    let mut seen = Vec::new();
    for _ in 0..2 {
        let status = client.get_spot(v1::GetSpotRequest::default()).await.unwrap_err();
        seen.push(status.get_error_details().request_info().unwrap().request_id.clone());
    }
    assert_ne!(seen[0], seen[1]);
    assert!(seen.iter().all(|id| id.len() == 32), "{seen:?}");
}
