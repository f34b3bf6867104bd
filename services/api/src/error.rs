//! Every way a call can fail, and how it looks on the wire: google.rpc.Status with rich details.
//!
//! The text of an error says what was given, what is accepted and what to do. What only operators may see (storage
//! messages, panics) goes to the log under an id, and the id goes to the caller.

pub(crate) mod reason;
mod trailers;

use std::collections::HashMap;
use std::time::Duration;

use catalog::StoreError;
use domain::{Fault, FaultReason};
use planning::PlanningError;
use runs::{NoRoom, RunError};
use tonic::Status;
use tonic_types::{ErrorDetails, StatusExt as _};

use crate::access::denial::Denial;
use reason::RETRY_AFTER;
pub use reason::{Reason, fault_reason};
use trailers::{room_beside, shortened, total, violations};

/// The domain of every `ErrorInfo`.
pub const ERROR_DOMAIN: &str = "lakebeam";

/// Units that a refusal lists at most, so that its trailers stay small.
const LISTED_UNITS: usize = 20;
/// Why a call failed.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Fields were refused; all of them are named.
    #[error("{} refused: {}", count(total(.0), "field is", "fields are"), .0.first().map_or("", |fault| fault.message.as_str()))]
    BadFields(Vec<Fault>),
    /// A page token that this call did not give out.
    #[error(
        "page_token is not one that this call gave out for the same parent and filter; leave it out to begin at the first page"
    )]
    BadPageToken,
    /// A filter that cannot be read.
    #[error("filter cannot be read: {message}")]
    BadFilter {
        /// The request's field, such as `filter` or `spec.spot_filter`.
        field: &'static str,
        /// Where and why, what is accepted.
        message: String,
    },
    /// Nothing to work on.
    #[error("there are no {what} to work with; store some, or choose others in {field}")]
    EmptyBatch {
        /// The field that selects, such as `spec.spot_filter`.
        field: &'static str,
        /// What it would select, such as `spots`.
        what: &'static str,
    },
    /// More findings than one run may hold.
    #[error("the run would hold {given} findings; accepted: up to {limit}; choose fewer spots or options")]
    RunTooLarge {
        /// Spots times options.
        given: u64,
        /// The configured limit.
        limit: u64,
    },
    /// A file larger than one import may be.
    #[error("the file is larger than the {limit} bytes that one import may be; cut it into several")]
    UploadTooLarge {
        /// The configured limit.
        limit: usize,
    },
    /// The shelter has no room for the holes that it is asked for.
    #[error("{message}")]
    ShelterTooSmall {
        /// How much room there is, how much is needed, what to do.
        message: String,
    },
    /// No resource of that name.
    #[error("there is no '{name}'; list what there is, or correct the name")]
    NotFound {
        /// `sensors`, `runs` and so on.
        collection: &'static str,
        /// The full name that was asked for.
        name: String,
    },
    /// The id is taken.
    #[error("'{name}' exists already; choose another id, or update it")]
    AlreadyExists {
        /// `sensors`, `spots` and so on.
        collection: &'static str,
        /// The full name.
        name: String,
    },
    /// The resource changed since its etag was read.
    #[error("'{name}' has changed since etag '{given}' was read; get it again and repeat the change")]
    StaleEtag {
        /// The full name.
        name: String,
        /// The etag of the request.
        given: String,
    },
    /// Others refer to the resource.
    #[error("'{name}' is used by {count} other(s), such as {}; delete them first, or give force to delete it all the same", .by.first().map_or("", String::as_str))]
    Referenced {
        /// The full name.
        name: String,
        /// Full names of the first of those that refer to it.
        by: Vec<String>,
        /// How many there are.
        count: u64,
    },
    /// Units are not where the call needs them.
    #[error("{} not where this call needs it, so nothing was changed; leave out what is named", count(.0.len(), "unit is", "units are"))]
    UnitsElsewhere(
        /// The full name of each, and where it is.
        Vec<(String, String)>,
    ),
    /// The run has not ended.
    #[error("'{name}' is {state}; this call needs a run that has ended; watch it, or cancel it")]
    RunNotEnded {
        /// The full name.
        name: String,
        /// Its state.
        state: &'static str,
    },
    /// The run has not succeeded.
    #[error("'{name}' is {state}; this call needs a run that has SUCCEEDED; wait for its end or start another")]
    RunNotSucceeded {
        /// The full name.
        name: String,
        /// Its state.
        state: &'static str,
    },
    /// A template does not compile with these data.
    #[error("template '{template}' does not compile: {message}")]
    TemplateFault {
        /// The full name.
        template: String,
        /// The first diagnostics.
        message: String,
    },
    /// Too much is going on.
    #[error("{what}; try again in a moment")]
    Overloaded {
        /// What is too much.
        what: String,
    },
    /// The service is stopping.
    #[error("the service is stopping; try again when it is back")]
    ShuttingDown,
    /// The deadline passed.
    #[error(
        "the deadline of {given:?} passed before the answer was ready and the work was stopped; allow more time or ask for less"
    )]
    DeadlineExceeded {
        /// What the caller allowed.
        given: Duration,
    },
    /// A stream that its caller left waiting.
    #[error(
        "the caller neither sent nor received for {limit:?} in the middle of a stream, and it was closed; begin again, without a pause"
    )]
    StreamIdle {
        /// The configured limit.
        limit: Duration,
    },
    /// A message that is not of its method's type.
    #[error("the message does not read as the method's request: {what}; send one of that type")]
    BadMessage {
        /// What the decoder said.
        what: String,
    },
    /// The caller may not.
    #[error(transparent)]
    Denied(#[from] Denial),
    /// The disk is full.
    #[error("the disk that holds the database is full and nothing was stored; free some space and try again")]
    StorageFull,
    /// The database failed; the context goes to the log.
    #[error("the database failed; the log has the details under the id of this error")]
    StorageFault {
        /// For the log.
        context: String,
    },
    /// A fault of the service itself; the context goes to the log.
    #[error("a fault of the service; the log has the details under the id of this error")]
    Internal {
        /// For the log.
        context: String,
    },
}

