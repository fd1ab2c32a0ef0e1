//! Answers in the language of whoever reads them. The program makes everything in English; here, at
//! the last step, it is said in another language.

use super::answers::{BYTES, HTML, JSON, SVG, TEXT, digest};
use crate::shell::tongue;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, HeaderName, Response, header};
use trundle_show::tongue::Tongue;

/// The language for this request: the one that was said, or else the browser's first one
/// (RFC 9110, section 12.5.4; browsers send theirs in the order of preference).
pub(super) fn wanted(headers: &HeaderMap) -> Tongue {
    tongue::said().unwrap_or_else(|| first(headers).unwrap_or_default())
}

fn first(headers: &HeaderMap) -> Option<Tongue> {
    let all = headers.get(header::ACCEPT_LANGUAGE)?.to_str().ok()?;
    let wanted = all.split(',').filter(|range| !range.replace(' ', "").ends_with(";q=0"));
    let ranges = wanted.map(|range| range.split([';', '-']).next().unwrap_or("").trim());
    ranges.map(str::to_ascii_lowercase).find_map(|code| Tongue::of_code(&code))
}

/// The answer in this language. Streams, and files that are to be saved, stay: but for pages among
/// them, which are for people.
pub(super) async fn said(answer: Response<Body>, tongue: Tongue) -> Response<Body> {
    if tongue == Tongue::English {
        return answer;
    }
    let kind = text_of(answer.headers(), header::CONTENT_TYPE);
    let saved = text_of(answer.headers(), header::CONTENT_DISPOSITION);
    let page = kind == BYTES && saved.ends_with(".html\"");
    if !page && ![HTML, SVG, JSON, TEXT].contains(&kind.as_str()) {
        return answer;
    }
    let (mut head, body) = answer.into_parts();
    // The body is one of ours, made already.
    let bytes = to_bytes(body, usize::MAX).await.unwrap_or_default();
    let english = bytes.clone();
    let own = tokio::task::spawn_blocking(move || {
        let Ok(text) = std::str::from_utf8(&bytes) else { return (Body::from(bytes), None) };
        let said = match kind.as_str() {
            JSON => tongue.json(text),
            TEXT => tongue.lines(text),
            _ => tongue.markup(text),
        };
        let digests = digest(text).zip(digest(&said));
        (Body::from(said.into_owned()), digests)
    });
    // Should it break down, the answer is what it was.
    let (body, digests) = own.await.unwrap_or_else(|_| (Body::from(english), None));
    // A style sheet with words in it is allowed as it reads now.
    let policy = text_of(&head.headers, header::CONTENT_SECURITY_POLICY);
    let new = digests.and_then(|(old, new)| policy.replace(&old, &new).parse().ok());
    if let Some(new) = new {
        head.headers.insert(header::CONTENT_SECURITY_POLICY, new);
    }
    Response::from_parts(head, body)
}

fn text_of(headers: &HeaderMap, name: HeaderName) -> String {
    headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or("").to_owned()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_browsers_first_language_that_there_is_is_spoken() {
        let first = |ranges: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::ACCEPT_LANGUAGE, ranges.parse().unwrap());
            first(&headers)
        };
        assert_eq!(first("de-AT,de;q=0.9,en;q=0.8"), Some(Tongue::German));
        assert_eq!(first("en-US,en;q=0.9,de;q=0.8"), Some(Tongue::English));
        assert_eq!(first("pl, DE;q=0.3"), Some(Tongue::German));
        assert_eq!(first("pl,*;q=0.1"), None);
        assert_eq!(first("de;q=0, en"), Some(Tongue::English));
    }
}
