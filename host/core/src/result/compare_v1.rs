//! `trundle-compare`, version 1: what is different between two records.
//!
//! The schema stands in `host/schemas/trundle-compare-1.schema.json`. Fields are only ever added.

use super::document::to_text;
use super::part_read::PartLine;
use super::part_v1::{PartMethodV1, PartV1};
use super::record_v1::RecordV1;
use super::work_v1::WorkV1;
use crate::stats::fit::agreement;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Two records side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Format word, always `trundle-compare`.
    pub format: &'static str,
    /// Format version, which is 1.
    pub version: u32,
    /// Identities, the first named first.
    pub records: [String; 2],
    /// Their calibration values, where they are of the same sensor.
    pub value: Option<Values>,
    /// Everything else that was written down and differs: where it stands, and both values.
    pub differences: Vec<Difference>,
}

/// Two calibration values of one sensor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Values {
    /// The sensor that is meant.
    pub channel: String,
    /// Impulses per 100 m.
    pub impulses_per_100m: [f64; 2],
    /// Half-widths of their intervals, impulses per 100 m.
    pub expanded_uncertainty: [f64; 2],
    /// Second over first, less 1.
    pub change: f64,
    /// Magnitude of the difference over its expanded uncertainty (ISO 13528, E_n).
    pub normalised_error: f64,
    /// Significant: normalised error beyond 1.
    pub significant: bool,
}

/// Something written down that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Where it stands in the record, such as `rig.tyres.inflation`.
    pub at: String,
    /// Its value in the first.
    pub first: Option<String>,
    /// Its value in the second.
    pub second: Option<String>,
}

/// A record, and the result of its course where it holds one.
type Of<'a> = (&'a RecordV1, Option<&'a WorkV1>);

/// Compare two records by their contents.
#[must_use]
pub fn compare(first: Of<'_>, second: Of<'_>) -> Compared {
    Compared {
        format: "trundle-compare",
        version: 1,
        records: [first.0.id.clone(), second.0.id.clone()],
        value: values(first, second),
        differences: differences(first.0, second.0),
    }
}

/// The object as one line of JSON, without a line end.
#[must_use]
pub fn to_json(compared: &Compared) -> String {
    to_text(compared)
}

fn values(first: Of<'_>, second: Of<'_>) -> Option<Values> {
    if first.0.channel != second.0.channel {
        return None;
    }
    let [a, b] = [first, second].map(|(record, work)| record.best_of(work?));
    let (a, b) = (a?, b?);
    let values = [a.impulses_per_100m, b.impulses_per_100m];
    let expanded = [a.expanded_uncertainty, b.expanded_uncertainty];
    // What both share, such as the tape, is not known any more: taken as if they shared nothing,
    // the difference is doubted rather too much than too little.
    let found = agreement::normalised_error(values[1], expanded[1], values[0], expanded[0], 0.0);
    Some(Values {
        channel: first.0.channel.clone()?,
        impulses_per_100m: values,
        expanded_uncertainty: expanded,
        change: values[1] / values[0] - 1.0,
        normalised_error: found.normalised_error,
        significant: !found.agrees,
    })
}

/// Leaves of the two objects that differ, but for what is different in every record; of the parts
/// what they say and how they were calculated.
fn differences(first: &RecordV1, second: &RecordV1) -> Vec<Difference> {
    let (a, b) = (leaves(first), leaves(second));
    let mut names: Vec<&String> = a.keys().chain(b.keys()).collect();
    names.sort();
    names.dedup();
    let differs = names.into_iter().filter(|name| a.get(*name) != b.get(*name));
    differs
        .map(|name| Difference {
            at: name.clone(),
            first: a.get(name).cloned(),
            second: b.get(name).cloned(),
        })
        .collect()
}

fn leaves(record: &RecordV1) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    if let Ok(Value::Object(mut object)) = serde_json::to_value(record) {
        for own in ["id", "issued_utc", "work", "capture", "amends", "format", "version", "parts"] {
            object.remove(own);
        }
        walk("", &Value::Object(object), &mut found);
    }
    record.parts.iter().for_each(|part| part_leaves(part, &mut found));
    found
}

fn part_leaves(part: &PartV1, found: &mut BTreeMap<String, String>) {
    let at = format!("parts.{}", part.method.word());
    if let Ok(Value::Object(mut method)) = serde_json::to_value(&part.method) {
        method.remove("name");
        if let PartMethodV1::Proof(how) = &part.method {
            // A list of objects: for people in words.
            method.remove("known");
            method.extend(how.known_words().map(|words| ("known".to_owned(), words.into())));
        }
        walk(&format!("{at}.method"), &Value::Object(method), found);
    }
    found.extend(part.flag.iter().map(|flag| (format!("{at}.flag"), flag.clone())));
    match part.read() {
        Ok(read) => {
            let line = |line: PartLine| (format!("{at}.{}", line.key), line.to_string());
            found.extend(read.lines.into_iter().map(line));
        }
        Err(fault) => drop(found.insert(at, fault.to_string())),
    }
}

fn walk(at: &str, value: &Value, found: &mut BTreeMap<String, String>) {
    match value {
        Value::Object(object) => {
            for (key, value) in object {
                let below = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                walk(&below, value, found);
            }
        }
        Value::Null => {}
        Value::String(text) => {
            found.insert(at.to_owned(), text.clone());
        }
        other => {
            found.insert(at.to_owned(), other.to_string());
        }
    }
}
