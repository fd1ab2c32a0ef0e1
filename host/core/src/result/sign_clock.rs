//! What speaks against the computer's clock when a record is signed off.
//!
//! The date of a record is that of the computer, and a record is found, named and put in order by
//! it. It cannot be earlier than this program, than the measurement, or than a record signed off
//! before.

use super::sign_off::Said;
use crate::wire::clock_offset::{LIMIT_NS, MADE_UTC_NS};

/// What speaks against the date it is signed off at, in sentences; `None` when nothing does. Each
/// capture began at one of `started_utc` by the computer's clock.
pub(super) fn against<'a>(
    said: &Said,
    started_utc: impl Iterator<Item = &'a str>,
) -> Option<String> {
    let mut found = Vec::new();
    let issued = instant(&said.issued_utc)?;
    if issued < MADE_UTC_NS {
        found.push("that is before this program was made".to_owned());
    }
    let trusted = said.clocks.filter(|clocks| !clocks.receiver_is_wrong());
    let began = started_utc.filter_map(|started| Some((instant(started)?, started))).max();
    if let Some(clocks) = trusted
        && is_before(issued, clocks.receiver_utc_ns)
    {
        found.push("that is before the measurement, by the receiver's time".to_owned());
    } else if let Some((began, started)) = began
        && trusted.is_none()
        && is_before(issued, began)
    {
        found.push(format!("that is before the measurement began ({})", words(started)));
    }
    if let Some(newest) = &said.newest_utc
        && instant(newest).is_some_and(|newest| is_before(issued, newest))
    {
        found.push(format!("another record was signed off later already ({})", words(newest)));
    }
    if let Some(clocks) = said.clocks {
        found.push(format!("while it was recorded, {clocks}"));
    }
    (!found.is_empty()).then(|| {
        let when = words(&said.issued_utc);
        format!("The date {when} may be wrong: {}.", found.join("; "))
    })
}

/// By more than clocks may lie apart.
fn is_before(issued_ns: i64, other_ns: i64) -> bool {
    issued_ns < other_ns.saturating_sub(LIMIT_NS)
}

fn instant(utc: &str) -> Option<i64> {
    chrono::DateTime::parse_from_rfc3339(utc).ok()?.timestamp_nanos_opt()
}

/// Date and time to the minute. It was an instant before.
fn words(utc: &str) -> String {
    let text: String = utc.chars().take(16).collect();
    text.replace('T', " ") + " UTC"
}
