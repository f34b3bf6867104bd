//! A connection to the service: to one that runs, or to one of our own on loopback.

use std::path::Path;

use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::report_service_client::ReportServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::transport::{Channel, Endpoint};

use crate::cli::Global;
use crate::exit::Stop;
use crate::serve::{self, Running};

/// Largest message either way; a whole page of findings fits many times.
const MAX_MESSAGE_BYTES: usize = 64 * 1024 * 1024;

/// Clients of the services.
pub(crate) struct Connection {
    channel: Channel,
    own: Option<Running>,
}

impl Connection {
    /// Connects as the global flags say.
    pub(crate) async fn open(global: &Global) -> Result<Self, Stop> {
        match &global.server {
            Some(url) => {
                let endpoint = Endpoint::from_shared(url.clone())
                    .map_err(|e| Stop::Usage(format!("'{url}' is no address of a service: {e}")))?;
                let channel = endpoint.connect().await.map_err(|e| {
                    Stop::Unreachable(format!("no service answers at {url} ({}); is it running?", root_cause(&e)))
                })?;
                Ok(Self { channel, own: None })
            }
            None => Self::own(&global.database, global.templates.as_deref()).await,
        }
    }

    /// Starts the service over a database file and connects to it.
    pub(crate) async fn own(database: &Path, templates: Option<&Path>) -> Result<Self, Stop> {
        let running = serve::start(&serve::Settings::private(database, templates)).await?;
        let url = format!("http://{}", running.address());
        let endpoint = Endpoint::from_shared(url).map_err(|e| Stop::Unreachable(e.to_string()))?;
        let channel = endpoint.connect().await.map_err(|e| Stop::Unreachable(root_cause(&e)))?;
        Ok(Self { channel, own: Some(running) })
    }

    /// The catalogue.
    pub(crate) fn catalog(&self) -> CatalogServiceClient<Channel> {
        CatalogServiceClient::new(self.channel.clone()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Selection.
    pub(crate) fn selection(&self) -> SelectionServiceClient<Channel> {
        SelectionServiceClient::new(self.channel.clone()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Shelter rules.
    pub(crate) fn rules(&self) -> RulesServiceClient<Channel> {
        RulesServiceClient::new(self.channel.clone()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// The fleet.
    pub(crate) fn fleet(&self) -> FleetServiceClient<Channel> {
        FleetServiceClient::new(self.channel.clone()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Reports.
    pub(crate) fn reports(&self) -> ReportServiceClient<Channel> {
        ReportServiceClient::new(self.channel.clone()).max_decoding_message_size(MAX_MESSAGE_BYTES)
    }

    /// Ends the connection, and our own service in an orderly way.
    pub(crate) async fn close(self) {
        let Self { channel, own } = self;
        drop(channel);
        if let Some(running) = own {
            running.stop().await;
        }
    }
}

/// The innermost cause: transport errors wrap what happened in several layers of no help.
fn root_cause(error: &dyn std::error::Error) -> String {
    let mut cause = error;
    while let Some(inner) = cause.source() {
        cause = inner;
    }
    cause.to_string()
}
