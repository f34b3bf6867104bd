//! The services, asked in the same process as a client asks them.

use std::convert::Infallible;

use http::{Request, Response};
use proto::v1;
use proto::v1::admin_service_client::AdminServiceClient;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::Status;
use tonic::body::Body;
use tonic::metadata::AsciiMetadataValue;
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tower::util::BoxCloneSyncService;

use crate::stop::Stop;

/// The services with everything that stands before them: ids of requests, limits, who may call what.
pub type Api = BoxCloneSyncService<Request<Body>, Response<Body>, Infallible>;

/// Records of a page of a list.
pub(crate) const PAGE: i32 = 1_000;
/// Largest answer.
const MAX_ANSWER_BYTES: usize = 64 * 1024 * 1024;

/// The services on behalf of one visitor.
#[derive(Clone)]
pub(crate) struct Client {
    api: Api,
    bearer: Bearer,
}

type Link = InterceptedService<Api, Bearer>;

/// What a call bears: the token of whoever is signed in, and the id of the visit.
#[derive(Clone)]
pub(crate) struct Bearer {
    token: Option<AsciiMetadataValue>,
    request_id: Option<AsciiMetadataValue>,
}

impl Interceptor for Bearer {
    fn call(&mut self, mut request: tonic::Request<()>) -> Result<tonic::Request<()>, Status> {
        if let Some(token) = &self.token {
            request.metadata_mut().insert("authorization", token.clone());
        }
        if let Some(id) = &self.request_id {
            request.metadata_mut().insert("x-request-id", id.clone());
        }
        Ok(request)
    }
}

impl Client {
    /// Calls with that token, if any; one that no header can bear is none.
    pub(crate) fn new(api: Api, token: Option<&str>, request_id: &str) -> Self {
        let token = token.and_then(|token| format!("Bearer {token}").parse::<AsciiMetadataValue>().ok());
        let token = token.map(|mut token| {
            token.set_sensitive(true);
            token
        });
        Self { api, bearer: Bearer { token, request_id: request_id.parse().ok() } }
    }

    fn link(&self) -> Link {
        InterceptedService::new(self.api.clone(), self.bearer.clone())
    }

    pub(crate) fn catalog(&self) -> CatalogServiceClient<Link> {
        CatalogServiceClient::new(self.link()).max_decoding_message_size(MAX_ANSWER_BYTES)
    }

    pub(crate) fn selection(&self) -> SelectionServiceClient<Link> {
        SelectionServiceClient::new(self.link()).max_decoding_message_size(MAX_ANSWER_BYTES)
    }

    pub(crate) fn reports(&self) -> ReportServiceClient<Link> {
        ReportServiceClient::new(self.link()).max_decoding_message_size(MAX_ANSWER_BYTES)
    }

    pub(crate) fn admin(&self) -> AdminServiceClient<Link> {
        AdminServiceClient::new(self.link())
    }

    pub(crate) fn rules(&self) -> RulesServiceClient<Link> {
        RulesServiceClient::new(self.link()).max_decoding_message_size(MAX_ANSWER_BYTES)
    }

    pub(crate) fn fleet(&self) -> FleetServiceClient<Link> {
        FleetServiceClient::new(self.link()).max_decoding_message_size(MAX_ANSWER_BYTES)
    }
}

/// The records of all pages of a list.
pub(crate) async fn every<T, F>(page: impl Fn(String) -> F) -> Result<Vec<T>, Stop>
where
    F: Future<Output = Result<(Vec<T>, String), Stop>>,
{
    let mut all = Vec::new();
    let mut token = String::new();
    loop {
        let (records, next) = page(token).await?;
        all.extend(records);
        if next.is_empty() {
            return Ok(all);
        }
        token = next;
    }
}

/// Every unit.
pub(crate) async fn units(client: &Client) -> Result<Vec<v1::Unit>, Stop> {
    every(|page_token| {
        let request = v1::ListUnitsRequest { page_size: PAGE, page_token, ..v1::ListUnitsRequest::default() };
        let mut fleet = client.fleet();
        async move {
            let page = fleet.list_units(request).await?.into_inner();
            Ok((page.units, page.next_page_token))
        }
    })
    .await
}
