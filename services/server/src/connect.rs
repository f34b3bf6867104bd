//! A connection to the service: to one that runs, or to one of our own on loopback.

use std::path::Path;

use proto::v1::admin_service_client::AdminServiceClient;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::metadata::AsciiMetadataValue;
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Status};

use crate::cli::{Credentials, Global, OwnTemplates};
use crate::exit::{CliError, root_cause};
use crate::secret;
use crate::serve::{self, Running};
use crate::tls;

/// Largest message either way; a whole page of findings fits many times.
const MAX_MESSAGE_BYTES: usize = 64 * 1024 * 1024;

/// A channel on which every call shows the caller's token.
pub(crate) type Link = InterceptedService<Channel, Credential>;

/// What a call shows of its caller.
#[derive(Clone)]
pub(crate) struct Credential(Option<AsciiMetadataValue>);

impl Credential {
    fn of(secret: &str) -> Result<Self, CliError> {
        // The text is not repeated: it may well be a good token with a stray character.
        let refused =
            |_| CliError::Usage("the token holds characters that no token has; check where it comes from".to_owned());
        let mut value: AsciiMetadataValue = format!("Bearer {secret}").parse().map_err(refused)?;
        value.set_sensitive(true);
        Ok(Self(Some(value)))
    }
}

impl Interceptor for Credential {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        if let Some(value) = &self.0 {
            request.metadata_mut().insert("authorization", value.clone());
        }
        Ok(request)
    }
}

/// Clients of the services.
pub(crate) struct Connection {
    channel: Channel,
    credential: Credential,
    own: Option<Running>,
}

impl Connection {
    /// Connects as the global flags say.
    pub(crate) async fn open(global: &Global) -> Result<Self, CliError> {
        match &global.server {
            Some(url) => Self::to(url, &global.credentials).await,
            None => Self::own(&global.database, &global.own).await,
        }
    }

    /// Connects to a service that runs.
    async fn to(url: &str, credentials: &Credentials) -> Result<Self, CliError> {
        let bad = |e: tonic::transport::Error| {
            CliError::Usage(format!(
                "'{url}' is no address of a service ({}); it reads like http://127.0.0.1:50071",
                root_cause(&e)
            ))
        };
        let mut endpoint = Endpoint::from_shared(url.to_owned()).map_err(bad)?;
        let secure = endpoint.uri().scheme_str() == Some("https");
        let token = secret::of_caller(credentials)?;
        if token.is_some() && !secure && !is_loopback(endpoint.uri().host()) {
            return Err(CliError::Usage(format!(
                "the token would travel to {url} for everybody on the way to read; use an https address, or leave the token out"
            )));
        }
        if secure {
            endpoint = endpoint.tls_config(tls::of_caller(credentials)?).map_err(|e| {
                CliError::Usage(format!("the certificates cannot be used: {}; check the files", root_cause(&e)))
            })?;
        }
        let channel = endpoint.connect().await.map_err(|e| {
            let hint = if secure {
                "is it running, with a certificate of that authority and for that name?"
            } else {
                "is it running?"
            };
            CliError::Unreachable(format!("no service answers at {url} ({}); {hint}", root_cause(&e)))
        })?;
        let credential = token.as_deref().map_or(Ok(Credential(None)), Credential::of)?;
        Ok(Self { channel, credential, own: None })
    }

    /// Starts the service over a database file and connects to it.
    pub(crate) async fn own(database: &Path, templates: &OwnTemplates) -> Result<Self, CliError> {
        let secret = secret::random()?;
        let credential = Credential::of(&secret.reveal())?;
        let running = serve::start(serve::Settings::private(database, templates, secret), None).await?;
        let url = format!("http://{}", running.address());
        let endpoint = Endpoint::from_shared(url).map_err(|e| CliError::Unreachable(e.to_string()))?;
        let channel = endpoint.connect().await.map_err(|e| CliError::Unreachable(root_cause(&e)))?;
        Ok(Self { channel, credential, own: Some(running) })
    }

    fn link(&self) -> Link {
        InterceptedService::new(self.channel.clone(), self.credential.clone())
    }

    /// The connection itself, for services that are not lakebeam's own.
    pub(crate) fn channel(&self) -> Channel {
        self.channel.clone()
    }

    /// The catalog.
    pub(crate) fn catalog(&self) -> CatalogServiceClient<Link> {
        CatalogServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Selection.
    pub(crate) fn selection(&self) -> SelectionServiceClient<Link> {
        SelectionServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Shelter rules.
    pub(crate) fn rules(&self) -> RulesServiceClient<Link> {
        RulesServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// The fleet.
    pub(crate) fn fleet(&self) -> FleetServiceClient<Link> {
        FleetServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Reports.
    pub(crate) fn reports(&self) -> ReportServiceClient<Link> {
        ReportServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// The service itself.
    pub(crate) fn admin(&self) -> AdminServiceClient<Link> {
        AdminServiceClient::new(self.link()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Ends the connection, and our own service in an orderly way.
    pub(crate) async fn close(self) {
        let Self { channel, credential: _, own } = self;
        drop(channel);
        if let Some(running) = own {
            running.stop().await;
        }
    }
}

/// Whether a host is this machine, as far as its name tells.
fn is_loopback(host: Option<&str>) -> bool {
    let host = host.unwrap_or_default();
    let address = host.trim_start_matches('[').trim_end_matches(']').parse::<std::net::IpAddr>();
    host == "localhost" || address.is_ok_and(|address| address.is_loopback())
}
