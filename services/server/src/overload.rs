//! Refuses calls beyond a number at once, and says when to try again.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use http::{Request, Response};
use tokio::sync::Semaphore;
use tonic::body::Body;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt as _};

/// When a refused caller is told to come back.
const RETRY: Duration = Duration::from_millis(500);

/// Puts [`Overload`] around a service.
#[derive(Debug, Clone)]
pub(crate) struct OverloadLayer {
    places: Arc<Semaphore>,
}

impl OverloadLayer {
    /// At most that many calls at once.
    pub(crate) fn new(at_once: usize) -> Self {
        Self { places: Arc::new(Semaphore::new(at_once.max(1))) }
    }
}

impl<S> tower::Layer<S> for OverloadLayer {
    type Service = Overload<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Overload { inner, places: Arc::clone(&self.places) }
    }
}

/// A service with a bounded number of calls at once.
#[derive(Debug, Clone)]
pub(crate) struct Overload<S> {
    inner: S,
    places: Arc<Semaphore>,
}

impl<S, B> tower::Service<Request<B>> for Overload<S>
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
        match Arc::clone(&self.places).try_acquire_owned() {
            Ok(place) => {
                let call = self.inner.call(request);
                Box::pin(async move {
                    let answer = call.await;
                    drop(place);
                    answer
                })
            }
            Err(_) => {
                let mut details = ErrorDetails::with_retry_info(Some(RETRY));
                details.set_error_info(
                    "OVERLOADED",
                    api::ERROR_DOMAIN,
                    std::collections::HashMap::<String, String>::new(),
                );
                let status = Status::with_error_details(
                    Code::ResourceExhausted,
                    "the service has as many calls in hand as it takes; try again in half a second",
                    details,
                );
                Box::pin(async move { Ok(status.into_http()) })
            }
        }
    }
}
