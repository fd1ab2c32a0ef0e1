//! What the receiver's errors are like while it moves, found by holding three witnesses against
//! each other: speed, position and impulses.
//!
//! Over a few seconds the impulses show the distance far better than the satellite does, up to a
//! factor that changes slowly (the slip). So the difference of satellite distance and scaled
//! impulses from one run to the next is twice the noise of the integrated speed. Runs in
//! which the slip jumps are few, and a median does not see them. The difference of position and
//! integrated speed then shows what the positions add: how much differs from fix to fix, and how
//! fast the rest wanders.

use super::axle::{Trace, TraceStep, integrated};
use crate::stats::fit::robust::upper_median;
use crate::timeline::counts::CountCurve;

/// Length of a run, seconds: long against the memory of speed noise (half a second, common
/// practice, no source).
const RUN_S: f64 = 5.0;
/// From one run to the next, seconds.
const HOP_S: f64 = 1.0;
/// What a memory of half a second leaves of the white-noise value, from the variance of averages
/// of a first-order Gauss-Markov process over 5 s and the covariance of neighbours.
const MEMORY_SHARE: f64 = 0.85;
/// Slower than this no run is judged, m/s.
const MOVING_M_S: f64 = 0.7;
/// Speed changes by less than this inside two runs, m/s.
const STEADY_M_S: f64 = 0.3;
/// Pairs needed.
const PAIRS_MIN: usize = 10;
/// Median of the square of a standard normal number.
const MEDIAN_CHI2: f64 = 0.454_936;
/// Growth of the variance of integrated speed where nothing can be learned, m2/s: 0.05 m/s with a
/// memory of half a second (Hindawi IJNO 2013/870365, table 6: 0.042 m/s RMS).
const SPEED_WALK_M2_S: f64 = 2.5e-3;
/// The two spans over which position and integrated speed are compared, seconds.
const SPANS_S: (f64, f64) = (1.0, 8.0);

/// Errors of a moving receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotionNoise {
    /// Growth per second of the variance of the integrated speed, m2/s.
    pub speed_walk_m2_s: f64,
    /// Variance per axis of a position's part that differs from fix to fix, m2.
    pub white_m2: f64,
    /// Growth per second of the variance of the difference of two positions, per axis, m2/s.
    pub walk_m2_s: f64,
}

/// Learn from all traces. `curves` are those of the sensors that turn with the ground, any of
/// which may be missing impulses or slipping: the one that agrees best is taken.
#[must_use]
pub fn learn(traces: &[(Trace, Vec<&CountCurve>)]) -> MotionNoise {
    let sensors = traces.iter().map(|t| t.1.len()).max().unwrap_or(0);
    let walks = (0..sensors).filter_map(|n| speed_walk_m2_s(traces, n));
    let speed_walk_m2_s = walks.fold(f64::INFINITY, f64::min);
    let speed_walk_m2_s =
        if speed_walk_m2_s.is_finite() { speed_walk_m2_s } else { SPEED_WALK_M2_S };
    let (near, far) = (parting_m2(traces, SPANS_S.0), parting_m2(traces, SPANS_S.1));
    let (Some(near), Some(far)) = (near, far) else {
        // Positions then count for nothing.
        return MotionNoise { speed_walk_m2_s, white_m2: 1.0, walk_m2_s: 1.0 };
    };
    let growth = ((far - near) / (SPANS_S.1 - SPANS_S.0)).max(0.0);
    MotionNoise {
        speed_walk_m2_s,
        white_m2: ((near - growth * SPANS_S.0) / 2.0).max(1e-6),
        walk_m2_s: (growth - speed_walk_m2_s).max(0.1 * growth),
    }
}

/// Growth of the variance of integrated speed by one sensor, m2/s.
fn speed_walk_m2_s(traces: &[(Trace, Vec<&CountCurve>)], sensor: usize) -> Option<f64> {
    let mut squares = Vec::new();
    for (trace, curves) in traces {
        let Some(curve) = curves.get(sensor) else { continue };
        let way = forward_m(trace);
        let hop = ((HOP_S / trace.interval_s).round() as usize).max(1);
        let span = ((RUN_S / trace.interval_s).round() as usize).max(2);
        for from in (0..trace.steps.len().saturating_sub(2 * span)).step_by(hop) {
            let [a, b, c] = [from, from + span, from + 2 * span];
            let inside = &trace.steps[a..=c];
            let slowest = inside.iter().map(|s| s.speed_m_s).fold(f64::INFINITY, f64::min);
            let fastest = inside.iter().map(|s| s.speed_m_s).fold(0.0, f64::max);
            if slowest < MOVING_M_S || fastest - slowest > STEADY_M_S {
                continue;
            }
            let at = |i: usize| curve.at(trace.steps[i].at_s);
            let (Some(na), Some(nb), Some(nc)) = (at(a), at(b), at(c)) else { continue };
            if nc - na < 10.0 {
                continue;
            }
            // Impulses scaled to the distance of both runs together: only the difference of
            // the halves remains.
            let scale = (way[c] - way[a]) / (nc - na);
            let half = |i: usize, j: usize, n: f64| way[j] - way[i] - scale * n;
            let parting_m = half(b, c, nc - nb) - half(a, b, nb - na);
            squares.push(parting_m * parting_m);
        }
    }
    let variance = median(squares)? / MEDIAN_CHI2;
    Some(variance / (2.0 * RUN_S * MEMORY_SHARE))
}

/// Median variance per axis of the parting of position and integrated speed over a span, m2.
fn parting_m2(traces: &[(Trace, Vec<&CountCurve>)], span_s: f64) -> Option<f64> {
    let mut squares = Vec::new();
    for (trace, _) in traces {
        let carried = carried_m(trace);
        let span = ((span_s / trace.interval_s).round() as usize).max(1);
        for (i, pair) in trace.steps.windows(span + 1).enumerate() {
            let (a, b) = (&pair[0], &pair[span]);
            if pair.iter().any(|step| step.speed_m_s < MOVING_M_S) || a.quality != b.quality {
                continue;
            }
            let (p, q) = (carried[i], carried[i + span]);
            squares.push((b.antenna.east_m - a.antenna.east_m - (q.0 - p.0)).powi(2));
            squares.push((b.antenna.north_m - a.antenna.north_m - (q.1 - p.1)).powi(2));
        }
    }
    Some(median(squares)? / MEDIAN_CHI2)
}

fn median(values: Vec<f64>) -> Option<f64> {
    if values.len() >= PAIRS_MIN { upper_median(values) } else { None }
}

/// Metres along the heading up to each step, by the integrated speed.
#[must_use]
pub fn forward_m(trace: &Trace) -> Vec<f64> {
    integrated(&trace.steps, TraceStep::forward_m_s)
}

/// East and north up to each step, by the integrated velocity, metres.
#[must_use]
pub fn carried_m(trace: &Trace) -> Vec<(f64, f64)> {
    let east = integrated(&trace.steps, |step| step.speed_m_s * step.track_rad.sin());
    let north = integrated(&trace.steps, |step| step.speed_m_s * step.track_rad.cos());
    east.into_iter().zip(north).collect()
}
