//! Certificates and keys from files, for either end of a connection.
//!
//! A file is looked at before it is used: the library below takes a file without any certificate for an empty list, and every call
//! would then fail with a message that names no file.

use std::path::Path;
use std::time::Duration;

use tonic::transport::{Certificate, ClientTlsConfig, Identity, ServerTlsConfig};

use crate::cli::{Credentials, Tls};
use crate::exit::CliError;

/// How long a handshake may take; a caller that says nothing must not hold a connection.
const HANDSHAKE: Duration = Duration::from_secs(10);
const CERTIFICATE: &str = "CERTIFICATE-----";
const KEY: &str = "PRIVATE KEY-----";

/// What the service shows and asks for; none where no certificate is given.
pub(crate) fn of_service(flags: &Tls) -> Result<Option<ServerTlsConfig>, CliError> {
    let Some(identity) = identity(flags.tls_certificate.as_deref(), flags.tls_key.as_deref())? else {
        return Ok(None);
    };
    let mut config = ServerTlsConfig::new().identity(identity).timeout(HANDSHAKE);
    if let Some(file) = &flags.tls_client_ca {
        config = config.client_ca_root(Certificate::from_pem(read(file, CERTIFICATE)?));
    }
    Ok(Some(config))
}

/// What a caller trusts and shows.
pub(crate) fn of_caller(flags: &Credentials) -> Result<ClientTlsConfig, CliError> {
    let Some(file) = &flags.server_ca else {
        return Err(CliError::Usage(
            "https needs --server-ca FILE, the certificate of the authority that signed the service's; where that is a public one, \
             name your system's list of them"
                .to_owned(),
        ));
    };
    let mut config =
        ClientTlsConfig::new().ca_certificate(Certificate::from_pem(read(file, CERTIFICATE)?)).timeout(HANDSHAKE);
    if let Some(identity) = identity(flags.client_certificate.as_deref(), flags.client_key.as_deref())? {
        config = config.identity(identity);
    }
    Ok(config)
}

fn identity(certificate: Option<&Path>, key: Option<&Path>) -> Result<Option<Identity>, CliError> {
    match (certificate, key) {
        (Some(certificate), Some(key)) => {
            Ok(Some(Identity::from_pem(read(certificate, CERTIFICATE)?, read(key, KEY)?)))
        }
        _ => Ok(None),
    }
}

/// The text of a PEM file that holds what it should.
fn read(file: &Path, holds: &str) -> Result<String, CliError> {
    let text = std::fs::read_to_string(file)
        .map_err(|e| CliError::Usage(format!("{} cannot be read: {e}; name a PEM file", file.display())))?;
    if text.contains("-----BEGIN ") && text.contains(holds) {
        return Ok(text);
    }
    let what = holds.trim_end_matches('-').to_lowercase();
    Err(CliError::Usage(format!(
        "{} holds no {what} in PEM form (it would stand between lines that begin with -----BEGIN and -----END); convert the file, \
         or name another",
        file.display()
    )))
}
