//! What stands before every page: the number of the visit, pages of other sites kept out, the desk, the caller, and what a browser is told
//! to hold to.

use std::panic::AssertUnwindSafe;
use std::sync::Arc;

use axum::extract::{Request, State};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use futures::FutureExt as _;
use http::header::{
    ACCEPT_LANGUAGE, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, REFERRER_POLICY, SET_COOKIE,
    X_CONTENT_TYPE_OPTIONS,
};
use http::{HeaderMap, HeaderName, HeaderValue, StatusCode};
use proto::v1;

use crate::Counter;
use crate::client::Client;
use crate::cookies::{DESK, LOOK, SHOP, cookie, remember_desk};
use crate::desk::random_id;
use crate::say::Look;
use crate::shop::kept::Shop;
use crate::stop::Stop;
use crate::visit::Visit;
use crate::{answer, files, sign_in};

/// What a page may load and do: its own style, script, pictures and fonts, and nothing else. No page of anybody may hold it in a frame.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; font-src 'self'; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The gate.
pub(crate) async fn gate(State(counter): State<Arc<Counter>>, request: Request, next: Next) -> Response {
    let number =
        random_id().map_or_else(|_| "0".to_owned(), |id| id.chars().take(8).collect::<String>().to_uppercase());
    let mut response = if is_foreign(request.headers()) {
        (StatusCode::FORBIDDEN, "A page of another site cannot open this one. Type its address, or use a bookmark.")
            .into_response()
    } else if let Some(file) = files::find(request.uri().path()) {
        file
    } else {
        visited(counter, request, next, &number).await
    };
    harden(response.headers_mut(), &number);
    response
}

/// Whether a page of another site sends the request, as the browser itself says (Fetch Metadata).
fn is_foreign(headers: &HeaderMap) -> bool {
    let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
    matches!(site, Some(site) if site != b"same-origin" && site != b"none")
}

async fn visited(counter: Arc<Counter>, mut request: Request, next: Next, number: &str) -> Response {
    let given = cookie(request.headers(), DESK).and_then(|id| counter.desks.known(&id));
    let (desk, fresh) = match given {
        Some(desk) => (desk, false),
        None => match counter.desks.open(None) {
            Ok(desk) => (desk, true),
            Err(error) => {
                tracing::error!(%error, "no desk could be opened");
                return StatusCode::INTERNAL_SERVER_ERROR.into_response();
            }
        },
    };
    let accept = request.headers().get(ACCEPT_LANGUAGE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    let look = Look::read(&cookie(request.headers(), LOOK).unwrap_or_default(), accept);
    let client = Client::new(counter.api.clone(), desk.token.as_deref(), number);
    let visit = Visit {
        look,
        client,
        caller: None,
        here: request.uri().path_and_query().map_or("/", |p| p.as_str()).to_owned(),
        shop: Shop::read(&cookie(request.headers(), SHOP).unwrap_or_default()),
        number: number.to_owned(),
        counter: Arc::clone(&counter),
        desk: Arc::clone(&desk),
    };
    let mut response = match visit.client.admin().get_caller(v1::GetCallerRequest {}).await {
        Ok(caller) => {
            let visit = Visit { caller: Some(caller.into_inner()), ..visit };
            request.extensions_mut().insert(visit.clone());
            handled(&visit, request, next).await
        }
        Err(status) => match Stop::from(status) {
            Stop::SignIn if sign_in::is_open(request.uri().path()) => {
                request.extensions_mut().insert(visit.clone());
                handled(&visit, request, next).await
            }
            Stop::SignIn => sign_in::instead(&visit, &request),
            stop => answer::stopped(&visit, &stop),
        },
    };
    if fresh && !response.headers().contains_key(SET_COOKIE) {
        remember_desk(&mut response, &desk, counter.secure);
    }
    response
}

/// A page that panics fails alone.
async fn handled(visit: &Visit, request: Request, next: Next) -> Response {
    match AssertUnwindSafe(next.run(request)).catch_unwind().await {
        Ok(response) => response,
        Err(panic) => {
            let said = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
            let said = said.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default();
            answer::stopped(visit, &Stop::Failed(format!("a page panicked: {said}")))
        }
    }
}

fn harden(headers: &mut HeaderMap, number: &str) {
    let is_page = headers.get(CONTENT_TYPE).is_none_or(|kind| !kind.as_bytes().starts_with(b"application/pdf"));
    if is_page {
        headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    }
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    // Not `no-referrer`: browsers would then send forms of our own without their origin.
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    for (name, value) in [
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("x-frame-options", "DENY"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    if let Ok(number) = HeaderValue::from_str(number) {
        headers.insert(HeaderName::from_static("x-request-id"), number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_of_other_sites_are_known_by_what_the_browser_says() {
        let judged = |site: Option<&'static str>| {
            let mut headers = HeaderMap::new();
            if let Some(site) = site {
                headers.insert("sec-fetch-site", HeaderValue::from_static(site));
            }
            is_foreign(&headers)
        };
        assert_eq!([None, Some("none"), Some("same-origin")].map(judged), [false; 3]);
        assert_eq!([Some("cross-site"), Some("same-site"), Some("")].map(judged), [true; 3]);
    }
}
