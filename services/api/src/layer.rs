//! The tower layer around every call: request id, span and a line in the log, deadline, panics.
//!
//! It goes inside the gRPC-Web layer, if there is one, because it ends a broken stream with gRPC trailers:
//! `Server::builder().layer(CallLayer::new(ids))`.
//!
//! tonic itself answers CANCELLED when `grpc-timeout` runs out, and only until the first byte of the answer; a panic in a
//! handler would take the connection and every other call on it. Here both end the one call, with a status and a reason.
//! A call that ends early is dropped where it waits, which stops its work.

use std::any::Any;
use std::future::Future;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use futures::FutureExt as _;
use http::{HeaderMap, HeaderValue, Request, Response};
use http_body::Frame;
use tokio::time::{Instant, Sleep};
use tonic::Status;
use tonic::body::Body;
use tonic::codegen::Bytes;
use tracing::Instrument as _;

use crate::Ids;
use crate::call::{Call, CallObserver};
use crate::error::Error;
use crate::lines::Lines;

/// Header that carries the id of a request, both ways.
pub const REQUEST_ID: &str = "x-request-id";
/// Longest request id that is taken from a caller.
const MAX_REQUEST_ID: usize = 64;
/// The deadline is kept this much early (or a quarter of it, if that is less): tonic's own timer starts first, and would
/// answer CANCELLED before ours is heard.
const EARLY: Duration = Duration::from_millis(5);

/// Puts `CallService` around a service.
#[derive(Clone)]
pub struct CallLayer {
    ids: Arc<dyn Ids>,
    observer: Option<Arc<dyn CallObserver>>,
    lines: Arc<Lines>,
}

impl CallLayer {
    /// A layer that names requests with these ids.
    #[must_use]
    pub fn new(ids: Arc<dyn Ids>) -> Self {
        Self { ids, observer: None, lines: Arc::default() }
    }

    /// The layer with somebody who counts its calls.
    #[must_use]
    pub fn observed_by(self, observer: Arc<dyn CallObserver>) -> Self {
        Self { observer: Some(observer), ..self }
    }
}

impl<S> tower::Layer<S> for CallLayer {
    type Service = CallService<S>;

    fn layer(&self, inner: S) -> Self::Service {
        CallService {
            inner,
            ids: Arc::clone(&self.ids),
            observer: self.observer.clone(),
            lines: Arc::clone(&self.lines),
        }
    }
}

/// A service whose calls have an id, a deadline, and end in INTERNAL when they panic.
#[derive(Clone)]
pub struct CallService<S> {
    inner: S,
    ids: Arc<dyn Ids>,
    observer: Option<Arc<dyn CallObserver>>,
    lines: Arc<Lines>,
}

impl<S, B> tower::Service<Request<B>> for CallService<S>
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
        let id = request_id(request.headers()).unwrap_or_else(|| self.ids.next());
        let call = Call::new(request.uri().path(), &id, self.observer.clone(), Arc::clone(&self.lines));
        let span = call.span();
        let deadline = grpc_timeout(request.headers()).map(Deadline::starting_now);
        // Calling may already panic, before there is a future to poll.
        let called = catch_unwind(AssertUnwindSafe(|| span.in_scope(|| self.inner.call(request))));
        let answer = async move {
            let outcome = match called {
                Ok(future) => within(deadline.as_ref(), AssertUnwindSafe(future).catch_unwind()).await,
                Err(panic) => Ok(Err(panic)),
            };
            let mut response: Response<Body> = match outcome {
                Ok(Ok(answered)) => answered?,
                Ok(Err(panic)) => panicked(panic.as_ref()).into_http(),
                Err(late) => late.into_http(),
            };
            let mut call = call;
            call.told(response.headers_mut());
            let mut response = response.map(|body| guarded(body, deadline, call));
            if let Ok(value) = HeaderValue::from_str(&id) {
                response.headers_mut().insert(REQUEST_ID, value);
            }
            Ok(response)
        };
        Box::pin(answer.instrument(span))
    }
}

/// When a call must have ended, and how long that was when it began.
#[derive(Debug, Clone, Copy)]
struct Deadline {
    at: Instant,
    given: Duration,
}

impl Deadline {
    fn starting_now(given: Duration) -> Self {
        let now = Instant::now();
        let kept = given.saturating_sub(EARLY.min(given / 4));
        // A deadline beyond what the clock can count is none in practice; a day stands for it.
        let at = now.checked_add(kept).unwrap_or_else(|| now + Duration::from_secs(86_400));
        Self { at, given }
    }

    fn passed(&self) -> Status {
        Error::DeadlineExceeded { given: self.given }.into()
    }
}

