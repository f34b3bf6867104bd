//! Who may call what: the tower layer that knows the caller of every call, and holds each to its limits.
//!
//! It goes inside [`CallLayer`](crate::CallLayer), so that a refusal has a request id too. A method is looked up in one table
//! ([`least_role`]); what is not in there is refused. The database is asked with every call: a token that is added or revoked
//! while the service runs counts from the next call on.

pub(crate) mod denial;
mod roles;
mod secret;
mod stream;

use std::collections::HashMap;
use std::future::Future;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use catalog::{Role, Store, StoredToken};
use http::header::AUTHORIZATION;
use http::{HeaderMap, Request, Response};
use jiff::Timestamp;
use runs::Clock;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tonic::Status;
use tonic::body::Body;

use crate::context::{ANONYMOUS, Caller};
use crate::error::Error;

pub use denial::Denial;
pub use roles::{Need, least_role};
pub use secret::Secret;

/// A token's last use is written this rarely.
const USE_IS_NOTED_EVERY: Duration = Duration::from_secs(60);

/// Who is let in.
#[derive(Debug, Clone)]
pub enum Entry {
    /// Holders of tokens; anybody, as long as the database never had one. For loopback only.
    OpenUntilTokens,
    /// Holders of tokens.
    Tokens,
    /// Whoever holds this one, which a process made for itself.
    Only(Secret),
}

/// What one caller may have at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CallerLimits {
    /// Calls in hand. A call is in hand until its answer has been taken to the end.
    pub calls: usize,
    /// How long the next part of a stream may be left waiting for, by a caller that sends or that receives.
    pub stream_idle: Duration,
}

impl Default for CallerLimits {
    fn default() -> Self {
        Self { calls: 64, stream_idle: Duration::from_secs(60) }
    }
}

/// The gate that every call goes through.
pub struct Access {
    store: Store,
    clock: Arc<dyn Clock>,
    entry: Entry,
    limits: CallerLimits,
    places: Mutex<HashMap<String, Arc<Semaphore>>>,
    noted_uses: Mutex<HashMap<String, Timestamp>>,
}

impl Access {
    /// A gate over the tokens of a store.
    #[must_use]
    pub fn new(store: Store, clock: Arc<dyn Clock>, entry: Entry, limits: CallerLimits) -> Self {
        Self { store, clock, entry, limits, places: Mutex::default(), noted_uses: Mutex::default() }
    }

    /// Lets a call in, or says why not.
    async fn admit(&self, path: &str, headers: &HeaderMap) -> Result<Admitted, Error> {
        let need = least_role(path);
        if need == Some(Need::Nothing) {
            return Ok(Admitted { caller: None, role: Role::Read, place: None });
        }
        let holder = self.holder(headers).await?;
        let name = holder.as_ref().map_or(ANONYMOUS, |token| token.name.as_str());
        tracing::Span::current().record("caller", name);
        let Some(need) = need else { return Err(Denial::NoMethod { path: path.to_owned() }.into()) };
        if let (Some(token), Need::Role(needed)) = (&holder, need)
            && token.role < needed
        {
            return Err(too_low(path, token, needed).into());
        }
        let place = Some(self.place(name)?);
        let role = holder.as_ref().map_or(Role::Admin, |token| token.role);
        Ok(Admitted { caller: holder.map(|token| Caller(token.name)), role, place })
    }

    /// Whose token came with a call; none for a caller that is let in without a name.
    async fn holder(&self, headers: &HeaderMap) -> Result<Option<StoredToken>, Error> {
        let given = bearer(headers)?;
        match (&self.entry, given) {
            (Entry::Only(own), Some(given)) if given.matches(&own.hash()) => Ok(None),
            (Entry::Only(_), Some(_)) => Err(Denial::UnknownToken.into()),
            (Entry::OpenUntilTokens, None) if !self.store.has_tokens().await? => Ok(None),
            (_, None) => Err(Denial::NoToken.into()),
            (_, Some(given)) => self.stored(&given).await.map(Some),
        }
    }

    async fn stored(&self, given: &Secret) -> Result<StoredToken, Error> {
        let token = self.store.token(given.key()).await?.filter(|token| given.matches(&token.hash));
        let token = token.ok_or(Denial::UnknownToken)?;
        let now = self.clock.now();
        if token.revoke_time.is_some() {
            return Err(Denial::RevokedToken { name: token.name }.into());
        }
        if let Some(until) = token.expire_time.filter(|until| *until <= now) {
            return Err(Denial::ExpiredToken { name: token.name, until }.into());
        }
        self.note_use(&token.key, now);
        Ok(token)
    }

