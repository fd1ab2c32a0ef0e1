//! What the receiver's errors are like while it moves, found by holding three witnesses against
//! each other: speed, position and impulses.
//!
//! Over a few seconds the impulses show the distance far better than the satellite does, up to a
//! factor that changes slowly (the slip). So the difference of satellite distance and scaled
//! impulses from one run to the next is twice the noise of the integrated speed. Runs in
//! which the slip jumps are few, and a median does not see them. The difference of position and
//! integrated speed then shows what the positions add: how much differs from fix to fix, and how
//! fast the rest wanders. A receiver is another one without its corrections: each kind of fix has
//! its own errors.

use super::axle::{Trace, TraceStep};
use super::sums::{Carry, Sums};
use crate::stats::fit::robust::upper_median;
use crate::timeline::counts::{CountCurve, Counts, WHOLE_COUNT_U};
use crate::wire::fix::Quality;

/// Memory of speed noise, seconds; common practice, no source.
const SPEED_MEMORY_S: f64 = 0.5;
/// Length of a run, seconds: long against that memory.
const RUN_S: f64 = 5.0;
/// From one run to the next, seconds.
const HOP_S: f64 = 1.0;
/// Length of a short run, seconds: long enough to see an antenna that rocks.
const SHORT_RUN_S: f64 = 1.0;
/// Impulses in two runs, at the least.
const IMPULSES_MIN: f64 = 10.0;
/// Slower than this no run is judged, m/s.
const MOVING_M_S: f64 = 0.7;
/// Speed changes by less than this inside two runs, m/s.
const STEADY_M_S: f64 = 0.3;
/// Or by less than this share of it, on the road.
const STEADY_SHARE: f64 = 0.05;
/// Squares of fast and slow speeds this far apart show what grows with the speed.
const RANGE: f64 = 2.0;
/// Pairs needed.
const PAIRS_MIN: usize = 10;
/// Least share of what is seen that is the receiver's own, where whole counts explain the rest.
const OWN_LEAST: f64 = 0.1;
/// Median of the square of a standard normal number.
const MEDIAN_CHI2: f64 = 0.454_936;
/// Growth of the variance of integrated speed where nothing can be learned, m2/s: 0.05 m/s with a
/// memory of half a second (Hindawi IJNO 2013/870365, table 6: 0.042 m/s RMS). Positions then
/// count for nothing.
const UNKNOWN: MotionNoise = MotionNoise {
    speed_walk_m2_s: 2.5e-3,
    white_m2: 1.0,
    walk_m2_s: 1.0,
    ends: Ends { still_m2: 0.0, late_s2: 0.0 },
};
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
    /// Variance of one end of a stretch, beyond that.
    pub ends: Ends,
}

/// What integrated speed and impulses part by at one end of any stretch, however long: an antenna
/// that rocks, teeth that stand unevenly, times of samples that jitter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ends {
    /// Variance at any speed, m2.
    pub still_m2: f64,
    /// Variance of an instant, which the speed makes a distance, s2.
    pub late_s2: f64,
}

impl Ends {
    /// Variance at one end at a speed, m2.
    #[must_use]
    pub fn at_m2(&self, speed_m_s: f64) -> f64 {
        self.still_m2 + self.late_s2 * speed_m_s * speed_m_s
    }
}

impl MotionNoise {
    /// Variance by which the integrated speed parts from the truth over a time, m2: noise that
    /// lasts for a moment adds up with the square of the time at first, then with the time.
    #[must_use]
    pub fn carried_m2(&self, lasted_s: f64) -> f64 {
        let memories = lasted_s.abs() / SPEED_MEMORY_S;
        self.speed_walk_m2_s * SPEED_MEMORY_S * (memories + (-memories).exp_m1())
    }

    /// Variance per axis by which the difference of two positions wanders over a time, m2, without
    /// what differs from fix to fix.
    #[must_use]
    pub fn wandered_m2(&self, lasted_s: f64) -> f64 {
        self.walk_m2_s * lasted_s.abs()
    }

    fn worst(self, other: Self) -> Self {
        Self {
            speed_walk_m2_s: self.speed_walk_m2_s.max(other.speed_walk_m2_s),
            white_m2: self.white_m2.max(other.white_m2),
            walk_m2_s: self.walk_m2_s.max(other.walk_m2_s),
            ends: Ends {
                still_m2: self.ends.still_m2.max(other.ends.still_m2),
                late_s2: self.ends.late_s2.max(other.ends.late_s2),
            },
        }
    }
}

/// Errors of a moving receiver by kind of fix.
#[derive(Clone, Debug, PartialEq)]
pub struct Noises(Vec<(Quality, MotionNoise)>);

impl Noises {
    /// Learn them as [`learn`] does; the most frequent kind of fix comes first.
    #[must_use]
    pub fn learn(traces: &[(&Trace, Vec<&CountCurve>)]) -> Self {
        let mut kinds: Vec<(Quality, usize)> = Vec::new();
        for step in traces.iter().flat_map(|(trace, _)| &trace.steps) {
            match kinds.iter_mut().find(|kind| kind.0 == step.quality) {
                Some(kind) => kind.1 += 1,
                None => kinds.push((step.quality, 1)),
            }
        }
        kinds.sort_by_key(|kind| std::cmp::Reverse(kind.1));
        let learned = |quality| learn_where(traces, &|step| step.quality == quality);
        Self(kinds.iter().map(|&(quality, _)| (quality, learned(quality))).collect())
    }

