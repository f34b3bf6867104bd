//! Style, script and font of the pages. Their addresses hold a part of their hash, so that a browser keeps them until they change.

use std::sync::LazyLock;

use axum::response::{IntoResponse as _, Response};
use http::HeaderValue;
use http::header::{CACHE_CONTROL, CONTENT_TYPE};

pub(crate) const STYLE: &str = include_str!("../assets/counter.css");
const SCRIPT: &str = include_str!("../assets/counter.js");

static STYLE_ADDRESS: LazyLock<String> = LazyLock::new(|| address("counter", STYLE.as_bytes(), "css"));
static SCRIPT_ADDRESS: LazyLock<String> = LazyLock::new(|| address("counter", SCRIPT.as_bytes(), "js"));

fn address(name: &str, bytes: &[u8], kind: &str) -> String {
    let hash = blake3::hash(bytes).to_hex();
    format!("/files/{name}.{}.{kind}", hash.chars().take(12).collect::<String>())
}

/// Where the style is.
pub(crate) fn style() -> &'static str {
    &STYLE_ADDRESS
}

/// Where the script is.
pub(crate) fn script() -> &'static str {
    &SCRIPT_ADDRESS
}

/// The file of an address.
pub(crate) fn find(path: &str) -> Option<Response> {
    let (kind, text) = match path {
        "/favicon.ico" => ("image/svg+xml", ICON),
        path if path == style() => ("text/css; charset=utf-8", STYLE),
        path if path == script() => ("text/javascript; charset=utf-8", SCRIPT),
        _ => return None,
    };
    let keep = HeaderValue::from_static("public, max-age=31536000, immutable");
    Some(([(CONTENT_TYPE, HeaderValue::from_static(kind)), (CACHE_CONTROL, keep)], text).into_response())
}

/// A beam under ice.
const ICON: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><path d="M0 6h32v3H0z" fill="#a9c6d1"/><path d="M16 9 27 32H5z" fill="#1f4e5f"/></svg>"##;
