//! A rate integrated along the steps of a trace.
//!
//! A day has so many steps that a sum up to each of them takes more room than the samples do. So
//! every so many are kept, and those between are added up again from there, to the same last bit.

use super::axle::{Trace, TraceStep};

/// From one sum kept to the next, steps.
const EVERY: usize = 16;

/// A rate per second integrated up to each step.
pub fn integrated(steps: &[TraceStep], rate: impl Fn(&TraceStep) -> f64) -> Vec<f64> {
    sums(steps, rate).collect()
}

fn sums(
    steps: &[TraceStep],
    rate: impl Fn(&TraceStep) -> f64,
) -> impl ExactSizeIterator<Item = f64> {
    let mut sum = 0.0;
    steps.iter().enumerate().map(move |(i, step)| {
        if let Some(before) = i.checked_sub(1).map(|at| &steps[at]) {
            sum += added(before, step, &rate);
        }
        sum
    })
}

fn added(a: &TraceStep, b: &TraceStep, rate: &impl Fn(&TraceStep) -> f64) -> f64 {
    (b.at_s - a.at_s) * f64::midpoint(rate(a), rate(b))
}

/// What a step goes at, by its own numbers.
type Rate = fn(&TraceStep) -> f64;

/// A rate per second integrated up to each step, which is worked out anew where it is asked for.
#[derive(Clone, Debug)]
pub struct Sums<'t> {
    steps: &'t [TraceStep],
    rate: Rate,
    kept: Vec<f64>,
}

impl<'t> Sums<'t> {
    fn new(steps: &'t [TraceStep], rate: Rate) -> Self {
        let mut kept = Vec::with_capacity(steps.len().div_ceil(EVERY));
        kept.extend(sums(steps, rate).step_by(EVERY));
        Self { steps, rate, kept }
    }

    /// Metres along the heading, by the integrated speed.
    #[must_use]
    pub fn forward_m(trace: &'t Trace) -> Self {
        Self::new(&trace.steps, TraceStep::forward_m_s)
    }

    /// Up to step `at`, which is one of them.
    #[must_use]
    pub fn at(&self, at: usize) -> f64 {
        self.from(at).next().unwrap_or_default()
    }

    /// Up to step `at` and each one after it.
    pub fn from(&self, at: usize) -> impl Iterator<Item = f64> + '_ {
        let begin = at - at % EVERY;
        let mut sum = self.kept.get(at / EVERY).copied().unwrap_or_default();
        let all = (begin..self.steps.len()).map(move |i| {
            if i > begin {
                sum += added(&self.steps[i - 1], &self.steps[i], &self.rate);
            }
            sum
        });
        all.skip(at - begin)
    }
}

/// East and north by the integrated velocity, metres.
#[derive(Clone, Debug)]
pub struct Carry<'t> {
    trace: &'t Trace,
    east_m: Sums<'t>,
    north_m: Sums<'t>,
}

impl<'t> Carry<'t> {
    /// Along a trace.
    #[must_use]
    pub fn new(trace: &'t Trace) -> Self {
        let steps = &trace.steps;
        let east_m = Sums::new(steps, |step| step.speed_m_s * step.track_rad.sin());
        let north_m = Sums::new(steps, |step| step.speed_m_s * step.track_rad.cos());
        Self { trace, east_m, north_m }
    }

    /// The trace it is along.
    #[must_use]
    pub const fn trace(&self) -> &'t Trace {
        self.trace
    }

    /// Up to step `at`.
    #[must_use]
    pub fn at(&self, at: usize) -> (f64, f64) {
        (self.east_m.at(at), self.north_m.at(at))
    }

    /// Up to step `at` and each one after it.
    pub fn from(&self, at: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.east_m.from(at).zip(self.north_m.from(at))
    }

    /// Integrated velocity less position at step `at` and each one after it, metres.
    pub fn apart_m(&self, at: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        let steps = self.trace.steps.get(at..).unwrap_or_default();
        self.from(at).zip(steps).map(|((east_m, north_m), step)| {
            let antenna = self.trace.antenna(step);
            (east_m - antenna.east_m, north_m - antenna.north_m)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::LocalPlane;
    use crate::survey::ride::axle::Height;
    use crate::wire::fix::Quality;

    #[test]
    fn a_sum_that_is_worked_out_anew_is_the_same_to_the_last_bit() {
        for length in [1, 2, EVERY, EVERY + 1, 10 * EVERY + 3] {
            let step = |i: usize| TraceStep {
                at_s: 0.1 * i as f64 + 0.003 * (i as f64).sin(),
                lat_lon_deg: (52.0 + 1e-7 * i as f64, 0.1),
                height: Height::new(None),
                speed_m_s: 2.0 + (0.7 * i as f64).sin(),
                track_rad: (0.05 * i as f64).sin(),
                heading_rad: (0.04 * i as f64).sin(),
                backwards: false,
                quality: Quality::RtkFixed,
            };
            let steps: Vec<TraceStep> = (0..length).map(step).collect();
            let trace = Trace { steps, interval_s: 0.1, plane: LocalPlane::new(52.0, 0.1, 0.0) };
            let all = integrated(&trace.steps, TraceStep::forward_m_s);
            let sums = Sums::forward_m(&trace);
            assert_eq!((0..length).map(|at| sums.at(at)).collect::<Vec<_>>(), all);
            for from in [0, 1, EVERY - 1, EVERY, length - 1] {
                let rest = all.get(from..).unwrap_or_default();
                assert_eq!(sums.from(from).collect::<Vec<_>>(), rest);
            }
            let carry = Carry::new(&trace);
            assert_eq!(carry.from(0).nth(length - 1), Some(carry.at(length - 1)));
        }
    }
}
