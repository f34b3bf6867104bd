//! Pages for the browser, for those who work at a counter and not at a terminal.
//!
//! A client of the services like any other: it asks them in the same process, with the token of whoever is signed in, so that roles,
//! limits, the audit trail and the ids of requests are those of every call. It must never contain SQL, physics or scoring, nor a rule of
//! its own about records: what is accepted is what the services accept.
//!
//! Every page works without script. Looking is GET, storing is POST and then a redirect, and each view has an address.

mod advise;
mod answer;
mod checks;
mod client;
mod cookies;
mod desk;
mod door;
mod event;
mod fields;
mod files;
mod gate;
mod page;
mod posted;
mod quantity;
mod rentals;
mod routes;
mod say;
mod shelf;
mod shop;
mod sign_in;
mod stop;
mod visit;

use std::sync::Arc;

use reports::{ReportError, Speech};

pub use client::Api;
pub use routes::router;

/// What the pages share.
pub struct Counter {
    api: Api,
    speech: Speech,
    words: say::Words,
    desks: desk::Desks,
    secure: bool,
}

/// What keeps the pages from being made.
#[derive(Debug)]
pub enum CounterError {
    /// The words of the reports cannot be read.
    Words(ReportError),
    /// The words of the pages cannot be read.
    OwnWords(String),
    /// This machine gives no random numbers.
    Random(String),
}

impl std::fmt::Display for CounterError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Words(error) => write!(f, "{error}"),
            Self::OwnWords(error) => write!(f, "words of the pages: {error}"),
            Self::Random(error) => write!(f, "this machine gives no random numbers: {error}"),
        }
    }
}

impl std::error::Error for CounterError {}

/// Whether browsers reach the pages over an encrypted connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transport {
    /// With TLS; cookies are for it alone.
    Encrypted,
    /// Without, on loopback.
    Plain,
}

impl Counter {
    /// The pages over the services.
    ///
    /// # Errors
    /// Words that cannot be read, or a machine without random numbers.
    pub fn new(api: Api, transport: Transport) -> Result<Arc<Self>, CounterError> {
        Ok(Arc::new(Self {
            api,
            speech: Speech::new().map_err(CounterError::Words)?,
            words: say::Words::read().map_err(CounterError::OwnWords)?,
            desks: desk::Desks::new().map_err(CounterError::Random)?,
            secure: transport == Transport::Encrypted,
        }))
    }
}
