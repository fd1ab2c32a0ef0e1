//! The scale of a receiver's speed, by its own positions.
//!
//! A receiver's speed can be wrong by a share of itself, always the same way: by its filter or its
//! rounding. Over some twenty seconds its positions show the displacement too, without such an
//! error. What all such spans say together is the scale; what they leave open, and what a receiver
//! can be trusted with by itself, is common to the whole drive and does not average.

use super::axle::{Trace, TraceStep};
use super::sums::Carry;
use crate::geodesy::Enu;
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::{median, robust_standard_deviation};
use crate::wire::fix::Quality;

/// Length of a span, seconds: long against the noise of positions, short enough to have many.
const SPAN_S: f64 = 20.0;
/// Positions are averaged over this at either end, seconds.
const END_S: f64 = 1.0;
/// A span whose ends are nearer to each other shows too little, metres.
const CHORD_M: f64 = 10.0;
/// Fewer spans show nothing.
const SPANS_MIN: usize = 6;
/// What a receiver's speed is right to by itself, as a share; common practice, no source.
const USUAL_U: f64 = 3e-4;
/// Standard error of a median over that of a mean, of normal values.
const MEDIAN_OVER_MEAN: f64 = 1.2533;

/// Scale of the speed less one, by kind of fix.
#[derive(Clone, Debug, PartialEq)]
pub struct Scales(Vec<(Quality, Estimate)>);

impl Scales {
    /// Find them.
    #[must_use]
    pub fn of(traces: &[&Trace]) -> Self {
        let mut found: Vec<(Quality, Vec<f64>)> = Vec::new();
        for trace in traces {
            let carry = Carry::new(trace);
            for run in trace.steps.chunk_by(|a, b| a.quality == b.quality) {
                let from = trace.steps.partition_point(|step| step.at_s < run[0].at_s);
                let shares = shares(&carry, from, run);
                match found.iter_mut().find(|kind| kind.0 == run[0].quality) {
                    Some(kind) => kind.1.extend(shares),
                    None => found.push((run[0].quality, shares)),
                }
            }
        }
        Self(found.into_iter().map(|(quality, shares)| (quality, estimate(&shares))).collect())
    }

    /// Take the scale off the speeds of a trace.
    pub fn take_off(&self, trace: &mut Trace) {
        for step in &mut trace.steps {
            step.speed_m_s /= 1.0 + self.at(step.quality).value;
        }
    }

    /// Scale less one for a kind of fix.
    #[must_use]
    pub fn at(&self, quality: Quality) -> Estimate {
        let kind = self.0.iter().find(|kind| kind.0 == quality);
        kind.map_or(Estimate::new(0.0, USUAL_U), |kind| kind.1)
    }
}

/// By how much the integrated speed is longer than the displacement in each span of these steps,
/// the first of which is number `begin`, as a share.
fn shares(carry: &Carry<'_>, begin: usize, steps: &[TraceStep]) -> Vec<f64> {
    let trace = carry.trace();
    let interval_s = trace.interval_s;
    let span = ((SPAN_S / interval_s).round() as usize).max(2);
    let end = ((END_S / interval_s).round() as usize).max(1);
    // Integrated speed and what it is ahead of the positions, averaged over an end.
    let mean = |from: usize| {
        let n = end as f64;
        let mut sums = (Enu::default(), Enu::default());
        for (step, way) in steps[from..from + end].iter().zip(carry.from(begin + from)) {
            sums.0.east_m += way.0 / n;
            sums.0.north_m += way.1 / n;
            let antenna = trace.antenna(step);
            sums.1.east_m += (way.0 - antenna.east_m) / n;
            sums.1.north_m += (way.1 - antenna.north_m) / n;
        }
        sums
    };
    let mut out = Vec::new();
    for from in (0..(steps.len() + 1).saturating_sub(span + end)).step_by(span) {
        let (a, b) = (mean(from), mean(from + span));
        let (east_m, north_m) = (b.0.east_m - a.0.east_m, b.0.north_m - a.0.north_m);
        let square_m2 = east_m * east_m + north_m * north_m;
        if square_m2 >= CHORD_M * CHORD_M {
            let (off_east_m, off_north_m) = (b.1.east_m - a.1.east_m, b.1.north_m - a.1.north_m);
            out.push((east_m * off_east_m + north_m * off_north_m) / square_m2);
        }
    }
    out
}

/// What the spans say, and what is usual, each for what it is worth. A scale that the spans show
/// clearly is not a usual one.
fn estimate(shares: &[f64]) -> Estimate {
    let usual = Estimate::new(0.0, USUAL_U);
    if shares.len() < SPANS_MIN {
        return usual;
    }
    let (Some(middle), Some(scatter)) = (median(shares), robust_standard_deviation(shares)) else {
        return usual;
    };
    let own2 = (MEDIAN_OVER_MEAN * scatter).powi(2) / shares.len() as f64;
    let usual2 = (USUAL_U * USUAL_U).max(middle * middle - own2);
    let share = usual2 / (usual2 + own2);
    Estimate::new(share * middle, (share * own2).sqrt())
}