/// `1 field is`, `3 fields are`.
fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

impl Error {
    /// One refused field.
    pub(crate) fn field(field: impl Into<String>, reason: FaultReason, message: impl Into<String>) -> Self {
        Fault::new(field, reason, message).into()
    }

    /// A fault of the service itself.
    pub(crate) fn internal(context: impl std::fmt::Display) -> Self {
        Self::Internal { context: context.to_string() }
    }

    /// The same, with refused fields standing inside `prefix`.
    pub(crate) fn under(self, prefix: &str) -> Self {
        match self {
            Self::BadFields(faults) => Self::BadFields(faults.into_iter().map(|fault| fault.under(prefix)).collect()),
            other => other,
        }
    }

    /// The reason of this error.
    #[must_use]
    pub fn reason(&self) -> Reason {
        match self {
            Self::BadFields(_) => Reason::BadFields,
            Self::BadPageToken => Reason::BadPageToken,
            Self::BadFilter { .. } => Reason::BadFilter,
            Self::EmptyBatch { .. } => Reason::EmptyBatch,
            Self::RunTooLarge { .. } => Reason::RunTooLarge,
            Self::UploadTooLarge { .. } => Reason::UploadTooLarge,
            Self::ShelterTooSmall { .. } => Reason::ShelterTooSmall,
            Self::NotFound { .. } => Reason::NotFound,
            Self::AlreadyExists { .. } => Reason::AlreadyExists,
            Self::StaleEtag { .. } => Reason::StaleEtag,
            Self::Referenced { .. } => Reason::Referenced,
            Self::UnitsElsewhere(_) => Reason::UnitsElsewhere,
            Self::RunNotEnded { .. } => Reason::RunNotEnded,
            Self::RunNotSucceeded { .. } => Reason::RunNotSucceeded,
            Self::TemplateFault { .. } => Reason::TemplateFault,
            Self::Overloaded { .. } => Reason::Overloaded,
            Self::ShuttingDown => Reason::ShuttingDown,
            Self::DeadlineExceeded { .. } => Reason::DeadlineExceeded,
            Self::StreamIdle { .. } => Reason::StreamIdle,
            Self::BadMessage { .. } => Reason::BadMessage,
            Self::Denied(denial) => denial.reason(),
            Self::StorageFull => Reason::StorageFull,
            Self::StorageFault { .. } => Reason::StorageFault,
            Self::Internal { .. } => Reason::Internal,
        }
    }

