//! Pages read strictly: tags, ids, contrast, and text that would do harm.
#![allow(clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};

/// Text that would do harm where it is not made harmless.
pub const NASTY: &str = "</style></title></pre>\
    <script>alert(1)</script><img src=x onerror=alert(1)> \
    <!-- ]]> & &amp; \" ' ` }} @import url(//example.invalid/x) {} \u{0}\u{7}\u{1b}[31m\u{9b} \
    \u{202e}desrever\u{2066}\u{2069}\u{200f}\u{feff}\u{2028}\u{e0041} https://example.invalid/";

/// A start tag with its attributes, or an end tag.
#[derive(Debug)]
pub struct Tag {
    /// Its name.
    pub name: String,
    /// It is an end tag.
    pub closes: bool,
    /// By name.
    pub attributes: BTreeMap<String, String>,
}

/// Tags and the text between them. Strict: it knows the subset of HTML that the page is meant to
/// keep to, every attribute quoted, and panics at anything else.
///
/// # Panics
/// At what is not of that subset.
#[must_use]
pub fn tags(page: &str) -> (Vec<Tag>, String) {
    let mut rest = page.strip_prefix("<!DOCTYPE html>").expect("no document type");
    let (mut tags, mut text) = (Vec::new(), String::new());
    while let Some(at) = rest.find('<') {
        text.push_str(&rest[..at]);
        rest = &rest[at + 1..];
        let closes = rest.starts_with('/');
        rest = rest.trim_start_matches('/');
        let end = rest.find(|c: char| !c.is_ascii_alphanumeric()).unwrap();
        assert!(end > 0, "a < that opens no tag: {:.60}", rest);
        let name = rest[..end].to_owned();
        rest = &rest[end..];
        let mut attributes = BTreeMap::new();
        while let Some(after) = rest.strip_prefix(' ') {
            let (key, after) = after.split_once("=\"").expect("an attribute without a value");
            assert!(key.chars().all(|c| c.is_ascii_alphanumeric() || c == '-'), "{key:?}");
            let (value, after) = after.split_once('"').expect("an open value");
            assert!(attributes.insert(key.to_owned(), value.to_owned()).is_none(), "{key} twice");
            rest = after;
        }
        rest = rest.strip_prefix('>').unwrap_or_else(|| panic!("<{name} is not closed"));
        if name == "style" && !closes {
            let end = rest.find("</style>").unwrap();
            rest = &rest[end..];
        }
        tags.push(Tag { name, closes, attributes });
    }
    text.push_str(rest);
    (tags, text)
}

/// Tags are balanced, ids unique, and what names an id finds it.
///
/// # Panics
/// Where it is not so.
pub fn check_shape(name: &str, page: &str) {
    let (tags, _) = tags(page);
    let mut open = Vec::new();
    let mut ids = BTreeSet::new();
    for tag in &tags {
        if tag.closes {
            assert_eq!(open.pop(), Some(tag.name.as_str()), "{name}");
        } else if tag.name != "meta" {
            open.push(&tag.name);
        }
        if let Some(id) = tag.attributes.get("id") {
            assert!(ids.insert(id.clone()), "{name}: id {id} twice");
        }
    }
    assert!(open.is_empty(), "{name}: open at the end: {open:?}");
    for tag in &tags {
        for key in ["aria-labelledby", "aria-describedby"] {
            let Some(wanted) = tag.attributes.get(key) else { continue };
            assert!(ids.contains(wanted), "{name}: {key} names {wanted}, which is not there");
        }
    }
}

/// Relative luminance of `#rrggbb` (WCAG 2.2, definition of relative luminance).
fn luminance(colour: &str) -> f64 {
    let channel = |at: usize| {
        let byte = u8::from_str_radix(&colour[at..at + 2], 16).unwrap();
        let c = f64::from(byte) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// Contrast ratio (WCAG 2.2, definition of contrast ratio): 1 to 21.
#[must_use]
pub fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}
