//! Why a caller is not let in, or not this far.

use std::collections::HashMap;

use catalog::Role;
use jiff::Timestamp;
use tonic_types::ErrorDetails;

use crate::error::reason::{RETRY_AFTER, Reason};

/// Why a caller is refused. What is said of a token is said to its holder alone: whoever has not the whole of it only hears that it
/// is unknown.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Denial {
    /// No token.
    #[error(
        "no token was given, and this service answers nobody without one; give yours as 'authorization: Bearer TOKEN', on the \
         command line with --token-file or in LAKEBEAM_TOKEN"
    )]
    NoToken,
    /// A token that the database does not know.
    #[error("the token given is none of this service's; check that you have all of it, or ask for another")]
    UnknownToken,
    /// A token whose time is over.
    #[error("token '{name}' was good until {until}; ask for another")]
    ExpiredToken {
        /// Its name.
        name: String,
        /// When it became worthless.
        until: Timestamp,
    },
    /// A token that was made worthless.
    #[error("token '{name}' has been revoked; ask for another")]
    RevokedToken {
        /// Its name.
        name: String,
    },
    /// A token that allows less.
    #[error("{method} needs the role {}, and token '{name}' has {}; ask for a token with the role {}", needed.name(), given.name(), needed.name())]
    RoleTooLow {
        /// The method, such as `CreateSpot`.
        method: String,
        /// Name of the token.
        name: String,
        /// The token's role.
        given: Role,
        /// The least role that will do.
        needed: Role,
    },
    /// No such method, or one that the table of roles forgot.
    #[error("there is no method {path}; the reflection service lists what there is")]
    NoMethod {
        /// What was called.
        path: String,
    },
    /// A name that is none of this service's. A page of another site reaches a service on loopback by one, without a token.
    #[error(
        "this service is not called '{host}'; reach it as localhost, 127.0.0.1 or [::1], or start it with --public-host {host}"
    )]
    ForeignHost {
        /// The name, cut to a bearable length.
        host: String,
    },
    /// A call from a page of another site.
    #[error(
        "pages of '{origin}' may not call this service; accepted: its own pages, and those of hosts that --public-host names"
    )]
    ForeignOrigin {
        /// The page's origin, cut to a bearable length.
        origin: String,
    },
    /// As many calls as one caller may have.
    #[error("'{name}' has as many calls in hand as one caller may ({limit}); wait for one to end, then try again")]
    TooManyCalls {
        /// The caller.
        name: String,
        /// The configured limit.
        limit: usize,
    },
}

impl Denial {
    pub(crate) const fn reason(&self) -> Reason {
        match self {
            Self::NoToken => Reason::NoToken,
            Self::UnknownToken => Reason::UnknownToken,
            Self::ExpiredToken { .. } => Reason::ExpiredToken,
            Self::RevokedToken { .. } => Reason::RevokedToken,
            Self::RoleTooLow { .. } => Reason::RoleTooLow,
            Self::NoMethod { .. } => Reason::NoMethod,
            Self::ForeignHost { .. } => Reason::ForeignHost,
            Self::ForeignOrigin { .. } => Reason::ForeignOrigin,
            Self::TooManyCalls { .. } => Reason::Overloaded,
        }
    }

    pub(crate) fn add_details(&self, details: &mut ErrorDetails, metadata: &mut HashMap<String, String>) {
        match self {
            Self::RoleTooLow { given, needed, .. } => {
                metadata.insert("role".to_owned(), given.name().to_owned());
                metadata.insert("needed".to_owned(), needed.name().to_owned());
            }
            Self::TooManyCalls { limit, .. } => {
                metadata.insert("limit".to_owned(), limit.to_string());
                details.set_retry_info(Some(RETRY_AFTER));
            }
            Self::NoToken
            | Self::UnknownToken
            | Self::ExpiredToken { .. }
            | Self::RevokedToken { .. }
            | Self::NoMethod { .. }
            | Self::ForeignHost { .. }
            | Self::ForeignOrigin { .. } => {}
        }
    }
}