    /// Details, of which those that may be many take no more bytes than there is room for.
    fn add_details(&self, details: &mut ErrorDetails, metadata: &mut HashMap<String, String>, room: usize) {
        match self {
            Self::BadFields(faults) => {
                let (named, left_out) = violations(faults, room);
                details.set_bad_request(named);
                if left_out > 0 {
                    metadata.insert("violations_left_out".to_owned(), left_out.to_string());
                }
            }
            Self::BadPageToken => {
                details.add_bad_request_violation("page_token", self.to_string());
            }
            Self::BadFilter { field, message } => {
                details.add_bad_request_violation(*field, shortened(message));
            }
            Self::EmptyBatch { field, .. } => {
                details.add_bad_request_violation(*field, self.to_string());
            }
            Self::RunTooLarge { given, limit } => {
                metadata.insert("given".to_owned(), given.to_string());
                metadata.insert("limit".to_owned(), limit.to_string());
                details.add_bad_request_violation("spec", self.to_string());
            }
            Self::UploadTooLarge { limit } => {
                metadata.insert("limit".to_owned(), limit.to_string());
                details.add_quota_failure_violation("chunk", self.to_string());
            }
            Self::NotFound { collection, name } | Self::AlreadyExists { collection, name } => {
                details.set_resource_info(*collection, name, "", self.to_string());
            }
            Self::StaleEtag { name, .. } => {
                details.add_precondition_failure_violation("ETAG", name, self.to_string());
            }
            Self::Referenced { name, by, count } => {
                metadata.insert("count".to_owned(), count.to_string());
                for other in by {
                    details.add_precondition_failure_violation("REFERENCED", other, format!("refers to {name}"));
                }
            }
            Self::UnitsElsewhere(units) => {
                for (name, place) in units.iter().take(LISTED_UNITS) {
                    details.add_precondition_failure_violation("UNIT_STATE", name, shortened(place));
                }
            }
            Self::RunNotEnded { name, state } | Self::RunNotSucceeded { name, state } => {
                metadata.insert("state".to_owned(), (*state).to_owned());
                details.add_precondition_failure_violation("RUN_STATE", name, self.to_string());
            }
            Self::TemplateFault { template, message } => {
                details.add_precondition_failure_violation("TEMPLATE", template, shortened(message));
            }
            Self::Overloaded { .. } | Self::ShuttingDown => {
                details.set_retry_info(Some(RETRY_AFTER));
            }
            Self::StorageFault { context } | Self::Internal { context } => {
                let id = uuid::Uuid::new_v4().simple().to_string();
                tracing::error!(error_id = %id, reason = self.reason().as_str(), %context, "call failed");
                metadata.insert("error_id".to_owned(), id);
            }
            Self::Denied(denial) => denial.add_details(details, metadata),
            Self::StreamIdle { limit } => {
                metadata.insert("limit_ms".to_owned(), limit.as_millis().to_string());
            }
            Self::ShelterTooSmall { .. }
            | Self::DeadlineExceeded { .. }
            | Self::BadMessage { .. }
            | Self::StorageFull => {}
        }
    }
}

impl From<StoreError> for Error {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound { collection, id } => {
                Self::NotFound { collection, name: format!("{collection}/{id}") }
            }
            StoreError::AlreadyExists { collection, id } => {
                Self::AlreadyExists { collection, name: format!("{collection}/{id}") }
            }
            StoreError::StaleEtag { collection, id, given, stored: _ } => {
                Self::StaleEtag { name: format!("{collection}/{id}"), given }
            }
            StoreError::Referenced { collection, id, by, count } => {
                Self::Referenced { name: format!("{collection}/{id}"), by, count }
            }
            StoreError::RunNotEnded { id, state } => {
                let state = crate::convert::run::state(state).as_str_name();
                Self::RunNotEnded { name: format!("runs/{id}"), state }
            }
            StoreError::BadFilter { .. } => Self::BadFilter { field: "filter", message: error.to_string() },
            StoreError::Faulty(faults) => Self::BadFields(faults),
            StoreError::Locked { .. } => Self::Overloaded { what: "another program holds the database".to_owned() },
            StoreError::TooSlow(_) => Self::Overloaded { what: error.to_string() },
            StoreError::Busy => Self::Overloaded { what: "too many calls wait for the database".to_owned() },
            StoreError::DiskFull { .. } => Self::StorageFull,
            StoreError::NewerSchema { .. }
            | StoreError::Corrupt { .. }
            | StoreError::Foreign { .. }
            | StoreError::RunEnded { .. }
            | StoreError::ReadOnly { .. }
            | StoreError::FileExists { .. }
            | StoreError::CannotOpen { .. }
            | StoreError::Lost { .. }
            | StoreError::UnderWay { .. }
            | StoreError::BadRecord(_)
            | StoreError::ImportBroken
            | StoreError::Database(_) => Self::StorageFault { context: error.to_string() },
        }
    }
}

