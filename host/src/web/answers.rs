//! Answers, with the headers that each of them has.

use super::guard::Refusal;
use axum::body::Body;
use axum::http::{HeaderValue, Response, StatusCode, header};
use sha2::{Digest as _, Sha256};

/// What a browser may do with the page.
pub(super) const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; \
    frame-ancestors 'none'";

/// Content types of the answers.
pub(super) const HTML: &str = "text/html; charset=utf-8";
pub(super) const CSS: &str = "text/css; charset=utf-8";
pub(super) const JS: &str = "text/javascript; charset=utf-8";
pub(super) const SVG: &str = "image/svg+xml";
pub(super) const JSON: &str = "application/json";
pub(super) const TEXT: &str = "text/plain; charset=utf-8";
pub(super) const BYTES: &str = "application/octet-stream";
pub(super) const EVENTS: &str = "text/event-stream";

/// An answer of this kind.
pub(super) fn answer(status: u16, kind: &'static str, body: impl Into<Body>) -> Response<Body> {
    let mut response = Response::new(body.into());
    *response.status_mut() = StatusCode::from_u16(status).unwrap_or(StatusCode::FORBIDDEN);
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_TYPE, kind),
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    let own = HeaderValue::from_static("same-origin");
    headers.insert("cross-origin-resource-policy", own.clone());
    headers.insert("cross-origin-opener-policy", own);
    response
}

/// A page of a station. A browser that is to keep its address to itself names no origin with a form
/// either (Fetch, "append a request `Origin` header"), and a form without one is refused: so these
/// pages say where a form is from, to this server and to no other.
pub(super) fn page(status: u16, page: String) -> Response<Body> {
    let mut response = answer(status, HTML, page);
    let own = HeaderValue::from_static("same-origin");
    response.headers_mut().insert(header::REFERRER_POLICY, own);
    response
}

/// What is refused, in words.
pub(super) fn refusal(refusal: Refusal) -> Response<Body> {
    let words = format!("{refusal}\n{}\n{}\n", refusal.means(), refusal.next());
    let mut response = answer(refusal.status(), TEXT, words);
    // What is left of the request is not worth being read.
    response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
    response
}

/// On to the page, with the token in a cookie: it leaves the address, the history and what is
/// given to others.
pub(super) fn joined(cookie: &str, token: &str) -> Response<Body> {
    let mut response = answer(303, TEXT, "");
    let cookie = format!("{cookie}={token}; HttpOnly; SameSite=Strict; Path=/");
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    response.headers_mut().insert(header::LOCATION, HeaderValue::from_static("/"));
    response
}

/// On to another path of this server.
pub(super) fn see(path: &str) -> Response<Body> {
    let mut response = answer(303, TEXT, "");
    if let Ok(path) = HeaderValue::from_str(path) {
        response.headers_mut().insert(header::LOCATION, path);
    }
    response
}

/// A file to be saved; nothing in it is ever shown as a page.
pub(super) fn file(name: &str, bytes: Vec<u8>) -> Response<Body> {
    let mut response = answer(200, BYTES, bytes);
    let save = format!("attachment; filename=\"{name}\"");
    if let Ok(save) = HeaderValue::from_str(&save) {
        response.headers_mut().insert(header::CONTENT_DISPOSITION, save);
    }
    response
}

/// The page of a result. It carries its style in itself: just that one is allowed, by its digest.
pub(super) fn result(page: String) -> Response<Body> {
    with_style(HTML, page, " form-action 'none'; base-uri 'none'; frame-ancestors 'none'")
}

/// The handbook: the same, and its pictures lie in it.
pub(super) fn book(page: String) -> Response<Body> {
    let rest = " img-src data:; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";
    with_style(HTML, page, rest)
}

/// A drawing as an answer.
pub(super) fn drawing(svg: String) -> Response<Body> {
    with_style(SVG, svg, " frame-ancestors 'none'")
}

fn with_style(kind: &'static str, text: String, rest: &str) -> Response<Body> {
    let style = digest(&text).map_or_else(String::new, |own| format!(" style-src '{own}';"));
    let policy = format!("default-src 'none';{style}{rest}");
    let mut response = answer(200, kind, text);
    if let Ok(policy) = HeaderValue::from_str(&policy) {
        response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}

/// What a policy calls the style sheet in a page.
pub(super) fn digest(page: &str) -> Option<String> {
    let (_, rest) = page.split_once("<style>")?;
    let (style, _) = rest.split_once("</style>")?;
    Some(format!("sha256-{}", base64(&Sha256::digest(style.as_bytes()))))
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for chunk in bytes.chunks(3) {
        let byte = |n: usize| u32::from(chunk.get(n).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for n in 0..4 {
            let digit = DIGITS[(bits >> (18 - 6 * n) & 63) as usize];
            out.push(if n <= chunk.len() { char::from(digit) } else { '=' });
        }
    }
    out
}

#[test]
fn base64_is_that_of_the_standard() {
    // RFC 4648, section 10.
    for (bytes, text) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foobar", "Zm9vYmFy")] {
        assert_eq!(base64(bytes.as_bytes()), text);
    }
}
