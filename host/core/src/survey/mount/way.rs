//! How far the antenna went along the tractor's heading, and how sure that is.
//!
//! Two sums are made: the steps between positions, each taken along the heading (what one fix is
//! wrong leaves with the next step, so that noise does not lengthen the way), and the integral of
//! the speed. They are combined by what they are worth over the time.

use super::runs::Run;
use crate::survey::ride::axle::TraceStep;
use crate::survey::ride::noise::MotionNoise;
use crate::survey::ride::sums::integrated;

/// Slower than this the tractor stands: what a receiver then prints is noise, m/s.
const STANDING_M_S: f64 = 0.2;

/// Sums along a run, one entry a step.
#[derive(Clone, Debug)]
pub(super) struct Ways {
    /// Distance by positions, in metres.
    position_m: Vec<f64>,
    /// Distance by speed, in metres.
    speed_m: Vec<f64>,
    /// Heading, radians clockwise, not wrapped.
    heading_rad: Vec<f64>,
    /// Time by the board, seconds.
    at_s: Vec<f64>,
    /// Seconds driven: at rest the integral of the speed gathers no error.
    driven_s: Vec<f64>,
}

/// A part of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// Along the heading, metres.
    pub forward_m: f64,
    /// Standard uncertainty by the receiver's noise, metres.
    pub standard_m: f64,
    /// Change of the heading, radians clockwise.
    pub turned_rad: f64,
    /// Share of the positions in it, 0 to 1.
    pub position_share: f64,
}

impl Ways {
    pub fn new(run: &Run<'_>) -> Self {
        let steps = &run.trace.steps;
        let rate = |step: &TraceStep| {
            if step.speed_m_s > STANDING_M_S { step.forward_m_s() } else { 0.0 }
        };
        let (mut position, mut driven) = (0.0, 0.0);
        let mut out = Self {
            position_m: vec![0.0],
            speed_m: integrated(steps, rate),
            heading_rad: steps.iter().map(|s| s.heading_rad).collect(),
            at_s: steps.iter().map(|s| s.at_s).collect(),
            driven_s: vec![0.0],
        };
        for pair in steps.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let (sin, cos) = f64::midpoint(a.heading_rad, b.heading_rad).sin_cos();
            let [from, to] = [a, b].map(|step| run.trace.antenna(step));
            position += (to.east_m - from.east_m) * sin + (to.north_m - from.north_m) * cos;
            let moving = a.speed_m_s > STANDING_M_S || b.speed_m_s > STANDING_M_S;
            driven += if moving { b.at_s - a.at_s } else { 0.0 };
            out.driven_s.push(driven);
            out.position_m.push(position);
        }
        out
    }

    /// From step to step.
    pub fn between(&self, from: usize, to: usize, noise: &MotionNoise) -> Way {
        let lasted_s = self.at_s[to] - self.at_s[from];
        let by_position = 2.0 * noise.white_m2 + noise.walk_m2_s * lasted_s;
        let by_speed = noise.speed_walk_m2_s * (self.driven_s[to] - self.driven_s[from]);
        let share = by_speed / (by_position + by_speed);
        let position_m = self.position_m[to] - self.position_m[from];
        let speed_m = self.speed_m[to] - self.speed_m[from];
        Way {
            forward_m: share * position_m + (1.0 - share) * speed_m,
            standard_m: (share * by_position).sqrt(),
            turned_rad: self.heading_rad[to] - self.heading_rad[from],
            position_share: share,
        }
    }
}
