//! `trundle-register`, version 1: things that are kept, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-register-1.schema.json`. Fields are only ever added.

use super::document::{objects, to_text};
use crate::rig::{Entry, Thing};

/// The object as one line of JSON, without a line end. Numbers are in the units of the register:
/// metres, kilopascal, kilogram, percent.
#[must_use]
pub fn to_json(thing: Thing, entries: &[Entry], active: Option<&str>) -> String {
    to_text(&register_v1(thing, entries, active))
}

objects! {
    register_v1(thing: Thing, entries: &[Entry], active: Option<&str>) {
        format = "trundle-register",
        version = 1,
        thing = thing.word(),
        active = active,
        entries = entries,
    }
}
