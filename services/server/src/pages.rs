//! Pages beside calls on one port: what is no gRPC goes to the counter, if it comes by this service's names and from its own pages.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use axum::Router;
use http::header::{CONTENT_TYPE, HeaderValue};
use http::{Method, Request, Response, StatusCode};
use tonic::body::Body;
use tower::Service as _;

use crate::doors::Hosts;

/// Puts [`Pages`] around a service.
#[derive(Clone)]
pub(crate) struct PagesLayer {
    /// None where a verb has started the service for itself.
    pages: Option<Router>,
    hosts: Arc<Hosts>,
}

impl PagesLayer {
    pub(crate) fn new(pages: Option<Router>, hosts: Arc<Hosts>) -> Self {
        Self { pages, hosts }
    }
}

impl<S> tower::Layer<S> for PagesLayer {
    type Service = Pages<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Pages { inner, pages: self.pages.clone(), hosts: Arc::clone(&self.hosts) }
    }
}

/// Calls go on to the service, and pages to the counter.
#[derive(Clone)]
pub(crate) struct Pages<S> {
    inner: S,
    pages: Option<Router>,
    hosts: Arc<Hosts>,
}

impl<S> tower::Service<Request<Body>> for Pages<S>
where
    S: tower::Service<Request<Body>, Response = Response<Body>>,
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
        let Some(pages) = self.pages.clone().filter(|_| !is_call(&request)) else {
            return Box::pin(self.inner.call(request));
        };
        if let Err(denial) = self.hosts.judge(request.uri(), request.headers()) {
            let refused = plain(StatusCode::FORBIDDEN, api::Error::from(denial).to_string());
            return Box::pin(async move { Ok(refused) });
        }
        Box::pin(async move { Ok(answered(pages, request).await) })
    }
}

/// Whether a request is a call: by its kind of message, or because a browser asks whether it may send one.
fn is_call(request: &Request<Body>) -> bool {
    let kind = request.headers().get(CONTENT_TYPE).map(HeaderValue::as_bytes);
    kind.is_some_and(|kind| kind.starts_with(b"application/grpc")) || request.method() == Method::OPTIONS
}

async fn answered(mut pages: Router, request: Request<Body>) -> Response<Body> {
    match pages.call(request.map(axum::body::Body::new)).await {
        Ok(response) => response.map(Body::new),
        Err(never) => match never {},
    }
}

fn plain(status: StatusCode, text: String) -> Response<Body> {
    let mut response = Response::new(Body::new(http_body_util::Full::new(prost::bytes::Bytes::from(text))));
    *response.status_mut() = status;
    response.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static("text/plain; charset=utf-8"));
    response
}
