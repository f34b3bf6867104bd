//! Bodies that do not wait for ever for a caller that neither sends nor receives.

use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::task::{Context, Poll};
use std::time::Duration;

use http::HeaderMap;
use http_body::{Body as _, Frame};
use tokio::sync::OwnedSemaphorePermit;
use tokio::task::AbortHandle;
use tokio::time::{Instant, Sleep};
use tonic::Status;
use tonic::body::Body;
use tonic::codegen::Bytes;

use crate::error::Error;

/// What a caller sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sends {
    /// One message, which is there within the time of one pause.
    Message,
    /// As many as it likes, without a long pause.
    Stream,
}

impl Sends {
    /// What the callers of a path send.
    pub(super) fn of(path: &str) -> Self {
        let streams = ["/ImportRecords", "/ServerReflectionInfo"];
        if streams.iter().any(|end| path.ends_with(end)) { Self::Stream } else { Self::Message }
    }
}

/// What a caller sends; it breaks off when the next part, or the whole of a message, does not come in time.
pub(super) fn incoming(body: Body, sends: Sends, idle: Duration) -> Body {
    if body.is_end_stream() { body } else { Body::new(Incoming { inner: body, sends, idle, sleep: None }) }
}

struct Incoming {
    inner: Body,
    sends: Sends,
    idle: Duration,
    /// Runs while the next part is waited for, and on until the end of a message.
    sleep: Option<Pin<Box<Sleep>>>,
}

impl http_body::Body for Incoming {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let this = &mut *self;
        if let Poll::Ready(part) = Pin::new(&mut this.inner).poll_frame(cx) {
            if this.sends == Sends::Stream {
                this.sleep = None;
            }
            return Poll::Ready(part);
        }
        let idle = this.idle;
        let sleep = this.sleep.get_or_insert_with(|| Box::pin(tokio::time::sleep(idle)));
        sleep.as_mut().poll(cx).map(|()| Some(Err(Error::StreamIdle { limit: idle }.into())))
    }

    fn is_end_stream(&self) -> bool {
        self.inner.is_end_stream()
    }
}

/// What a caller receives. It holds the caller's place until it has been taken to the end; when what is ready is not taken in
/// time, the rest is dropped and the place given back, and the caller learns of it once it comes back.
pub(super) fn outgoing(body: Body, place: Option<OwnedSemaphorePermit>, idle: Duration) -> Body {
    if body.is_end_stream() {
        return body;
    }
    let open = Open { body, _place: place, given: None };
    let shared = Arc::new(Mutex::new(State::Open(open)));
    let watch = tokio::spawn(watch(Arc::downgrade(&shared), idle)).abort_handle();
    Body::new(Outgoing { shared, watch, idle })
}

struct Outgoing {
    shared: Arc<Mutex<State>>,
    watch: AbortHandle,
    idle: Duration,
}

enum State {
    Open(Open),
    /// The caller did not take what was ready.
    Idle,
    Done,
}

struct Open {
    body: Body,
    _place: Option<OwnedSemaphorePermit>,
    /// When the last part was handed on, until the next one is asked for.
    given: Option<Instant>,
}

fn lock(shared: &Mutex<State>) -> MutexGuard<'_, State> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Closes a stream whose last part lies untaken for too long.
async fn watch(shared: Weak<Mutex<State>>, idle: Duration) {
    let mut wait = idle;
    loop {
        tokio::time::sleep(wait).await;
        let Some(shared) = shared.upgrade() else { return };
        let mut state = lock(&shared);
        let State::Open(open) = &*state else { return };
        wait = open.given.map_or(idle, |given| idle.saturating_sub(given.elapsed()));
        if wait.is_zero() {
            tracing::info!("a caller does not take what is ready; the stream is closed");
            *state = State::Idle;
            return;
        }
    }
}

impl http_body::Body for Outgoing {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let mut state = lock(&self.shared);
        let polled = match &mut *state {
            State::Open(open) => {
                open.given = None;
                let polled = Pin::new(&mut open.body).poll_frame(cx);
                if let Poll::Ready(Some(Ok(_))) = &polled {
                    open.given = Some(Instant::now());
                }
                let ended = matches!(polled, Poll::Ready(None | Some(Err(_)))) || open.body.is_end_stream();
                if ended {
                    *state = State::Done;
                    self.watch.abort();
                }
                return polled;
            }
            State::Idle => Some(trailers(&Error::StreamIdle { limit: self.idle }.into())),
            State::Done => None,
        };
        *state = State::Done;
        Poll::Ready(polled)
    }

    fn is_end_stream(&self) -> bool {
        matches!(&*lock(&self.shared), State::Done)
    }
}

impl Drop for Outgoing {
    fn drop(&mut self) {
        self.watch.abort();
    }
}

fn trailers(status: &Status) -> Result<Frame<Bytes>, Status> {
    let mut trailers = HeaderMap::new();
    status.add_header(&mut trailers).map(|()| Frame::trailers(trailers))
}