    /// Writes the last use, now and then and beside the call: no call should wait for the disk on its account.
    fn note_use(&self, key: &str, now: Timestamp) {
        let mut noted = self.noted_uses.lock().unwrap_or_else(PoisonError::into_inner);
        if noted.get(key).is_some_and(|last| now.duration_since(*last).unsigned_abs() < USE_IS_NOTED_EVERY) {
            return;
        }
        noted.insert(key.to_owned(), now);
        let (store, key) = (self.store.clone(), key.to_owned());
        tokio::spawn(async move {
            if let Err(fault) = store.note_token_use(&key, now).await {
                tracing::warn!(%fault, "the last use of a token could not be noted");
            }
        });
    }

    fn place(&self, name: &str) -> Result<OwnedSemaphorePermit, Denial> {
        let limit = self.limits.calls.max(1);
        let places = {
            let mut all = self.places.lock().unwrap_or_else(PoisonError::into_inner);
            Arc::clone(all.entry(name.to_owned()).or_insert_with(|| Arc::new(Semaphore::new(limit))))
        };
        places.try_acquire_owned().map_err(|_| Denial::TooManyCalls { name: name.to_owned(), limit })
    }
}

/// A call that was let in.
struct Admitted {
    caller: Option<Caller>,
    /// What it may do; a caller without a name may do all, as whoever is on this machine may read the file anyway.
    role: Role,
    /// Given back when the answer has been taken.
    place: Option<OwnedSemaphorePermit>,
}

/// The token of a call. A header that holds anything else is a wrong token, not a missing one.
fn bearer(headers: &HeaderMap) -> Result<Option<Secret>, Denial> {
    let mut all = headers.get_all(AUTHORIZATION).iter();
    let Some(header) = all.next() else { return Ok(None) };
    let text = header.to_str().ok().filter(|_| all.next().is_none());
    // The scheme is the same in capitals (RFC 9110, section 11.1).
    let token = text.and_then(|text| text.split_once(' ')).filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"));
    token.and_then(|(_, token)| Secret::parse(token.trim())).map(Some).ok_or(Denial::UnknownToken)
}

fn too_low(path: &str, token: &StoredToken, needed: Role) -> Denial {
    let method = path.rsplit('/').next().unwrap_or(path).to_owned();
    Denial::RoleTooLow { method, name: token.name.clone(), given: token.role, needed }
}

/// Puts the gate around a service.
#[derive(Clone)]
pub struct AccessLayer {
    access: Arc<Access>,
}

impl AccessLayer {
    /// The layer of a gate.
    #[must_use]
    pub fn new(access: Access) -> Self {
        Self { access: Arc::new(access) }
    }
}

impl<S> tower::Layer<S> for AccessLayer {
    type Service = AccessService<S>;

    fn layer(&self, inner: S) -> Self::Service {
        AccessService { inner, access: Arc::clone(&self.access) }
    }
}

/// A service whose callers are known.
#[derive(Clone)]
pub struct AccessService<S> {
    inner: S,
    access: Arc<Access>,
}

impl<S> tower::Service<Request<Body>> for AccessService<S>
where
    S: tower::Service<Request<Body>, Response = Response<Body>> + Clone + Send + 'static,
    S::Future: Send + 'static,
    S::Error: 'static,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, S::Error>> + Send>>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        // The service that is ready is the one that answers; the next call gets the copy.
        let copy = self.inner.clone();
        let mut inner = std::mem::replace(&mut self.inner, copy);
        let access = Arc::clone(&self.access);
        Box::pin(async move {
            let (mut head, body) = request.into_parts();
            let admitted = match access.admit(head.uri.path(), &head.headers).await {
                Ok(admitted) => admitted,
                Err(refused) => return Ok(Status::from(refused).into_http()),
            };
            // Nothing behind here needs the token.
            head.headers.remove(AUTHORIZATION);
            if let Some(caller) = admitted.caller {
                head.extensions.insert(caller);
            }
            head.extensions.insert(admitted.role);
            let idle = access.limits.stream_idle;
            let sends = stream::Sends::of(head.uri.path());
            let answer = inner.call(Request::from_parts(head, stream::incoming(body, sends, idle))).await?;
            Ok(answer.map(|body| stream::outgoing(body, admitted.place, idle)))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(values: &[&str]) -> HeaderMap {
        values.iter().map(|value| (AUTHORIZATION, value.parse().unwrap())).collect()
    }

    #[test]
    fn a_token_stands_behind_bearer() {
        let secret = Secret::new([7; Secret::RANDOM_BYTES]);
        let token = secret.reveal();
        for good in [format!("Bearer {token}"), format!("bearer {token}"), format!("Bearer  {token} ")] {
            assert_eq!(bearer(&headers(&[&good])).unwrap().unwrap().key(), secret.key(), "{good}");
        }
        assert!(bearer(&HeaderMap::new()).unwrap().is_none());
        let twice = format!("Bearer {token}");
        for bad in [&["Basic x"][..], &["Bearer"], &["Bearer x"], &[&token], &[&twice, &twice], &[""]] {
            assert_eq!(bearer(&headers(bad)).err(), Some(Denial::UnknownToken), "{bad:?}");
        }
    }
}
