//! The one axis: where counts and fixes lie on it.

use super::fault::ImportFault;
use super::receiver::Recording;
use super::summary::Clocks;
use super::table::{CountsTable, Motion, Table};
use crate::timeline::join::{Join, JoinRefusal, explained_at, join};
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
    /// The counts carry UTC.
    counts_is_utc: bool,
}

impl Axis {
    /// UTC of a time in the counts table (or in a marks table of the same clock).
    pub(super) fn counts_utc_ns(&self, line_ns: i64) -> i64 {
        let Some(join) = self.join else { return line_ns };
        let count_s = (line_ns - self.counts_origin_ns) as f64 * 1e-9;
        self.satellite_origin_ns + (join.satellite_s(count_s) * 1e9).round() as i64
    }

    /// UTC of a time in the marks table. One clock wrote counts and marks of the same kind of time,
    /// so what moves the counts moves the marks.
    pub(super) fn marks_utc_ns(&self, marks: &Table<'_>, line_ns: i64) -> i64 {
        if marks.is_utc == self.counts_is_utc { self.counts_utc_ns(line_ns) } else { line_ns }
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
    motions: &[Motion],
    remarks: &mut Vec<String>,
) -> Result<Axis, ImportFault> {
    let satellite_origin_ns = recording.span_ns().0;
    let counts_span_ns = counts.table.span_ns();
    let speeds = recording.speeds(satellite_origin_ns);
    let (found, clocks) = if counts.table.is_utc {
        overlap(recording, counts_span_ns)?;
        given(motions, &speeds, (counts_span_ns.0 - satellite_origin_ns) as f64 * 1e-9, remarks)
    } else {
        let found = join_any(motions, &speeds, None).map_err(ImportFault::Join)?;
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
        counts_is_utc: counts.table.is_utc,
    };
    axis.zero_utc_ns = satellite_origin_ns.min(axis.counts_utc_ns(counts_span_ns.0));
    Ok(axis)
}

/// Join by the channel that shows the offset best: where the wheels slip, that is the radar.
///
/// # Errors
/// The refusal of the first channel when none shows it.
fn join_any(
    motions: &[Motion],
    speeds: &[(f64, f64)],
    within_s: Option<(f64, f64)>,
) -> Result<Join, JoinRefusal> {
    let mut refusal = None;
    let mut best: Option<Join> = None;
    for motion in motions {
        match join(motion, speeds, within_s) {
            Ok(found)
                if best.is_none_or(|best| {
                    found.standard_uncertainty_s < best.standard_uncertainty_s
                }) =>
            {
                best = Some(found)
            }
            Ok(_) => {}
            Err(why) => refusal = refusal.or(Some(why)),
        }
    }
    best.ok_or(refusal.unwrap_or(JoinRefusal::TooShort))
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
    motions: &[Motion],
    speeds: &[(f64, f64)],
    nominal_s: f64,
    remarks: &mut Vec<String>,
) -> (Option<Join>, Clocks) {
    let look = (nominal_s - LOOK_S, nominal_s + LOOK_S);
    if let Ok(found) = join_any(motions, speeds, Some(look))
        && (found.offset_s - nominal_s).abs() > PUT_RIGHT_S
    {
        let off_s = found.offset_s - nominal_s;
        let way = if off_s > 0.0 { "behind" } else { "ahead of" };
        remarks.push(format!(
            "The counts' utc is {:.1} s {way} the receiver's by their speeds; the counts, \
             and marks with utc, were moved to fit.",
            off_s.abs()
        ));
        return (Some(found), Clocks::UtcPutRight { off_s, join: found });
    }
    let shares = motions.iter().filter_map(|motion| explained_at(motion, speeds, nominal_s));
    let explained = shares.reduce(f64::max);
    if explained.is_some_and(|share| share < UNRELIABLE) {
        remarks.push(
            "At the times given, the counts and the satellite speed do not fit each other: check \
             that both are of one drive and that the counts' clock was set."
                .to_owned(),
        );
    }
    (None, Clocks::Utc { explained })
}