impl From<Fault> for Error {
    fn from(fault: Fault) -> Self {
        Self::BadFields(vec![fault])
    }
}

impl From<RunError> for Error {
    fn from(error: RunError) -> Self {
        match error {
            RunError::TooLarge { given, limit } => Self::RunTooLarge { given, limit },
            RunError::TooManyRuns { waiting, limit } => {
                Self::Overloaded { what: format!("{waiting} runs wait for their turn already, of up to {limit}") }
            }
            RunError::TooManyOwnRuns { waiting, limit } => Self::Overloaded {
                what: format!("{waiting} of your runs wait for their turn already, of up to {limit}"),
            },
            RunError::Busy { limit } => Self::Overloaded { what: format!("{limit} computations are in hand already") },
            RunError::Stopping => Self::ShuttingDown,
            RunError::ComputeError(lost) => Self::internal(lost),
            RunError::Threads(error) => Self::internal(error),
            RunError::Store(error) => error.into(),
        }
    }
}

impl From<NoRoom> for Error {
    fn from(full: NoRoom) -> Self {
        Self::Overloaded { what: format!("{} calls of this kind wait already", full.limit) }
    }
}

impl From<PlanningError> for Error {
    fn from(error: PlanningError) -> Self {
        match error {
            PlanningError::Faults(faults) => Self::BadFields(faults),
            PlanningError::NoRoomForHole { .. } | PlanningError::HolesTooClose { .. } => {
                Self::ShelterTooSmall { message: error.to_string() }
            }
            PlanningError::UnknownIndex { .. } | PlanningError::Cancelled(_) => Self::internal(error),
        }
    }
}

impl From<Error> for Status {
    fn from(error: Error) -> Self {
        let reason = error.reason();
        let mut details = ErrorDetails::new();
        let mut metadata = HashMap::new();
        let message = shortened(&error.to_string());
        error.add_details(&mut details, &mut metadata, room_beside(&message));
        details.set_error_info(reason.as_str(), ERROR_DOMAIN, metadata);
        Status::with_error_details(reason.code(), message, details)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trailers(status: &Status) -> usize {
        let mut headers = http::HeaderMap::new();
        status.add_header(&mut headers).unwrap();
        headers.iter().map(|(name, value)| name.as_str().len() + value.len() + 4).sum()
    }

    #[test]
    fn a_refusal_of_any_size_stays_below_seven_kilobytes_and_names_the_first_faults() {
        for (count, text) in [(1, "x"), (30, "x"), (100, "x"), (5_000, "x"), (100, "ß水%"), (3, "水水水水水水水水")]
        {
            let faults: Vec<_> = (0..count)
                .map(|n| Fault::new(format!("readings[{n}].offset_m"), FaultReason::OutOfRange, text.repeat(80)))
                .collect();
            let status = Status::from(Error::BadFields(faults));
            // The id of the request comes later.
            assert!(trailers(&status) < 6_800, "{count} of {text}: {}", trailers(&status));
            let details = status.get_error_details();
            let named = &details.bad_request().unwrap().field_violations;
            assert_eq!(named[0].field, "readings[0].offset_m");
            assert!(!named[0].description.is_empty(), "{count} of {text}");
            let left_out =
                details.error_info().unwrap().metadata.get("violations_left_out").map_or(0, |n| n.parse().unwrap());
            assert_eq!(named.len() + left_out, count);
        }
        let long = Error::TemplateFault { template: "templates/a".to_owned(), message: "水".repeat(50_000) };
        assert!(trailers(&Status::from(long)) < 6_800);
    }
}