    /// That of the most frequent kind of fix.
    #[must_use]
    pub fn usual(&self) -> MotionNoise {
        self.0.first().map_or(UNKNOWN, |kind| kind.1)
    }

    /// The worst of the kinds of fix among the steps.
    #[must_use]
    pub fn over(&self, steps: &[TraceStep]) -> MotionNoise {
        let met = |kind: &&(Quality, MotionNoise)| steps.iter().any(|s| s.quality == kind.0);
        self.0.iter().filter(met).map(|k| k.1).reduce(MotionNoise::worst).unwrap_or(UNKNOWN)
    }
}

/// Learn from all traces. `curves` are those of the sensors that turn with the ground, any of
/// which may be missing impulses or slipping: the one that agrees best is taken.
#[must_use]
pub fn learn(traces: &[(&Trace, Vec<&CountCurve>)]) -> MotionNoise {
    learn_where(traces, &|_| true)
}

/// Learn from the spans all of whose steps are wanted.
fn learn_where(
    traces: &[(&Trace, Vec<&CountCurve>)],
    wanted: &dyn Fn(&TraceStep) -> bool,
) -> MotionNoise {
    let sensors = traces.iter().map(|t| t.1.len()).max().unwrap_or(0);
    let partings = |sensor, run_s| partings(traces, sensor, wanted, run_s);
    let walks = (0..sensors)
        .filter_map(|sensor| walk_m2_s(&partings(sensor, RUN_S), &partings(sensor, SHORT_RUN_S)));
    let least = walks.fold(f64::INFINITY, f64::min);
    let known = if least.is_finite() { least } else { UNKNOWN.speed_walk_m2_s };
    // The wheel's own: the first.
    let with = |speed_walk_m2_s: f64| MotionNoise {
        speed_walk_m2_s,
        ends: ends(partings(0, SHORT_RUN_S), speed_walk_m2_s),
        ..UNKNOWN
    };
    let parting = |span_s| parting_m2(traces, span_s, wanted);
    let (Some(near), Some(far)) = (parting(SPANS_S.0), parting(SPANS_S.1)) else {
        return with(known);
    };
    let lasted_s = SPANS_S.1 - SPANS_S.0;
    let growth = ((far - near) / lasted_s).max(0.0);
    // Slip that changes looks like a walk of the speed; its parting from the positions does not
    // know of slip, and holds all of the walk.
    let all = growth * lasted_s / (of_unit(SPANS_S.1) - of_unit(SPANS_S.0));
    let speed = with(known.min(all.max(OWN_LEAST * known)));
    let carried = |span_s| speed.carried_m2(span_s);
    let own = (far - near - carried(SPANS_S.1) + carried(SPANS_S.0)) / lasted_s;
    let walk_m2_s = own.max(0.1 * growth);
    let white_m2 = (near - carried(SPANS_S.0) - walk_m2_s * SPANS_S.0) / 2.0;
    MotionNoise { white_m2: white_m2.max(1e-6), walk_m2_s, ..speed }
}

/// Variance of a walk of 1 m2/s over a time, m2.
fn of_unit(span_s: f64) -> f64 {
    MotionNoise { speed_walk_m2_s: 1.0, ..UNKNOWN }.carried_m2(span_s)
}

/// What of the variance of the partings of runs this long is the walk's, for a walk of 1 m2/s: for
/// one with variance S(T) over a time T it is 4 S(T) - S(2 T).
fn of_walk(run_s: f64) -> f64 {
    4.0 * of_unit(run_s) - of_unit(2.0 * run_s)
}

/// Growth of the variance of integrated speed by one sensor, m2/s. What short runs part by is
/// there in long ones too, and does not grow; it bounds what does.
fn walk_m2_s(long: &[Parting], short: &[Parting]) -> Option<f64> {
    let (far_m2, near_m2) = (variance_m2(long)?, variance_m2(short)?);
    let (far_s, near_s) = (of_walk(RUN_S), of_walk(SHORT_RUN_S));
    let growing = (far_m2 - near_m2) / (far_s - near_s);
    Some(growing.max(OWN_LEAST * far_m2 / far_s).min(near_m2 / near_s))
}