async fn within<F: Future>(deadline: Option<&Deadline>, future: F) -> Result<F::Output, Status> {
    match deadline {
        None => Ok(future.await),
        Some(deadline) => tokio::time::timeout_at(deadline.at, future).await.map_err(|_| deadline.passed()),
    }
}

fn panicked(panic: &(dyn Any + Send)) -> Status {
    let text = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "a panic without text".to_owned());
    Error::internal(format!("handler panicked: {text}")).into()
}

/// The caller's own id, if it is short and printable.
fn request_id(headers: &HeaderMap) -> Option<String> {
    let text = headers.get(REQUEST_ID)?.to_str().ok()?;
    let fine = (1..=MAX_REQUEST_ID).contains(&text.len()) && text.chars().all(|c| c.is_ascii_graphic());
    fine.then(|| text.to_owned())
}

/// `grpc-timeout`: up to eight digits and a unit. Anything else is not a deadline, as in tonic.
fn grpc_timeout(headers: &HeaderMap) -> Option<Duration> {
    let text = headers.get("grpc-timeout")?.to_str().ok()?;
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let count: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(count * 3_600)),
        "M" => Some(Duration::from_secs(count * 60)),
        "S" => Some(Duration::from_secs(count)),
        "m" => Some(Duration::from_millis(count)),
        "u" => Some(Duration::from_micros(count)),
        "n" => Some(Duration::from_nanos(count)),
        _ => None,
    }
}

fn guarded(body: Body, deadline: Option<Deadline>, call: Call) -> Body {
    use http_body::Body as _;
    if body.is_end_stream() {
        return body;
    }
    let sleep = deadline.map(|deadline| Box::pin(tokio::time::sleep_until(deadline.at)));
    Body::new(GuardedBody { inner: Some(body), deadline, sleep, call })
}

/// A body whose stream ends with trailers when its deadline passes or when it panics.
struct GuardedBody {
    /// None once the stream has ended.
    inner: Option<Body>,
    deadline: Option<Deadline>,
    sleep: Option<Pin<Box<Sleep>>>,
    call: Call,
}

impl GuardedBody {
    /// Drops the stream, which stops its work, and says why.
    fn end(&mut self, status: &Status) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        self.inner = None;
        let mut trailers = HeaderMap::new();
        Poll::Ready(match status.add_header(&mut trailers) {
            Ok(()) => {
                self.call.told(&mut trailers);
                Some(Ok(Frame::trailers(trailers)))
            }
            Err(status) => Some(Err(status)),
        })
    }
}

impl http_body::Body for GuardedBody {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Self::Error>>> {
        let span = self.call.span();
        let _inside = span.enter();
        // The deadline comes first: a stream that always has a next frame would never be asked about it.
        let passed = self.sleep.as_mut().is_some_and(|sleep| sleep.as_mut().poll(cx).is_ready());
        if let Some(deadline) = self.deadline.filter(|_| passed && self.inner.is_some()) {
            return self.end(&deadline.passed());
        }
        let Some(inner) = self.inner.as_mut() else { return Poll::Ready(None) };
        match catch_unwind(AssertUnwindSafe(|| Pin::new(inner).poll_frame(cx))) {
            Ok(Poll::Ready(Some(Ok(mut frame)))) => {
                if let Some(trailers) = frame.trailers_mut() {
                    self.call.told(trailers);
                }
                Poll::Ready(Some(Ok(frame)))
            }
            Ok(polled) => polled,
            Err(panic) => self.end(&panicked(panic.as_ref())),
        }
    }

    fn is_end_stream(&self) -> bool {
        self.inner.as_ref().is_none_or(http_body::Body::is_end_stream)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(name: &'static str, value: &str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(name, HeaderValue::from_str(value).unwrap());
        headers
    }

    #[test]
    fn timeouts_read_as_the_protocol_writes_them() {
        for (text, expected) in [
            ("2H", Some(Duration::from_secs(7_200))),
            ("3M", Some(Duration::from_secs(180))),
            ("5S", Some(Duration::from_secs(5))),
            ("250m", Some(Duration::from_millis(250))),
            ("99999999u", Some(Duration::from_micros(99_999_999))),
            ("0n", Some(Duration::ZERO)),
            ("S", None),
            ("123456789S", None),
            ("-1S", None),
            ("1s", None),
            ("1", None),
            ("", None),
        ] {
            assert_eq!(grpc_timeout(&headers("grpc-timeout", text)), expected, "{text}");
        }
    }

    #[test]
    fn only_short_printable_request_ids_are_taken_over() {
        assert_eq!(request_id(&headers(REQUEST_ID, "till-7")).as_deref(), Some("till-7"));
        assert_eq!(request_id(&headers(REQUEST_ID, &"x".repeat(65))), None);
        assert_eq!(request_id(&headers(REQUEST_ID, "a b")), None);
        assert_eq!(request_id(&HeaderMap::new()), None);
    }
}
