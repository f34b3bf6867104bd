//! Secrets: made, and read from where a caller keeps them.

use std::path::Path;

use api::Secret;

use crate::cli::Credentials;
use crate::exit::CliError;

/// The environment variable that holds a caller's token.
const VARIABLE: &str = "LAKEBEAM_TOKEN";

/// A token of the machine's randomness.
pub(crate) fn random() -> Result<Secret, CliError> {
    let mut bytes = [0; Secret::RANDOM_BYTES];
    getrandom::fill(&mut bytes)
        .map_err(|e| CliError::Unreachable(format!("this machine gives no random numbers: {e}")))?;
    Ok(Secret::new(bytes))
}

/// The caller's token, if there is one: from the file that is named, else from the environment.
pub(crate) fn of_caller(credentials: &Credentials) -> Result<Option<String>, CliError> {
    match &credentials.token_file {
        Some(file) => of_file(file).map(Some),
        None => Ok(std::env::var(VARIABLE).ok().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())),
    }
}

fn of_file(file: &Path) -> Result<String, CliError> {
    let text = std::fs::read_to_string(file).map_err(|e| {
        CliError::Usage(format!("{} cannot be read: {e}; name the file that holds your token", file.display()))
    })?;
    match text.trim() {
        "" => Err(CliError::Usage(format!("{} is empty; it should hold your token", file.display()))),
        token => Ok(token.to_owned()),
    }
}
