//! `trundle-register`, version 1: things that are kept, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-register-1.schema.json`. Fields are only ever added.

use super::document::to_text;
use crate::rig::{Entry, Thing};
use serde::Serialize;

#[derive(Serialize)]
struct RegisterV1<'a> {
    format: &'static str,
    version: u32,
    thing: &'static str,
    active: Option<&'a str>,
    entries: &'a [Entry],
}

/// The object as one line of JSON, without a line end. Numbers are in the units of the register:
/// metres, kilopascal, kilogram, percent.
#[must_use]
pub fn to_json(thing: Thing, entries: &[Entry], active: Option<&str>) -> String {
    let format = "trundle-register";
    let value = RegisterV1 { format, version: 1, thing: thing.word(), active, entries };
    to_text(&value)
}
