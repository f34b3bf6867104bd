//! The stable reasons of errors, and the code of each.

use std::time::Duration;

use domain::FaultReason;
use tonic::Code;

/// How long a caller should wait before it tries again when the service is busy.
pub(crate) const RETRY_AFTER: Duration = Duration::from_secs(1);

/// The stable reason in the `ErrorInfo` of every error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reason {
    /// One or more fields were refused; `BadRequest` names each.
    BadFields,
    /// A page token that this call did not give out.
    BadPageToken,
    /// A filter that cannot be read.
    BadFilter,
    /// Nothing to work on: no spot or no option is left after filtering.
    EmptyBatch,
    /// More findings than one run may hold.
    RunTooLarge,
    /// A file larger than one import may be.
    UploadTooLarge,
    /// The shelter has no room for the holes that it is asked for.
    ShelterTooSmall,
    /// No resource of that name.
    NotFound,
    /// The id is taken.
    AlreadyExists,
    /// The resource changed since its etag was read.
    StaleEtag,
    /// Others refer to the resource; `PreconditionFailure` names the first of them.
    Referenced,
    /// Units are not where the call needs them; `PreconditionFailure` names each.
    UnitsElsewhere,
    /// The run has not ended, which the call needs.
    RunNotEnded,
    /// The run has not succeeded, which the call needs.
    RunNotSucceeded,
    /// A template does not compile with these data.
    TemplateFault,
    /// Too much is going on; try again later.
    Overloaded,
    /// The service is stopping; try again, perhaps elsewhere.
    ShuttingDown,
    /// The call's deadline passed; the work was stopped.
    DeadlineExceeded,
    /// The caller neither sent nor received for too long in the middle of a stream.
    StreamIdle,
    /// No token was given, and one is needed.
    NoToken,
    /// The token given is none of this service's.
    UnknownToken,
    /// The token's time is over.
    ExpiredToken,
    /// The token was revoked.
    RevokedToken,
    /// The token allows less than the method needs.
    RoleTooLow,
    /// There is no such method.
    NoMethod,
    /// The call names a host that is not this service.
    ForeignHost,
    /// The call comes from a page of another site.
    ForeignOrigin,
    /// The message is not of the method's type.
    BadMessage,
    /// The disk that holds the database is full.
    StorageFull,
    /// The database failed.
    StorageFault,
    /// A fault of the service itself.
    Internal,
}

impl Reason {
    /// Every reason.
    pub const ALL: [Self; 31] = [
        Self::BadFields,
        Self::BadPageToken,
        Self::BadFilter,
        Self::EmptyBatch,
        Self::RunTooLarge,
        Self::UploadTooLarge,
        Self::ShelterTooSmall,
        Self::NotFound,
        Self::AlreadyExists,
        Self::StaleEtag,
        Self::Referenced,
        Self::UnitsElsewhere,
        Self::RunNotEnded,
        Self::RunNotSucceeded,
        Self::TemplateFault,
        Self::Overloaded,
        Self::ShuttingDown,
        Self::DeadlineExceeded,
        Self::StreamIdle,
        Self::NoToken,
        Self::UnknownToken,
        Self::ExpiredToken,
        Self::RevokedToken,
        Self::RoleTooLow,
        Self::NoMethod,
        Self::ForeignHost,
        Self::ForeignOrigin,
        Self::BadMessage,
        Self::StorageFull,
        Self::StorageFault,
        Self::Internal,
    ];

    /// The reason as it stands in `ErrorInfo`.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::BadFields => "BAD_FIELDS",
            Self::BadPageToken => "BAD_PAGE_TOKEN",
            Self::BadFilter => "BAD_FILTER",
            Self::EmptyBatch => "EMPTY_BATCH",
            Self::RunTooLarge => "RUN_TOO_LARGE",
            Self::UploadTooLarge => "UPLOAD_TOO_LARGE",
            Self::ShelterTooSmall => "SHELTER_TOO_SMALL",
            Self::NotFound => "NOT_FOUND",
            Self::AlreadyExists => "ALREADY_EXISTS",
            Self::StaleEtag => "STALE_ETAG",
            Self::Referenced => "REFERENCED",
            Self::UnitsElsewhere => "UNITS_ELSEWHERE",
            Self::RunNotEnded => "RUN_NOT_ENDED",
            Self::RunNotSucceeded => "RUN_NOT_SUCCEEDED",
            Self::TemplateFault => "TEMPLATE_FAULT",
            Self::Overloaded => "OVERLOADED",
            Self::ShuttingDown => "SHUTTING_DOWN",
            Self::DeadlineExceeded => "DEADLINE_EXCEEDED",
            Self::StreamIdle => "STREAM_IDLE",
            Self::NoToken => "NO_TOKEN",
            Self::UnknownToken => "UNKNOWN_TOKEN",
            Self::ExpiredToken => "EXPIRED_TOKEN",
            Self::RevokedToken => "REVOKED_TOKEN",
            Self::RoleTooLow => "ROLE_TOO_LOW",
            Self::NoMethod => "NO_METHOD",
            Self::ForeignHost => "FOREIGN_HOST",
            Self::ForeignOrigin => "FOREIGN_ORIGIN",
            Self::BadMessage => "BAD_MESSAGE",
            Self::StorageFull => "STORAGE_FULL",
            Self::StorageFault => "STORAGE_FAULT",
            Self::Internal => "INTERNAL",
        }
    }

    /// The status code that goes with it.
    #[must_use]
    pub const fn code(self) -> Code {
        match self {
            Self::BadFields
            | Self::BadPageToken
            | Self::BadFilter
            | Self::EmptyBatch
            | Self::RunTooLarge
            | Self::ShelterTooSmall
            | Self::BadMessage => Code::InvalidArgument,
            Self::NotFound => Code::NotFound,
            Self::AlreadyExists => Code::AlreadyExists,
            Self::StaleEtag => Code::Aborted,
            Self::Referenced
            | Self::UnitsElsewhere
            | Self::RunNotEnded
            | Self::RunNotSucceeded
            | Self::TemplateFault => Code::FailedPrecondition,
            Self::UploadTooLarge | Self::Overloaded | Self::StorageFull => Code::ResourceExhausted,
            Self::ShuttingDown => Code::Unavailable,
            Self::DeadlineExceeded | Self::StreamIdle => Code::DeadlineExceeded,
            Self::NoToken | Self::UnknownToken | Self::ExpiredToken | Self::RevokedToken => Code::Unauthenticated,
            Self::RoleTooLow | Self::ForeignHost | Self::ForeignOrigin => Code::PermissionDenied,
            Self::NoMethod => Code::Unimplemented,
            Self::StorageFault | Self::Internal => Code::Internal,
        }
    }
}

/// A fault's reason as it stands in a field violation.
#[must_use]
pub const fn fault_reason(reason: FaultReason) -> &'static str {
    match reason {
        FaultReason::Missing => "MISSING",
        FaultReason::NotFinite => "NOT_FINITE",
        FaultReason::OutOfRange => "OUT_OF_RANGE",
        FaultReason::TooLong => "TOO_LONG",
        FaultReason::BadForm => "BAD_FORM",
        FaultReason::Duplicate => "DUPLICATE",
        FaultReason::Contradiction => "CONTRADICTION",
        FaultReason::Unknown => "UNKNOWN",
        FaultReason::More(_) => "MORE",
    }
}
