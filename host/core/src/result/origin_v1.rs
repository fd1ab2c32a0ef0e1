//! `trundle-origin`, version 1: where a document comes from, with the document itself, as one JSON
//! object.
//!
//! For programs that gather documents of many captures: none of them has to read a capture itself.
//! The schema stands in `host/schemas/trundle-origin-1.schema.json`. Fields are only ever added.

use super::document::{objects, to_text};
use crate::capture::Header;

objects! {
    origin(head: Option<&Header>, rig: Option<&str>, document: &str) {
        format = "trundle-origin",
        version = 1,
        started_utc = head.map(|head| head.started_utc.clone()),
        recorded_with = head.map(|head| head.software.clone()),
        practice = head.is_some_and(|head| head.practice),
        rig = rig.map(str::to_owned),
        document = document.to_owned(),
    }
}

/// One line of JSON, without a line end. `head` is absent where it was lost; `rig` is the one that
/// was active when the capture was recorded; `document` is the text of the result, as it is.
#[must_use]
pub fn to_json(head: Option<&Header>, rig: Option<&str>, document: &str) -> String {
    to_text(&origin(head, rig, document))
}
