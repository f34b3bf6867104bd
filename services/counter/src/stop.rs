//! Why a page could not be shown, and what is shown instead.

use std::time::Duration;

use http::StatusCode;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// Why.
#[derive(Debug)]
pub(crate) enum Stop {
    /// Nobody is signed in, or not any more.
    SignIn,
    /// The role does not allow it.
    MayNot,
    /// There is no such page or record.
    NotThere,
    /// A form without the mark of its desk, or one that cannot be read.
    BadForm,
    /// Something bigger than is taken.
    TooLarge,
    /// The services refuse what they were given, field by field.
    Refused(Vec<Fault>),
    /// Somebody else changed it in between.
    Changed,
    /// Others refer to it.
    InUse(String),
    /// Too much at once.
    Busy(Option<Duration>),
    /// It failed here.
    Failed(String),
}

/// What is wrong with a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fault {
    /// Path of the field in the message, such as `spots[0].depth_m`.
    pub(crate) field: String,
    /// What was given, what is accepted.
    pub(crate) text: String,
}

impl From<Status> for Stop {
    fn from(status: Status) -> Self {
        let details = status.get_error_details();
        match status.code() {
            Code::Unauthenticated => Self::SignIn,
            Code::PermissionDenied => Self::MayNot,
            Code::NotFound => Self::NotThere,
            Code::Aborted => Self::Changed,
            Code::FailedPrecondition => Self::InUse(status.message().to_owned()),
            Code::ResourceExhausted | Code::Unavailable => Self::Busy(details.retry_info().and_then(|r| r.retry_delay)),
            Code::InvalidArgument | Code::AlreadyExists | Code::OutOfRange => {
                let fields = details.bad_request().map(|bad| bad.field_violations.clone()).unwrap_or_default();
                let faults = fields.into_iter().map(|f| Fault { field: f.field, text: f.description });
                let mut faults: Vec<_> = faults.collect();
                if faults.is_empty() {
                    faults.push(Fault { field: String::new(), text: status.message().to_owned() });
                }
                Self::Refused(faults)
            }
            Code::Ok
            | Code::Cancelled
            | Code::Unknown
            | Code::DeadlineExceeded
            | Code::Unimplemented
            | Code::Internal
            | Code::DataLoss => Self::Failed(status.message().to_owned()),
        }
    }
}

impl Stop {
    pub(crate) const fn status(&self) -> StatusCode {
        match self {
            Self::SignIn => StatusCode::SEE_OTHER,
            Self::MayNot => StatusCode::FORBIDDEN,
            Self::NotThere => StatusCode::NOT_FOUND,
            Self::BadForm | Self::Refused(_) => StatusCode::BAD_REQUEST,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::Changed | Self::InUse(_) => StatusCode::CONFLICT,
            Self::Busy(_) => StatusCode::SERVICE_UNAVAILABLE,
            Self::Failed(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}
