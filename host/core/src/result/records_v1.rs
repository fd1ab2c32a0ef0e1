//! `trundle-records`, version 1: a list of records as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-records-1.schema.json`. Fields are only ever added.

use super::document::{objects, to_text};
use serde::Serialize;

/// The state of a record of which nothing can be believed.
pub const DAMAGED: &str = "damaged";

/// One record of the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecordRow {
    /// The identity of the record.
    pub id: String,
    /// When it was signed off, RFC 3339, UTC.
    pub issued_utc: String,
    /// Name of its rig.
    pub rig: String,
    /// The sensor, `wheel` or `radar`; empty without a course.
    pub channel: String,
    /// Value to enter, impulses per 100 m.
    pub to_enter: Option<i64>,
    /// Half-width of its interval, impulses per 100 m.
    pub expanded_uncertainty: Option<f64>,
    /// What else was measured, by the words of the parts.
    pub parts: Vec<String>,
    /// What the proof drive found of the value left in the terminal, in one word
    /// ([`super::as_left::measured`]).
    pub as_left_measured: Option<String>,
    /// State, either `valid` or `flagged`; [`DAMAGED`] where neither the record nor what stands
    /// beside it can be believed: then nothing but `id` and `damage` says anything, as far as
    /// they can be read.
    pub state: String,
    /// Made with the simulator.
    pub practice: bool,
    /// The record that it takes the place of.
    pub amends: Option<String>,
    /// The record that takes its place.
    pub amended_by: Option<String>,
    /// What is wrong with it, where something is.
    pub damage: Option<String>,
}

/// The object as one line of JSON, without a line end. `more` records are not in the list.
#[must_use]
pub fn to_json(records: &[RecordRow], more: usize) -> String {
    to_text(&records_v1(records, more))
}

objects! {
    records_v1(records: &[RecordRow], more: usize) {
        format = "trundle-records",
        version = 1,
        records = records,
        more = more,
    }
}
