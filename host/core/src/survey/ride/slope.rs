//! From the level to the slope.
//!
//! A receiver reports its speed over ground as if seen from above; the wheel rolls along the
//! ground, by 0.5 % further where that rises one in ten. Heights differ more from fix to fix than
//! places do, so the rise is that of a line through them over so much of the way that its noise
//! hardly matters. Noise always adds to a square, so its own variance is taken off.

use super::axle::Trace;
use super::noise::Noises;
use super::parts::way_m;
use crate::stats::fit::line::ordinary;

/// Vertical errors of a receiver against horizontal ones; common practice, no source.
const VERTICAL: f64 = 1.5;
/// The line goes this far beyond the stretch at either end: the first of these with which it is
/// known well enough, else the last, metres.
const BEYOND_M: [f64; 4] = [3.0, 8.0, 20.0, 50.0];
/// Well enough: standard uncertainty of the rise over the run. One in ten is then right to
/// 0.03 %.
const RISE_U: f64 = 0.003;
/// A stretch that turns by more than this is taken in pieces, radians.
const BEND_RAD: f64 = 0.6;
/// Growth of the variance of a line's rise where the heights wander as a random walk, against that
/// of the walk over the same length.
const WALK_IN_LINE: f64 = 1.2;
/// Standard uncertainty of the factor where there are no heights: twice that covers one in ten,
/// and fields are seldom steeper; common practice, no source.
const UNKNOWN_U: f64 = 0.0025;

/// Length along the ground over length seen from above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// At least 1.
    pub factor: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// There were no heights to go by: the same error in everything.
    pub unknown: bool,
}

impl Slope {
    /// Nothing shows it.
    pub const UNKNOWN: Self = Self { factor: 1.0, standard_uncertainty: UNKNOWN_U, unknown: true };
}

/// Heights along a trace.
#[derive(Clone, Debug)]
pub struct Profile<'a> {
    trace: &'a Trace,
    way_m: Vec<f64>,
}

impl<'a> Profile<'a> {
    /// That of a trace.
    #[must_use]
    pub fn new(trace: &'a Trace) -> Self {
        Self { trace, way_m: way_m(&trace.steps) }
    }

    /// The slope between the steps `from` and `to`.
    #[must_use]
    pub fn slope(&self, (from, to): (usize, usize), noises: &Noises) -> Slope {
        let turned_rad = self.heading_rad(to) - self.heading_rad(from);
        if turned_rad.abs() > BEND_RAD && to > from + 1 {
            let middle = usize::midpoint(from, to);
            let (a, b) = (self.slope((from, middle), noises), self.slope((middle, to), noises));
            let (a_m, b_m) =
                (self.way_m[middle] - self.way_m[from], self.way_m[to] - self.way_m[middle]);
            let share = if a_m + b_m > 0.0 { a_m / (a_m + b_m) } else { 0.5 };
            let mean = |part: fn(&Slope) -> f64| share * part(&a) + (1.0 - share) * part(&b);
            return Slope {
                factor: mean(|slope| slope.factor),
                standard_uncertainty: mean(|slope| slope.standard_uncertainty),
                unknown: a.unknown || b.unknown,
            };
        }
        let mut best: Option<(f64, f64)> = None;
        for beyond_m in BEYOND_M {
            let Some(line) = self.line((from, to), beyond_m, noises) else { continue };
            if best.is_none_or(|best| line.1 < best.1) {
                best = Some(line);
            }
            if line.1 <= RISE_U {
                break;
            }
        }
        let Some((rise, u_rise)) = best else { return Slope::UNKNOWN };
        let square = (rise * rise - u_rise * u_rise).max(0.0);
        let factor = (1.0 + square).sqrt();
        // Of half the square of a normal number.
        let u = (square * u_rise * u_rise + u_rise.powi(4) / 2.0).sqrt();
        Slope { factor, standard_uncertainty: u.min(UNKNOWN_U), unknown: false }
    }

    fn heading_rad(&self, at: usize) -> f64 {
        self.trace.steps[at].heading_rad
    }

    /// Rise over run of the heights, and its standard uncertainty. Only steps of one kind of fix
    /// and one direction are used: heights of another kind lie elsewhere, and a turn goes up and
    /// down again.
    fn line(
        &self,
        (from, to): (usize, usize),
        beyond_m: f64,
        noises: &Noises,
    ) -> Option<(f64, f64)> {
        let steps = &self.trace.steps;
        let low = self.way_m.partition_point(|&m| m < self.way_m[from] - beyond_m);
        let high = self.way_m.partition_point(|&m| m <= self.way_m[to] + beyond_m);
        let middle = usize::midpoint(from, to);
        let kind = steps[middle].quality;
        let bent_rad = |i: usize| (self.heading_rad(i) - self.heading_rad(middle)).abs();
        let other = |i: &usize| steps[*i].quality != kind || bent_rad(*i) > BEND_RAD;
        let low = (low..middle).rev().find(other).map_or(low, |i| i + 1);
        let high = (middle..high).find(other).unwrap_or(high);
        let points: Vec<(f64, f64)> =
            (low..high).filter_map(|i| Some((self.way_m[i], steps[i].height.m()?))).collect();
        let (first, last) = (points.first()?, points.last()?);
        let length_m = last.0 - first.0;
        let fit = ordinary(&points).ok()?;
        let n = points.len() as f64;
        let middle_m = points.iter().map(|p| p.0).sum::<f64>() / n;
        let spread_m2: f64 = points.iter().map(|p| (p.0 - middle_m).powi(2)).sum();
        if spread_m2 <= 0.0 {
            return None;
        }
        let noise = noises.over(&steps[middle..=middle]);
        let lasted_s = steps[high - 1].at_s - steps[low].at_s;
        let walked = WALK_IN_LINE * noise.wandered_m2(lasted_s) / (length_m * length_m);
        Some((fit.slope, VERTICAL * (noise.white_m2 / spread_m2 + walked).sqrt()))
    }
}
