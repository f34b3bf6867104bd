//! One call from its beginning to the end of its answer: its span, its line in the log, its id in every error.

use std::time::Instant;

use http::HeaderMap;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;
use tracing::Span;
use tracing::field::Empty;

/// Header of the rich details of a status.
const DETAILS: &str = "grpc-status-details-bin";

/// A call that is in hand.
pub(crate) struct Call {
    id: String,
    span: Span,
    began: Instant,
    code: Option<Code>,
    reason: String,
}

impl Call {
    /// A call that begins.
    pub(crate) fn new(method: &str, id: &str) -> Self {
        let span = tracing::info_span!("call", method, request_id = %id, caller = Empty, code = Empty);
        Self { id: id.to_owned(), span, began: Instant::now(), code: None, reason: String::new() }
    }

    pub(crate) fn span(&self) -> Span {
        self.span.clone()
    }

    /// Sees the headers or trailers of an answer. If they tell how the call ended, it is remembered, and an error gets the id of the
    /// request, by which its caller can ask for what the log has of it.
    pub(crate) fn told(&mut self, headers: &mut HeaderMap) {
        let Some(status) = Status::from_header_map(headers) else { return };
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

impl Drop for Call {
    fn drop(&mut self) {
        let _inside = self.span.enter();
        let milliseconds = self.began.elapsed().as_millis();
        match self.code {
            Some(code) => {
                self.span.record("code", tracing::field::debug(code));
                match code {
                    Code::Ok => tracing::debug!(milliseconds, "answered"),
                    _ => tracing::info!(milliseconds, reason = self.reason, "refused"),
                }
            }
            None => tracing::debug!(milliseconds, "the caller went away before the end of the answer"),
        }
    }
}
