//! The value left in the terminal: as it was typed, and as the proof drive of the visit found it.

use super::part_v1::{PartMethodV1, PartV1};
use super::record_v1::RecordV1;
use super::sign_off::SAME_FIGURE;
use crate::stats::budget::rounding::round_pair;
use crate::survey::proof::Taken;

/// So many half-widths (95 %) from the value in force lies what cannot be it: as seldom wrong as
/// the trial of a value by the proof drive itself.
const OUTSIDE: f64 = 2.0;
/// In lists: the proof drive found another value in force than the one typed as left.
pub const OTHER_VALUE: &str = "other_value";

/// What a proof drive says against the value typed as left, in a clause; nothing of other parts.
#[must_use]
pub fn contradicted(part: &PartV1, as_left: Option<f64>) -> Option<String> {
    let PartMethodV1::Proof(how) = &part.method else { return None };
    let (left, read) = (as_left?, part.read().ok()?);
    let measured = if how.known().entered().is_some_and(|keyed| same(keyed, left)) {
        let verdict = read.line("as_left")?.also.join("; ");
        (read.state == "did_not_take").then_some(verdict)
    } else {
        let (value, half) = read.line("in_force")?.value?;
        let outside = (left - value).abs() > OUTSIDE * half && !same(left, value);
        let value = round_pair(value, half);
        outside.then(|| format!("it works with {value} impulses per 100 m"))
    };
    let measured = measured?;
    Some(format!("typed as left in the terminal: {left}; as left, measured: {measured}"))
}

/// What the proof drive of a record found, in one word: the state of its document, or
/// [`OTHER_VALUE`]; `None` without a proof drive that can be read.
#[must_use]
pub fn measured(record: &RecordV1) -> Option<&'static str> {
    let part = record.part("proof")?;
    let state = part.read().ok()?.state;
    let known = [Taken::Took, Taken::TookButOff, Taken::DidNotTake, Taken::CannotTell];
    let taken = known.into_iter().find(|taken| taken.code() == state)?;
    let other = taken != Taken::DidNotTake && contradicted(part, record.as_left).is_some();
    Some(if other { OTHER_VALUE } else { taken.code() })
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < SAME_FIGURE
}
