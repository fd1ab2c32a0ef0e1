//! What the receiver's errors are like, learned from the seconds at rest.
//!
//! At rest the true position does not change, so every change of the printed one is error. The
//! mean square of that change over a short and over a longer span shows how much of it differs
//! from fix to fix and how fast the rest wanders. The receiver's own estimate (GST) is not used:
//! it is often absurd.

use super::prepare::Prepared;
use super::satellite::{ReceiverNoise, fixes_at, slow_m};
use crate::geodesy::LocalPlane;
use crate::timeline::lag::Lag;
use crate::timeline::timed_fix::TaggedFix;

/// The longer span, seconds: long against the noise of single fixes, within a ten-second rest; and
/// where rests are shorter, or a receiver that smooths leaves less of them.
const LONG_S: [f64; 2] = [4.0, 2.0];
/// Speed noise where none could be learned, m/s: poor receivers in the open, Hindawi IJNO
/// 2013/870365, table 6 (0.042 m/s RMS).
const SPEED_DEFAULT_M_S: f64 = 0.05;

/// Pairs of fixes at rest from which on there is something to learn from.
const RESTS_MIN: f64 = 20.0;
/// Part of a class's slow error that differs from fix to fix; common practice, no source.
const WHITE_SHARE: f64 = 0.3;

/// Learn from all passes of a job.
#[must_use]
pub fn learn(passes: &[Prepared<'_>], lag_s: f64, lag: Option<&Lag>) -> ReceiverNoise {
    let mut short = (0.0, 0.0, 0.0);
    let mut longer = [(0.0, 0.0, 0.0); LONG_S.len()];
    let mut quantum_m: f64 = 0.0;
    for pass in passes {
        for (stance, is_start) in [(pass.start, true), (pass.finish, false)] {
            if stance.is_standing() {
                let fixes = fixes_at(pass, stance, is_start, lag_s);
                squares(fixes, 0.0, &mut short);
                for (span_s, sum) in LONG_S.into_iter().zip(&mut longer) {
                    squares(fixes, span_s, sum);
                }
                quantum_m =
                    fixes.iter().map(|f| f.fix.position_quantum_m).fold(quantum_m, f64::max);
            }
        }
    }
    let (white_m2, walk_m2_s) = if short.2 < RESTS_MIN {
        // With no rest in the capture nothing can be learned: what its class of receiver usually
        // does, the slow error taken as having changed altogether from mark to mark.
        let slow = class_slow_m(passes);
        ((WHITE_SHARE * slow).powi(2), slow * slow)
    } else {
        // A digit rounds evenly within its quantum: variance q^2/12 that averaging does not see.
        let floor_m2 = quantum_m * quantum_m / 12.0;
        if let Some(long) = longer.into_iter().find(|sum| sum.2 > 0.0) {
            let (d1, t1) = (short.0 / short.2, short.1 / short.2);
            let (d2, t2) = (long.0 / long.2, long.1 / long.2);
            let walk_m2_s = ((d2 - d1) / (t2 - t1)).max(0.0);
            (floor_m2 + ((d1 - walk_m2_s * t1) / 2.0).max(0.0), walk_m2_s)
        } else {
            // Rests too short to see the slow error: that of the class, as without any rest.
            let white_m2 = floor_m2 + 0.5 * short.0 / short.2;
            (white_m2, class_slow_m(passes).powi(2))
        }
    };
    ReceiverNoise {
        white_m2,
        walk_m2_s,
        speed_m_s: lag.map_or(SPEED_DEFAULT_M_S, |lag| lag.speed_scatter_m_s),
        speed_correlation: lag.map_or(0.5, |lag| lag.residual_correlation),
    }
}

/// The largest slow error of the classes met, metres.
fn class_slow_m(passes: &[Prepared<'_>]) -> f64 {
    let qualities = passes.iter().flat_map(|p| &p.fixes).map(|f| slow_m(f.fix.quality));
    qualities.fold(0.0, f64::max)
}

/// Add up squared changes per axis over the span given (0: from fix to fix), the spans, and how
/// many there were.
fn squares(fixes: &[TaggedFix], span_s: f64, sum: &mut (f64, f64, f64)) {
    let Some(first) = fixes.first() else { return };
    let plane = LocalPlane::new(first.fix.lat_deg, first.fix.lon_deg, 0.0);
    for (i, a) in fixes.iter().enumerate() {
        let ahead = fixes[i + 1..].iter().find(|b| b.tag_s - a.tag_s >= span_s - 1e-6);
        if let Some(b) = ahead {
            let p = plane.enu(a.fix.lat_deg, a.fix.lon_deg);
            let q = plane.enu(b.fix.lat_deg, b.fix.lon_deg);
            let square = (p.east_m - q.east_m).powi(2) + (p.north_m - q.north_m).powi(2);
            sum.0 += square / 2.0;
            sum.1 += b.tag_s - a.tag_s;
            sum.2 += 1.0;
        }
    }
}
