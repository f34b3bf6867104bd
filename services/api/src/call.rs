//! One call from its beginning to the end of its answer: its span, its line in the log, its id in every error, what is counted of it.

use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::error::Error;
use crate::lines::{Line, Lines};
use http::HeaderMap;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;
use tracing::Span;
use tracing::field::Empty;

/// Header of the rich details of a status.
const DETAILS: &str = "grpc-status-details-bin";

/// How the library's message begins where it could not decode a message.
const UNDECODED: &str = "failed to decode Protobuf message";

/// How a call ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CallEnd<'a> {
    /// Path of its method, as the caller gave it: `/package.Service/Method`, or anything else.
    pub path: &'a str,
    /// Its status; `Cancelled` where the caller went away before the end of the answer.
    pub code: Code,
    /// The stable reason of an error; empty without one.
    pub reason: &'a str,
    /// From its arrival to the end of its answer.
    pub took: Duration,
}

/// Counts calls. It is told in the middle of each, so it must be quick.
pub trait CallObserver: Send + Sync {
    /// A call has arrived.
    fn began(&self);

    /// A call has ended; as many end as began.
    fn ended(&self, call: &CallEnd<'_>);
}

/// A call that is in hand.
pub(crate) struct Call {
    id: String,
    path: String,
    span: Span,
    began: Instant,
    code: Option<Code>,
    reason: String,
    observer: Option<Arc<dyn CallObserver>>,
    lines: Arc<Lines>,
}

impl Call {
    /// A call that begins.
    pub(crate) fn new(path: &str, id: &str, observer: Option<Arc<dyn CallObserver>>, lines: Arc<Lines>) -> Self {
        let span = tracing::info_span!("call", method = path, request_id = %id, caller = Empty, code = Empty);
        if let Some(observer) = &observer {
            observer.began();
        }
        let (id, path) = (id.to_owned(), path.to_owned());
        Self { id, path, span, began: Instant::now(), code: None, reason: String::new(), observer, lines }
    }

    pub(crate) fn span(&self) -> Span {
        self.span.clone()
    }

    /// Sees the headers or trailers of an answer. If they tell how the call ended, it is remembered, and an error gets the id of the
    /// request, by which its caller can ask for what the log has of it.
    pub(crate) fn told(&mut self, headers: &mut HeaderMap) {
        let Some(status) = Status::from_header_map(headers) else { return };
        let status = as_bad_message(&status, headers).unwrap_or(status);
        self.code = Some(status.code());
        if status.code() == Code::Ok {
            return;
        }
        let mut details = status.get_error_details();
        self.reason = details.error_info().map(|info| info.reason.clone()).unwrap_or_default();
        details.set_request_info(&self.id, "");
        let named = Status::with_error_details(status.code(), status.message(), details);
        let mut rewritten = HeaderMap::new();
        // A status that cannot be written again stays as it is.
        if named.add_header(&mut rewritten).is_ok()
            && let Some(details) = rewritten.remove(DETAILS)
        {
            headers.insert(DETAILS, details);
        }
    }
}

/// The status of a message that does not decode. The library tells of it as a fault of the service, which it is not.
fn as_bad_message(status: &Status, headers: &mut HeaderMap) -> Option<Status> {
    let what = status.message().strip_prefix(UNDECODED).filter(|_| status.code() == Code::Internal)?;
    if !status.details().is_empty() {
        return None;
    }
    let what: String = what.trim_start_matches([':', ' ']).chars().take(100).collect();
    let refused = Status::from(Error::BadMessage { what });
    refused.add_header(headers).ok().map(|()| refused)
}

impl Drop for Call {
    fn drop(&mut self) {
        let _inside = self.span.enter();
        let took = self.began.elapsed();
        if let Some(observer) = &self.observer {
            let code = self.code.unwrap_or(Code::Cancelled);
            observer.ended(&CallEnd { path: &self.path, code, reason: &self.reason, took });
        }
        let milliseconds = took.as_millis();
        match self.code {
            Some(code) => {
                self.span.record("code", tracing::field::debug(code));
                match code {
                    Code::Ok => tracing::debug!(milliseconds, "answered"),
                    _ => match self.lines.ask(Instant::now()) {
                        Line::Write { left_out: 0 } => tracing::info!(milliseconds, reason = self.reason, "refused"),
                        Line::Write { left_out } => {
                            tracing::info!(
                                milliseconds,
                                reason = self.reason,
                                left_out,
                                "refused, as so many before that have no line"
                            );
                        }
                        Line::LeaveOut => {}
                    },
                }
            }
            None => tracing::debug!(milliseconds, "the caller went away before the end of the answer"),
        }
    }
}
