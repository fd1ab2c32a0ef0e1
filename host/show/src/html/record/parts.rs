//! What was measured beside the course: in few words, and each with its capture and method.

use super::super::page::section;
use super::super::work::foundation::described;
use super::item::row;
use crate::paper::Sheet;
use crate::phrases::plain::{cut, line};
use maud::{Markup, html};
use serde_json::Value;
use trundle_core::result::part_v1::{PartMethodV1, PartV1};

/// What stands above the text of a course.
pub const DESCRIBED: &str = "The course as it was described at sign-off:";

/// The values alone, a line of at most so many characters each; nothing where there are none.
pub fn values(sheet: &Sheet<'_>, most: usize) -> Markup {
    let lines: Vec<_> = sheet.parts().into_iter().flat_map(|part| part.lines).collect();
    html! {
        @if !lines.is_empty() {
            ul class="parts" {
                @for (what, value) in &lines {
                    li { (capital(what)) ": " bdi { (cut(value, most)) } }
                }
            }
        }
    }
}

/// The section with method and capture of each part; nothing where there are none.
pub fn section_of(sheet: &Sheet<'_>) -> Markup {
    let parts = &sheet.record.parts;
    if parts.is_empty() {
        return html! {};
    }
    let body = html! {
        @for (part, shown) in parts.iter().zip(sheet.parts()) {
            h3 { (capital(shown.title)) }
            dl class="item-list" {
                @for (what, value) in &shown.lines { (row(&capital(what), value, false)) }
                @for (label, value) in told(part) { (row(&label, &value, false)) }
                (row("Capture", &part.capture.name, false))
                div { dt { "SHA-256" } dd class="digest" { (line(&part.capture.sha256)) } }
                (row("Bytes", &part.capture.bytes.to_string(), false))
                @if !part.capture.started_utc.is_empty() {
                    (row("Began", &sheet.moment(&part.capture.started_utc), false))
                }
            }
            @if let PartMethodV1::Proof(how) = &part.method {
                (described(DESCRIBED, how.course_toml.as_deref()))
            }
            @if let Some(against) = &shown.against { p { strong { (against) } } }
        }
        p class="quiet" { "Intervals at a coverage of 95\u{a0}%." }
    };
    let title = if sheet.work.is_some() { "Also measured" } else { "Measured" };
    section("parts", title, &body)
}

/// What its command was told, under the names of the record.
fn told(part: &PartV1) -> Vec<(String, String)> {
    let Ok(Value::Object(method)) = serde_json::to_value(&part.method) else {
        return Vec::new();
    };
    // The text of a course stands below the list, the known values in words at its end.
    let elsewhere = |key: &str| ["name", "course_toml", "known"].contains(&key);
    let told = method.into_iter().filter(|(key, value)| !value.is_null() && !elsewhere(key));
    let shown = |value: Value| match value {
        Value::String(text) => text,
        other => other.to_string(),
    };
    let told = told.map(|(key, value)| (key.replace('_', " "), shown(value)));
    let known = match &part.method {
        PartMethodV1::Proof(how) => how.known_words(),
        _ => None,
    };
    let known = known.map(|words| ("known".to_owned(), words));
    told.chain(known).map(|(key, value)| (format!("Method: {key}"), value)).collect()
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
