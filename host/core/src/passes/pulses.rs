//! Impulses that never came, and impulses that should not have: judged from the edge times.
//!
//! A tractor cannot change its speed from one impulse to the next. So between two reports the
//! number of impulses is predicted by the rate just before and just after; where one is
//! missing, the count falls short of that by one, and where a false one came it is one too many.
//! Nothing is ever filled in: what is found is reported, and the counts stay as they are.

use crate::stats::fit::robust::upper_median_of;
use crate::timeline::counts::CountCurve;

/// Below this rate the tractor is all but standing, impulses per second.
const RATE_MIN_HZ: f64 = 10.0;
/// A shortfall from here on is a missing impulse, at the least.
const ONE: f64 = 0.6;
/// Or this many times the usual size of the shortfall, where the sensor itself is uneven.
const USUAL: f64 = 6.0;
/// The usual size above which nothing can be determined of single impulses.
const USUAL_MAX: f64 = 0.12;
/// Least intervals between reports to judge by.
const INTERVALS_MIN: usize = 50;
/// Longest step between reports that is judged, impulses: over a longer one the speed may change.
const STEP_MAX: f64 = 24.0;

/// What the edge times say of the counts between two instants.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PulseFaults {
    /// Impulses that are missing, about.
    pub missing: f64,
    /// Impulses too many, about.
    pub extra: f64,
    /// Impulses counted in the intervals judged.
    pub judged: f64,
}

/// Judge a channel between two board seconds; `None` where single impulses cannot be determined: no
/// edge times, too few reports, or a sensor whose impulses come unevenly by nature.
#[must_use]
pub fn judge(curve: &CountCurve, from_s: f64, to_s: f64) -> Option<PulseFaults> {
    if !curve.is_exact() {
        return None;
    }
    let (mut intervals, mut judged) = (0, 0.0);
    // What may be odd: the limit is known only at the end.
    let mut odd = Vec::new();
    for (short, impulses) in shortfalls(curve, from_s, to_s) {
        intervals += 1;
        judged += impulses;
        if short.abs() > ONE {
            odd.push(short);
        }
    }
    if intervals < INTERVALS_MIN {
        return None;
    }
    let usual = upper_median_of(|| shortfalls(curve, from_s, to_s).map(|(short, _)| short.abs()))?;
    if usual > USUAL_MAX {
        return None;
    }
    let limit = ONE.max(USUAL * usual);
    let whole = |sign: f64| -> f64 {
        odd.iter().map(|s| s * sign).filter(|s| *s > limit).map(f64::round).sum()
    };
    Some(PulseFaults { missing: whole(1.0), extra: whole(-1.0), judged })
}

/// By how many impulses each interval that can be judged falls short, and how many it has.
fn shortfalls(curve: &CountCurve, from_s: f64, to_s: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
    let knots = curve.knots();
    let first = knots.partition_point(|k| k.0 < from_s);
    let last = knots.partition_point(|k| k.0 <= to_s);
    let steps = knots.from(first).zip(knots.from(first + 1)).map(|(a, b)| (b.0 - a.0, b.1 - a.1));
    let mut near = [(0.0, 0.0); 5];
    let judged = move |(n, step): (usize, (f64, f64))| {
        near.rotate_left(1);
        near[4] = step;
        if n < 4 {
            return None;
        }
        let middle = near[2];
        let mut around = [near[0], near[1], near[3], near[4]].map(|step| step.1 / step.0);
        around.sort_by(f64::total_cmp);
        // The middle two of four: one neighbour that lacks an impulse does not move them.
        let expected_hz = f64::midpoint(around[1], around[2]);
        let steady = around[3] < 1.5 * around[0];
        let told = expected_hz > RATE_MIN_HZ && steady && middle.1 <= STEP_MAX;
        told.then_some((expected_hz * middle.0 - middle.1, middle.1))
    };
    let length = last.saturating_sub(first).saturating_sub(1);
    steps.take(length).enumerate().filter_map(judged)
}
