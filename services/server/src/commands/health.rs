//! Whether a service runs and takes calls.

use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;

use crate::cli::{Global, Health};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;

/// Where `lakebeam serve` listens unless told otherwise.
const USUAL: &str = "http://127.0.0.1:50071";

/// Asks a running service by the standard health protocol. It never starts one: a service of its own would always be well.
pub(super) async fn health(global: &Global, args: &Health) -> Outcome {
    let server = global.server.clone().unwrap_or_else(|| USUAL.to_owned());
    let asked = tokio::time::timeout(std::time::Duration::from_secs(args.timeout_s), ask(global, &server));
    let status = asked.await.map_err(|_| {
        CliError::Unreachable(format!(
            "{server} has not answered within {} s; is it overloaded or stopping?",
            args.timeout_s
        ))
    })??;
    if status != ServingStatus::Serving {
        return Err(CliError::Unreachable(format!("{server} answers that it is not serving; try again in a moment")));
    }
    say!("{server} is serving.");
    Ok(())
}

async fn ask(global: &Global, server: &str) -> Result<ServingStatus, CliError> {
    let connection = Connection::open(&Global { server: Some(server.to_owned()), ..global.clone() }).await?;
    // No name: the service as a whole.
    let answer = HealthClient::new(connection.channel()).check(HealthCheckRequest::default()).await;
    connection.close().await;
    Ok(answer?.into_inner().status())
}
