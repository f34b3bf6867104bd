//! One visit: which desk asks, in which language and unit, who is signed in, and the services on their behalf.

use std::sync::Arc;

use axum::extract::FromRequestParts;
use http::request::Parts;
use proto::v1;

use crate::Counter;
use crate::client::Client;
use crate::desk::Desk;
use crate::say::{Look, Say};
use crate::shop::kept::Shop;

/// A visit.
#[derive(Clone)]
pub(crate) struct Visit {
    pub(crate) counter: Arc<Counter>,
    pub(crate) desk: Arc<Desk>,
    pub(crate) look: Look,
    pub(crate) client: Client,
    /// None where nobody is signed in and somebody should be.
    pub(crate) caller: Option<v1::Caller>,
    /// Path and query.
    pub(crate) here: String,
    pub(crate) shop: Shop,
    /// Number of the visit, by which the log knows it.
    pub(crate) number: String,
}

impl Visit {
    pub(crate) fn say(&self) -> Option<Say<'_>> {
        let speaker = self.counter.speech.speaker(self.look.language, self.look.length_unit())?;
        Some(Say::new(self.look, &self.counter.words, speaker))
    }

    /// Whether whoever is signed in may store things.
    pub(crate) fn may_store(&self) -> bool {
        self.caller.as_ref().is_some_and(|caller| match caller.role() {
            v1::CallerRole::Unspecified | v1::CallerRole::Read => false,
            v1::CallerRole::Write | v1::CallerRole::Admin => true,
        })
    }
}

/// The gate has put the visit there; a page without the gate cannot be reached.
impl<S: Sync> FromRequestParts<S> for Visit {
    type Rejection = http::StatusCode;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Self::Rejection> {
        parts.extensions.get::<Self>().cloned().ok_or(http::StatusCode::INTERNAL_SERVER_ERROR)
    }
}
