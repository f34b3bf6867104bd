//! Calls that come by a name that is not this service's, or from a page of another site.
//!
//! Whoever can have a browser on this machine open a page can have it call a service on loopback, which asks for no token: by a name
//! whose address is changed to 127.0.0.1 once the page is there. Such a call still bears that name.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use api::Denial;
use http::header::{HOST, ORIGIN};
use http::uri::Authority;
use http::{HeaderMap, Request, Response, Uri};
use tonic::Status;
use tonic::body::Body;

/// Longest name that a refusal says back, in characters.
const SAID_BACK: usize = 80;

/// By which names this service is called.
#[derive(Debug, Clone)]
pub(crate) struct Hosts {
    /// Names that the operator gave, in small letters.
    public: Vec<String>,
    scope: Scope,
}

/// Which names are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scope {
    /// A service on loopback knows its names.
    Loopback,
    /// What other machines reach has names that only they know, and asks for a token.
    Anywhere,
}

impl Hosts {
    pub(crate) fn new(public: &[String], scope: Scope) -> Self {
        Self { public: public.iter().map(|name| name.to_ascii_lowercase()).collect(), scope }
    }

    /// Whether a request comes by a name of this service, and from its own pages if from any.
    pub(crate) fn judge(&self, uri: &Uri, headers: &HeaderMap) -> Result<(), Denial> {
        let named = uri.authority().cloned();
        let named = named.or_else(|| headers.get(HOST)?.to_str().ok()?.parse().ok());
        if let Some(named) = &named
            && self.scope == Scope::Loopback
            && !is_loopback(named.host())
            && !self.is_public(named.host())
        {
            return Err(Denial::ForeignHost { host: cut(named.host()) });
        }
        let Some(origin) = headers.get(ORIGIN) else { return Ok(()) };
        let page = origin.to_str().ok().and_then(|text| text.parse::<Uri>().ok());
        let page = page.as_ref().and_then(Uri::authority);
        let own = |page: &Authority| named.as_ref().is_some_and(|named| named == page) || self.is_public(page.host());
        if page.is_some_and(own) {
            return Ok(());
        }
        Err(Denial::ForeignOrigin { origin: cut(&String::from_utf8_lossy(origin.as_bytes())) })
    }

    fn is_public(&self, host: &str) -> bool {
        self.public.contains(&host.to_ascii_lowercase())
    }
}

fn is_loopback(host: &str) -> bool {
    host.eq_ignore_ascii_case("localhost") || matches!(host, "127.0.0.1" | "[::1]")
}

fn cut(text: &str) -> String {
    text.chars().take(SAID_BACK).collect()
}

/// Puts [`Doors`] around a service.
#[derive(Debug, Clone)]
pub(crate) struct DoorsLayer {
    hosts: Arc<Hosts>,
}

impl DoorsLayer {
    pub(crate) fn new(hosts: Arc<Hosts>) -> Self {
        Self { hosts }
    }
}

impl<S> tower::Layer<S> for DoorsLayer {
    type Service = Doors<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Doors { inner, hosts: Arc::clone(&self.hosts) }
    }
}

/// A service that is reached by its own names alone.
#[derive(Debug, Clone)]
pub(crate) struct Doors<S> {
    inner: S,
    hosts: Arc<Hosts>,
}

impl<S, B> tower::Service<Request<B>> for Doors<S>
where
    S: tower::Service<Request<B>, Response = Response<Body>>,
    S::Future: Send + 'static,
    S::Error: 'static,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, S::Error>> + Send>>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, request: Request<B>) -> Self::Future {
        match self.hosts.judge(request.uri(), request.headers()) {
            Ok(()) => Box::pin(self.inner.call(request)),
            Err(denial) => {
                let refused = Status::from(api::Error::from(denial)).into_http();
                Box::pin(async move { Ok(refused) })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(scope: Scope, host: &str, origin: Option<&str>) -> Result<(), Denial> {
        let mut headers = HeaderMap::new();
        headers.insert(HOST, host.parse().unwrap());
        if let Some(origin) = origin {
            headers.insert(ORIGIN, origin.parse().unwrap());
        }
        let by_header = Hosts::new(&["Fish.Example".to_owned()], scope).judge(&Uri::from_static("/a/b"), &headers);
        headers.remove(HOST);
        let uri = Uri::builder().scheme("http").authority(host).path_and_query("/a/b").build().unwrap();
        let by_authority = Hosts::new(&["fish.example".to_owned()], scope).judge(&uri, &headers);
        assert_eq!(by_header, by_authority, "{host}");
        by_header
    }

    #[test]
    fn a_service_on_loopback_answers_to_its_own_names() {
        for good in ["localhost:50071", "LOCALHOST", "127.0.0.1:1", "[::1]:50071", "fish.example", "fish.example:443"] {
            assert_eq!(judged(Scope::Loopback, good, None), Ok(()), "{good}");
        }
        for bad in ["rebound.example:50071", "127.0.0.1.example", "localhost.example:50071", "10.0.0.1"] {
            assert!(matches!(judged(Scope::Loopback, bad, None), Err(Denial::ForeignHost { .. })), "{bad}");
            assert_eq!(judged(Scope::Anywhere, bad, None), Ok(()), "{bad}");
        }
    }

    #[test]
    fn pages_of_other_sites_are_refused_everywhere() {
        for scope in [Scope::Loopback, Scope::Anywhere] {
            for (host, origin) in [
                ("127.0.0.1:50071", "http://evil.example"),
                ("127.0.0.1:50071", "http://localhost:50071"),
                ("127.0.0.1:50071", "http://127.0.0.1:3000"),
                ("127.0.0.1:50071", "null"),
                ("127.0.0.1:50071", ""),
            ] {
                let refused = judged(scope, host, Some(origin));
                assert!(matches!(refused, Err(Denial::ForeignOrigin { .. })), "{host} from {origin}");
            }
            for (host, origin) in
                [("127.0.0.1:50071", "http://127.0.0.1:50071"), ("localhost:50071", "https://fish.example")]
            {
                assert_eq!(judged(scope, host, Some(origin)), Ok(()), "{host} from {origin}");
            }
        }
    }
}
