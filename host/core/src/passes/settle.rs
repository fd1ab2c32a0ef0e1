//! How long the receiver's positions go on after the tractor has stopped.
//!
//! A receiver that smooths its positions (a filter of a second or two) shows the tractor still
//! rolling when it stands: the mean position of a rest that begins a second after the stop lies
//! short of the peg by some centimetres. What is seen of it at the stops themselves says how long
//! to wait: the first half of what is used of each rest against its second half, along the line
//! driven, over all stops of the job.

use super::prepare::{Prepared, SETTLE_S};
use super::rest::Stance;
use super::satellite::{fixes_at, fixes_settled};
use crate::geodesy::{LocalPlane, inverse};
use crate::timeline::timed_fix::TaggedFix;

/// Waits that are tried, seconds.
const LADDER_S: [f64; 6] = [SETTLE_S, 2.0, 3.0, 4.5, 6.0, 8.0];
/// Going on by less than this does not matter, metres.
const STILL_M: f64 = 0.004;
/// Going on beyond this many standard deviations of its mean is not chance.
const CHANCE: f64 = 4.0;
/// Least fixes in each half of a rest.
const HALF_MIN: usize = 3;
/// Stops that must show it.
const STOPS_MIN: usize = 2;

/// What the stops of a job show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settling {
    /// Seconds after a stop from which on positions are used.
    pub settle_s: f64,
    /// What they still go on by from then on, metres; 0 where nothing is seen.
    pub left_m: f64,
}

/// Learn from the stops at the finish marks.
#[must_use]
pub fn measure(passes: &[Prepared<'_>], lag_s: f64) -> Settling {
    let mut best = Settling { settle_s: SETTLE_S, left_m: 0.0 };
    for settle_s in LADDER_S {
        let seen: Vec<f64> =
            passes.iter().filter_map(|pass| going_on_m(pass, settle_s, lag_s)).collect();
        let n = seen.len() as f64;
        if seen.len() < STOPS_MIN {
            return best;
        }
        let mean_m = seen.iter().sum::<f64>() / n;
        let squares: f64 = seen.iter().map(|m| (m - mean_m).powi(2)).sum();
        let u_m = (squares / (n - 1.0) / n).sqrt();
        if mean_m < STILL_M.max(CHANCE * u_m) {
            // Still within chance; an earlier step that saw it has been waited out.
            return Settling { settle_s, left_m: 0.0 };
        }
        best = Settling { settle_s, left_m: mean_m };
    }
    best
}

/// How far the second half of a rest lies ahead of the first, along the line driven.
fn going_on_m(pass: &Prepared<'_>, settle_s: f64, lag_s: f64) -> Option<f64> {
    let Stance::Standing { from_s, .. } = pass.finish else { return None };
    let used = fixes_settled(pass, pass.finish, false, lag_s, settle_s);
    let start = fixes_at(pass, pass.start, true, lag_s).last()?;
    let moving = pass.fixes.iter().rfind(|f| f.tag_s - lag_s < from_s)?;
    let place = |f: &TaggedFix| (f.fix.lat_deg, f.fix.lon_deg);
    let azimuth = inverse(place(start), place(moving)).azimuth_deg.to_radians();
    let plane = LocalPlane::new(moving.fix.lat_deg, moving.fix.lon_deg, 0.0);
    let along = |f: &TaggedFix| {
        let at = plane.enu(f.fix.lat_deg, f.fix.lon_deg);
        at.east_m * azimuth.sin() + at.north_m * azimuth.cos()
    };
    let (first, second) = used.split_at(used.len() / 2);
    let mean = |half: &[TaggedFix]| half.iter().map(along).sum::<f64>() / half.len() as f64;
    (first.len() >= HALF_MIN).then(|| mean(second) - mean(first))
}
