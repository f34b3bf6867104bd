//! Cookies: of the desk, of language and unit, and of the shop.

use axum::response::Response;
use http::header::{COOKIE, SET_COOKIE};
use http::{HeaderMap, HeaderValue};

use crate::desk::Desk;

/// Cookie of the desk.
pub(crate) const DESK: &str = "lakebeam-desk";
/// Cookie of language and unit.
pub(crate) const LOOK: &str = "lakebeam-look";
/// Cookie of what the shop is called and prints on.
pub(crate) const SHOP: &str = "lakebeam-shop";

/// The value of a cookie.
pub(crate) fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    let all = headers.get_all(COOKIE).iter().filter_map(|header| header.to_str().ok());
    let mut pairs = all.flat_map(|header| header.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(known, _)| *known == name).map(|(_, value)| value.to_owned())
}

/// Gives the browser the cookie of its desk, for as long as it is open.
pub(crate) fn remember_desk(response: &mut Response, desk: &Desk, secure: bool) {
    put_cookie(response, &format!("{DESK}={}; Path=/; HttpOnly; SameSite=Strict{}", desk.id, secured(secure)));
}

/// Gives the browser a cookie for a year.
pub(crate) fn remember(response: &mut Response, name: &str, value: &str, secure: bool) {
    let year = 365 * 24 * 3_600;
    put_cookie(
        response,
        &format!("{name}={value}; Path=/; Max-Age={year}; HttpOnly; SameSite=Strict{}", secured(secure)),
    );
}

const fn secured(secure: bool) -> &'static str {
    if secure { "; Secure" } else { "" }
}

fn put_cookie(response: &mut Response, cookie: &str) {
    if let Ok(cookie) = HeaderValue::from_str(cookie) {
        response.headers_mut().append(SET_COOKIE, cookie);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cookies_are_found_among_others() {
        let mut headers = HeaderMap::new();
        headers.append(COOKIE, HeaderValue::from_static("a=1; lakebeam-desk=x=y"));
        headers.append(COOKIE, HeaderValue::from_static("b=2"));
        let read = |name| cookie(&headers, name);
        assert_eq!((read("lakebeam-desk").as_deref(), read("b").as_deref(), read("c")), (Some("x=y"), Some("2"), None));
    }
}
