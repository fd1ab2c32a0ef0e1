//! Impulses that never came, and impulses that should not have: judged from the edge times.
//!
//! A tractor cannot change its speed from one impulse to the next. So between two reports the
//! number of impulses is predicted by the rate just before and just after; where one is
//! missing, the count falls short of that by one, and where a false one came it is one too many.
//! Nothing is ever filled in: what is found is reported, and the counts stay as they are.

use crate::stats::fit::robust::upper_median;
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
    let knots = curve.knots();
    let first = knots.partition_point(|k| k.0 < from_s);
    let last = knots.partition_point(|k| k.0 <= to_s);
    let steps: Vec<(f64, f64)> = knots[first..last.max(first)]
        .windows(2)
        .map(|w| (w[1].0 - w[0].0, w[1].1 - w[0].1))
        .collect();
    let rate = |step: &(f64, f64)| step.1 / step.0;
    let mut short = Vec::new();
    let mut judged = 0.0;
    for i in 2..steps.len().saturating_sub(2) {
        let mut around = [i - 2, i - 1, i + 1, i + 2].map(|j| rate(&steps[j]));
        around.sort_by(f64::total_cmp);
        // The middle two of four: one neighbour that lacks an impulse does not move them.
        let expected_hz = f64::midpoint(around[1], around[2]);
        let steady = around[3] < 1.5 * around[0];
        if expected_hz > RATE_MIN_HZ && steady && steps[i].1 <= STEP_MAX {
            short.push(expected_hz * steps[i].0 - steps[i].1);
            judged += steps[i].1;
        }
    }
    if short.len() < INTERVALS_MIN {
        return None;
    }
    let usual = upper_median(short.iter().map(|s| s.abs()).collect())?;
    if usual > USUAL_MAX {
        return None;
    }
    let limit = ONE.max(USUAL * usual);
    let whole = |sign: f64| -> f64 {
        short.iter().map(|s| s * sign).filter(|s| *s > limit).map(f64::round).sum()
    };
    Some(PulseFaults { missing: whole(1.0), extra: whole(-1.0), judged })
}
