//! Exit codes, and how an end that is no success reads.

use std::process::ExitCode;

use crate::output::error::describe;
use crate::output::shown::complain;

/// Why a verb did not simply succeed.
#[derive(Debug)]
pub(crate) enum CliError {
    /// The service refused (exit code 1).
    Refused(Box<tonic::Status>),
    /// The command line or a file of the caller's is at fault (exit code 2).
    Usage(String),
    /// The service cannot be reached or started (exit code 3).
    Unreachable(String),
    /// Part of it was done (exit code 4): rows were refused, or a run was cancelled or failed.
    Partial(String),
}

/// What a verb ends with.
pub(crate) type Outcome = Result<(), CliError>;

impl From<tonic::Status> for CliError {
    fn from(status: tonic::Status) -> Self {
        // Only a status that was made on this side has a cause: the service did not say it.
        if let Some(cause) = std::error::Error::source(&status) {
            return Self::Unreachable(format!("the service cannot be reached: {}", root_cause(cause)));
        }
        if status.code() == tonic::Code::Unavailable && status.metadata().is_empty() {
            return Self::Unreachable(format!("the service cannot be reached: {}", status.message()));
        }
        Self::Refused(Box::new(status))
    }
}

/// Prints what went wrong and turns it into an exit code.
pub(crate) fn report(outcome: Outcome) -> ExitCode {
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(CliError::Refused(status)) => {
            complain!("{}", describe(&status).trim_end());
            ExitCode::from(1)
        }
        Err(CliError::Usage(text)) => {
            complain!("lakebeam: {text}");
            ExitCode::from(2)
        }
        Err(CliError::Unreachable(text)) => {
            complain!("lakebeam: {text}");
            ExitCode::from(3)
        }
        Err(CliError::Partial(text)) => {
            complain!("lakebeam: {text}");
            ExitCode::from(4)
        }
    }
}

/// The innermost cause: transport errors wrap what happened in several layers of no help.
pub(crate) fn root_cause(error: &dyn std::error::Error) -> String {
    let mut cause = error;
    while let Some(inner) = cause.source() {
        cause = inner;
    }
    cause.to_string()
}
