//! The one axis: where counts and fixes lie on it.

use super::fault::ImportFault;
use super::receiver::Recording;
use super::summary::Clocks;
use super::table::CountsTable;
use crate::timeline::join::{Join, explained_at, join};
use crate::units::rfc3339;

/// A clock given as UTC is looked after this far either side, seconds: leap seconds left out,
/// a computer's clock set by hand.
const LOOK_S: f64 = 120.0;
/// Off by more than this, a clock given as UTC is put right, seconds. What is less, the work on
/// the capture finds by itself.
const PUT_RIGHT_S: f64 = 0.7;
/// Foretelling less than this share of the speed's changes, counts do not belong to the fixes.
const UNRELIABLE: f64 = 0.5;

/// The axis of a capture that is being made.
#[derive(Debug)]
pub(super) struct Axis {
    /// UTC at host time 0, nanoseconds since 1970.
    pub(super) zero_utc_ns: i64,
    /// How the clocks were combined.
    pub(super) clocks: Clocks,
    /// UTC of second 0 on the satellite side of the join.
    satellite_origin_ns: i64,
    /// Table time of second 0 on the counts' side.
    counts_origin_ns: i64,
    join: Option<Join>,
}

impl Axis {
    /// UTC of a time in the counts table (or in a marks table of the same clock).
    pub(super) fn counts_utc_ns(&self, line_ns: i64) -> i64 {
        let Some(join) = self.join else { return line_ns };
        let count_s = (line_ns - self.counts_origin_ns) as f64 * 1e-9;
        self.satellite_origin_ns + (join.satellite_s(count_s) * 1e9).round() as i64
    }

    /// Host time of a UTC; nothing lies before 0.
    pub(super) fn host_ns(&self, utc_ns: i64) -> u64 {
        u64::try_from(utc_ns - self.zero_utc_ns).unwrap_or(0)
    }
}

/// Join the clocks.
///
/// # Errors
/// [`ImportFault`] when they cannot be combined.
pub(super) fn axis(
    recording: &Recording<'_>,
    counts: &CountsTable<'_>,
    remarks: &mut Vec<String>,
) -> Result<Axis, ImportFault> {
    let satellite_origin_ns = recording.span_ns().0;
    let counts_span_ns = counts.table.span_ns();
    let motion = counts.motion(counts_span_ns.0)?;
    let speeds = recording.speeds(satellite_origin_ns);
    let (found, clocks) = if counts.table.is_utc {
        overlap(recording, counts_span_ns)?;
        given(&motion, &speeds, (counts_span_ns.0 - satellite_origin_ns) as f64 * 1e-9, remarks)
    } else {
        let found = join(&motion, &speeds, None).map_err(ImportFault::Join)?;
        let clocks = Clocks::Matched {
            offset_s: satellite_origin_ns as f64 * 1e-9 + found.offset_s
                - counts_span_ns.0 as f64 * 1e-9,
            join: found,
        };
        (Some(found), clocks)
    };
    let mut axis = Axis {
        zero_utc_ns: 0,
        clocks,
        satellite_origin_ns,
        counts_origin_ns: counts_span_ns.0,
        join: found,
    };
    axis.zero_utc_ns = satellite_origin_ns.min(axis.counts_utc_ns(counts_span_ns.0));
    Ok(axis)
}

fn overlap(recording: &Recording<'_>, counts_ns: (i64, i64)) -> Result<(), ImportFault> {
    let receiver_ns = recording.span_ns();
    if counts_ns.0 < receiver_ns.1 && receiver_ns.0 < counts_ns.1 {
        return Ok(());
    }
    let words = |span: (i64, i64)| (rfc3339(span.0), rfc3339(span.1));
    Err(ImportFault::Apart { counts: words(counts_ns), receiver: words(receiver_ns) })
}

/// Look after a clock that was given as UTC: take it, or put it right where the speeds say
/// for certain that it is off.
fn given(
    motion: &[(f64, f64)],
    speeds: &[(f64, f64)],
    nominal_s: f64,
    remarks: &mut Vec<String>,
) -> (Option<Join>, Clocks) {
    let look = (nominal_s - LOOK_S, nominal_s + LOOK_S);
    if let Ok(found) = join(motion, speeds, Some(look))
        && (found.offset_s - nominal_s).abs() > PUT_RIGHT_S
    {
        let off_s = found.offset_s - nominal_s;
        let way = if off_s > 0.0 { "behind" } else { "ahead of" };
        remarks.push(format!(
            "The counts' utc is {:.1} s {way} the receiver's by their speeds; the counts were \
             moved to fit.",
            off_s.abs()
        ));
        return (Some(found), Clocks::UtcPutRight { off_s, join: found });
    }
    let explained = explained_at(motion, speeds, nominal_s);
    if explained.is_some_and(|share| share < UNRELIABLE) {
        remarks.push(
            "At the times given, the counts and the satellite speed do not fit each other: check \
             that both are of one drive and that the counts' clock was set."
                .to_owned(),
        );
    }
    (None, Clocks::Utc { explained })
}
