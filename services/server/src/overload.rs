//! Refuses calls beyond a number at once, and says when to try again. Calls that need no token have a few places of their own, so that
//! whoever has none keeps nobody out who has one.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use api::Need;
use http::{Request, Response};
use http_body::Frame;
use http_body_util::{BodyExt as _, Full, Limited};
use prost::bytes::Bytes;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tonic::body::Body;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt as _};

/// When a refused caller is told to come back.
const RETRY: Duration = Duration::from_millis(500);
/// Calls at once that need no token, and how long such a call and its message may be.
const OPEN_CALLS: usize = 16;
const OPEN_TIME: Duration = Duration::from_secs(5);
const OPEN_BYTES: usize = 1_024;
/// Those of them that go on watching.
const OPEN_WATCHES: usize = 64;

/// Puts [`Overload`] around a service.
#[derive(Debug, Clone)]
pub(crate) struct OverloadLayer {
    places: Places,
}

#[derive(Debug, Clone)]
struct Places {
    calls: Arc<Semaphore>,
    open_calls: Arc<Semaphore>,
    open_watches: Arc<Semaphore>,
}

impl OverloadLayer {
    /// At most that many calls at once, besides those that need no token.
    pub(crate) fn new(at_once: usize) -> Self {
        let of = |places: usize| Arc::new(Semaphore::new(places));
        Self {
            places: Places { calls: of(at_once.max(1)), open_calls: of(OPEN_CALLS), open_watches: of(OPEN_WATCHES) },
        }
    }
}

impl<S> tower::Layer<S> for OverloadLayer {
    type Service = Overload<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Overload { inner, places: self.places.clone() }
    }
}

/// A service with a bounded number of calls at once.
#[derive(Debug, Clone)]
pub(crate) struct Overload<S> {
    inner: S,
    places: Places,
}

impl<S> tower::Service<Request<Body>> for Overload<S>
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
        let open = api::least_role(request.uri().path()) == Some(Need::Nothing);
        let places = if open { &self.places.open_calls } else { &self.places.calls };
        let Ok(place) = Arc::clone(places).try_acquire_owned() else {
            return Box::pin(async { Ok(full().into_http()) });
        };
        // The service that is ready is the one that answers; the next call gets the copy.
        let copy = self.inner.clone();
        let mut inner = std::mem::replace(&mut self.inner, copy);
        if !open {
            let call = inner.call(request);
            return Box::pin(async move {
                let answer = call.await;
                drop(place);
                answer
            });
        }
        let watches = Arc::clone(&self.places.open_watches);
        Box::pin(async move {
            let watches = request.uri().path().ends_with("/Watch").then_some(watches);
            let request = match tokio::time::timeout(OPEN_TIME, whole(request)).await {
                Ok(Ok(request)) => request,
                Ok(Err(refused)) => return Ok(refused.into_http()),
                Err(_) => return Ok(Status::deadline_exceeded("the message did not come in time").into_http()),
            };
            let Some(watches) = watches else {
                let answer = inner.call(request).await;
                drop(place);
                return answer;
            };
            let Ok(watch) = watches.try_acquire_owned() else { return Ok(full().into_http()) };
            drop(place);
            let answer = inner.call(request).await?;
            Ok(answer.map(|body| Body::new(Held { body, _place: watch })))
        })
    }
}

/// The request with its message, which is short.
async fn whole(request: Request<Body>) -> Result<Request<Body>, Status> {
    let (head, body) = request.into_parts();
    let message = Limited::new(body, OPEN_BYTES).collect().await;
    let message =
        message.map_err(|_| Status::invalid_argument("the message is longer than any that needs no token"))?;
    Ok(Request::from_parts(head, Body::new(Full::new(message.to_bytes()))))
}

fn full() -> Status {
    let mut details = ErrorDetails::with_retry_info(Some(RETRY));
    let none = std::collections::HashMap::<String, String>::new();
    details.set_error_info("OVERLOADED", api::ERROR_DOMAIN, none);
    Status::with_error_details(
        Code::ResourceExhausted,
        "the service has as many calls in hand as it takes; try again in half a second",
        details,
    )
}

/// An answer that holds its place to its end.
struct Held {
    body: Body,
    _place: OwnedSemaphorePermit,
}

impl http_body::Body for Held {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        Pin::new(&mut self.body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }
}
