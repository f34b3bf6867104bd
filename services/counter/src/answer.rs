//! What is sent back: pages, redirects, and why something did not work.

use axum::response::{IntoResponse as _, Response};
use http::header::{LOCATION, RETRY_AFTER};
use http::{HeaderValue, StatusCode};
use maud::html;

use crate::fields::encoded;
use crate::page::{self, Tab};
use crate::stop::Stop;
use crate::visit::Visit;

/// Sends the browser to another address.
pub(crate) fn see(address: &str) -> Response {
    let address = HeaderValue::from_str(address).unwrap_or(HeaderValue::from_static("/"));
    (StatusCode::SEE_OTHER, [(LOCATION, address)]).into_response()
}

/// A local address that somebody gave; none for one of another site.
pub(crate) fn local(address: &str) -> Option<&str> {
    let plain = address.starts_with('/') && !address.starts_with("//") && !address.contains(['\\', '\r', '\n']);
    plain.then_some(address)
}

/// A page, or why not.
pub(crate) fn given(visit: &Visit, answered: Result<Response, Stop>) -> Response {
    answered.unwrap_or_else(|stop| stopped(visit, &stop))
}

/// A page that says why.
pub(crate) fn stopped(visit: &Visit, stop: &Stop) -> Response {
    if matches!(stop, Stop::SignIn) {
        return see(&format!("/sign-in?then={}", encoded(&visit.here)));
    }
    if let Stop::Failed(what) = stop {
        tracing::error!(request_id = %visit.number, page = %visit.here, what, "a page failed");
    }
    let Some(say) = visit.say() else { return stop.status().into_response() };
    let (title, details) = match stop {
        Stop::SignIn | Stop::MayNot => (say.t("stop-may-not").to_owned(), Vec::new()),
        Stop::NotThere => (say.t("stop-not-there").to_owned(), Vec::new()),
        Stop::BadForm => (say.t("stop-bad-form").to_owned(), Vec::new()),
        Stop::TooLarge => (say.t("stop-too-large").to_owned(), Vec::new()),
        Stop::Refused(faults) => (say.t("stop-refused").to_owned(), faults.iter().map(|f| f.text.clone()).collect()),
        Stop::Changed => (say.t("stop-changed").to_owned(), Vec::new()),
        Stop::InUse(why) => (say.t("stop-in-use").to_owned(), vec![why.clone()]),
        Stop::Busy(_) => (say.t("stop-busy").to_owned(), Vec::new()),
        Stop::Failed(_) => (say.f("stop-failed", &[("number", &visit.number)]), Vec::new()),
    };
    let body = html! {
        h1 { (title) }
        @for detail in &details { p { (detail) } }
        p { a href=(back(visit)) { (say.t("go-back")) } }
    };
    let mut response = page::whole(visit, Tab::None, &title, stop.status(), &body);
    if let Stop::Busy(Some(delay)) = stop {
        response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(delay.as_secs().max(1)));
    }
    response
}

/// The page that a refused one belongs to.
fn back(visit: &Visit) -> String {
    let first = visit.here.split(['?', '/']).nth(1).unwrap_or_default();
    format!("/{first}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_our_own_are_gone_to() {
        for good in ["/", "/advise?depth=18", "/shelf/sensors"] {
            assert_eq!(local(good), Some(good));
        }
        for bad in
            ["", "//evil.example", "/\\evil.example", "https://evil.example", "javascript:alert(1)", "/a\r\nb: c"]
        {
            assert_eq!(local(bad), None, "{bad:?}");
        }
    }
}