/// What the partings over short runs hold beside a walk. A late count is off by the more the
/// faster it goes, an antenna that rocks is not.
fn ends(mut short: Vec<Parting>, walk_m2_s: f64) -> Ends {
    short.sort_by(|a, b| a.speed_m_s.total_cmp(&b.speed_m_s));
    let (slow, fast) = short.split_at(short.len() / 2);
    let ends_m2 = |part: &[Parting]| {
        let own_m2 = variance_m2(part)? - walk_m2_s * of_walk(SHORT_RUN_S);
        // The middle end counts twice: 1 + 4 + 1.
        Some((own_m2.max(0.0) / 6.0, mean_square_m2_s2(part)))
    };
    match (ends_m2(slow), ends_m2(fast)) {
        (Some(slow), Some(fast)) if fast.1 > RANGE * slow.1 => {
            let late_s2 = ((fast.0 - slow.0) / (fast.1 - slow.1)).max(0.0);
            Ends { still_m2: (slow.0 - late_s2 * slow.1).max(0.0), late_s2 }
        }
        _ => Ends { still_m2: ends_m2(&short).map_or(0.0, |all| all.0), late_s2: 0.0 },
    }
}

/// By how much the ways of two runs in a row part from their impulses.
struct Parting {
    square_m2: f64,
    /// What whole counts make of it.
    counting_m2: f64,
    speed_m_s: f64,
}

fn partings(
    traces: &[(&Trace, Vec<&CountCurve>)],
    sensor: usize,
    wanted: &dyn Fn(&TraceStep) -> bool,
    run_s: f64,
) -> Vec<Parting> {
    let mut out = Vec::new();
    for (trace, curves) in traces {
        let Some(curve) = curves.get(sensor) else { continue };
        let way = Sums::forward_m(trace);
        let hop = ((HOP_S / trace.interval_s).round() as usize).max(1);
        let span = ((run_s / trace.interval_s).round() as usize).max(1);
        let [mut first, mut middle, mut last] = [(); 3].map(|()| curve.counts());
        for from in (0..trace.steps.len().saturating_sub(2 * span)).step_by(hop) {
            let [a, b, c] = [from, from + span, from + 2 * span];
            let inside = &trace.steps[a..=c];
            let slowest = inside.iter().map(|s| s.speed_m_s).fold(f64::INFINITY, f64::min);
            let fastest = inside.iter().map(|s| s.speed_m_s).fold(0.0, f64::max);
            let steady = fastest - slowest <= STEADY_M_S.max(STEADY_SHARE * fastest);
            if slowest < MOVING_M_S || !steady || !inside.iter().all(wanted) {
                continue;
            }
            let at = |counts: &mut Counts<'_>, i: usize| counts.at(trace.steps[i].at_s);
            let ends = (at(&mut first, a), at(&mut middle, b), at(&mut last, c));
            let (Some(na), Some(nb), Some(nc)) = ends else { continue };
            if nc - na < IMPULSES_MIN {
                continue;
            }
            // Impulses scaled to the distance of both runs together: only the difference of
            // the halves remains.
            let [way_a, way_b, way_c] = [a, b, c].map(|i| way.at(i));
            let scale = (way_c - way_a) / (nc - na);
            let half = |from: f64, to: f64, n: f64| to - from - scale * n;
            let parting_m = half(way_b, way_c, nc - nb) - half(way_a, way_b, nb - na);
            // Whole counts at a, b and c, weighted 1, -2 and 1.
            let u_m = if curve.is_exact() { 0.0 } else { scale * WHOLE_COUNT_U };
            out.push(Parting {
                square_m2: parting_m * parting_m,
                counting_m2: 3.0 * u_m * u_m,
                speed_m_s: f64::midpoint(slowest, fastest),
            });
        }
    }
    out
}

/// Variance of partings, what whole counts make taken off.
fn variance_m2(partings: &[Parting]) -> Option<f64> {
    let variance = median(partings.iter().map(|p| p.square_m2).collect())? / MEDIAN_CHI2;
    let counting = median(partings.iter().map(|p| p.counting_m2).collect())?;
    Some((variance - counting).max(OWN_LEAST * variance))
}

fn mean_square_m2_s2(partings: &[Parting]) -> f64 {
    partings.iter().map(|p| p.speed_m_s.powi(2)).sum::<f64>() / partings.len().max(1) as f64
}

/// Median variance per axis of the parting of position and integrated speed over a span, m2.
fn parting_m2(
    traces: &[(&Trace, Vec<&CountCurve>)],
    span_s: f64,
    wanted: &dyn Fn(&TraceStep) -> bool,
) -> Option<f64> {
    let mut squares = Vec::new();
    for (trace, _) in traces {
        let carry = Carry::new(trace);
        let span = ((span_s / trace.interval_s).round() as usize).max(1);
        let ends = carry.from(0).zip(carry.from(span));
        for (pair, (p, q)) in trace.steps.windows(span + 1).zip(ends) {
            let (a, b) = (&pair[0], &pair[span]);
            let usable = |step: &TraceStep| step.speed_m_s >= MOVING_M_S && wanted(step);
            if !pair.iter().all(usable) || a.quality != b.quality {
                continue;
            }
            let (from, to) = (trace.antenna(a), trace.antenna(b));
            squares.push((to.east_m - from.east_m - (q.0 - p.0)).powi(2));
            squares.push((to.north_m - from.north_m - (q.1 - p.1)).powi(2));
        }
    }
    Some(median(squares)? / MEDIAN_CHI2)
}

fn median(values: Vec<f64>) -> Option<f64> {
    if values.len() >= PAIRS_MIN { upper_median(values) } else { None }
}
