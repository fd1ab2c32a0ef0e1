//! From the antenna to the middle of the rear axle.
//!
//! The receiver shows how the antenna moves; the wheels roll where the axle is. A rear axle that
//! does not slide sideways follows a point ahead of it as a trailer follows its drawbar (a
//! tractrix), so the heading of the tractor can be carried along without a compass. Over a step of
//! length d in a steady direction, the angle e between that direction and the heading shrinks as
//! tan(e/2) exp(-d/a), a being how far the antenna is ahead of the axle; a step bent by a small
//! angle is taken in its middle direction. With the antenna behind the axle the same holds
//! backwards in time.
//!
//! Along the heading the antenna goes as fast as the axle, less the turn rate times how far it is
//! to the right: of that, only the change of heading remains over any stretch, whatever the way
//! between.

use super::Ride;
use crate::geodesy::{Enu, LocalPlane};
use crate::stats::fit::robust::upper_median;
use crate::wire::fix::Quality;
use std::f64::consts::{PI, TAU};

/// Where the antenna is on the tractor. Right and ahead are positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mounting {
    /// To the right of the middle, metres.
    pub right_m: f64,
    /// Its standard uncertainty, in metres.
    pub u_right_m: f64,
    /// Ahead of the rear axle, metres.
    pub ahead_m: f64,
    /// Its standard uncertainty, in metres.
    pub u_ahead_m: f64,
}

/// Slower than this a track means nothing, m/s.
const TRACK_MIN_M_S: f64 = 0.3;
/// Swings are looked for above this speed, m/s.
const ROCKING_MIN_M_S: f64 = 0.7;
/// Time over which the tracks are averaged, twice: a tractor's frame rocks once in it, seconds
/// (common practice, no source).
const SWING_S: f64 = 2.0;
/// Tracks that lie this far off their mean in the middle show a swing and not noise, radians.
const SWING_RAD: f64 = 0.03;
/// An antenna nearer than this to the axle shows the heading itself, metres.
const AHEAD_MIN_M: f64 = 0.05;
/// A track turned by more than this from the heading is driving backwards, radians: no tractor
/// turns on the spot between two fixes.
const BACKWARDS_RAD: f64 = 2.0;
/// Fixes further apart than this many usual intervals are not combined.
const GAP_INTERVALS: f64 = 2.5;

/// A height that may be unknown, in the room of a number.
#[derive(Clone, Copy, Debug)]
pub struct Height(f64);

impl Height {
    /// Of so many metres; what is no number is unknown.
    #[must_use]
    pub fn new(height_m: Option<f64>) -> Self {
        Self(height_m.unwrap_or(f64::NAN))
    }

    /// Metres, where it is known.
    #[must_use]
    pub fn m(self) -> Option<f64> {
        (!self.0.is_nan()).then_some(self.0)
    }
}

impl PartialEq for Height {
    fn eq(&self, other: &Self) -> bool {
        self.m() == other.m()
    }
}

/// The tractor at one fix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TraceStep {
    /// Board seconds of the ride.
    pub at_s: f64,
    /// Latitude and longitude, in degrees.
    pub lat_lon_deg: (f64, f64),
    /// Ellipsoidal height of the antenna.
    pub height: Height,
    /// Speed of the antenna, m/s.
    pub speed_m_s: f64,
    /// Direction in which the antenna goes, radians clockwise from north.
    pub track_rad: f64,
    /// Heading of the tractor, radians clockwise from north, not wrapped.
    pub heading_rad: f64,
    /// Whether the tractor drives backwards.
    pub backwards: bool,
    /// What kind of fix.
    pub quality: Quality,
}

impl TraceStep {
    /// Speed of the antenna along the heading, m/s; negative when driving backwards.
    #[must_use]
    pub fn forward_m_s(&self) -> f64 {
        self.speed_m_s * (self.track_rad - self.heading_rad).cos()
    }
}

/// Fixes without a gap, as steps of the tractor.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// At least two, rising in time.
    pub steps: Vec<TraceStep>,
    /// Usual time from one to the next, seconds.
    pub interval_s: f64,
    /// The plane their places are on.
    pub plane: LocalPlane,
}

impl Trace {
    /// Where the antenna is at a step, on the plane of the trace. It is worked out anew each time:
    /// kept, it takes a fifth of what a day of steps takes.
    #[inline]
    #[must_use]
    pub fn antenna(&self, step: &TraceStep) -> Enu {
        self.plane.enu(step.lat_lon_deg.0, step.lat_lon_deg.1)
    }
}

/// The traces of a ride.
#[must_use]
pub fn traces(ride: &Ride<'_>, mounting: &Mounting) -> Vec<Trace> {
    let Some(first) = ride.fixes.iter().next() else { return Vec::new() };
    let height_m = first.fix.height_m.unwrap_or(0.0);
    let plane = LocalPlane::new(first.fix.lat_deg, first.fix.lon_deg, height_m);
    let mut steps: Vec<TraceStep> = Vec::with_capacity(ride.fixes.iter().len());
    for timed in ride.fixes.iter() {
        let fix = &timed.fix;
        let Some(speed_m_s) = fix.speed_m_s else { continue };
        let before = steps.last().map_or(0.0, |step: &TraceStep| step.track_rad);
        let track = fix.track_deg.filter(|_| speed_m_s >= TRACK_MIN_M_S);
        let track_rad = track.map_or(before, |deg| near(deg.to_radians(), before));
        steps.push(TraceStep {
            at_s: timed.at_s,
            lat_lon_deg: (fix.lat_deg, fix.lon_deg),
            height: Height::new(fix.height_m),
            speed_m_s,
            track_rad,
            heading_rad: track_rad,
            backwards: false,
            quality: fix.quality,
        });
    }
    let Some(interval_s) = median_interval_s(&steps) else { return Vec::new() };
    unbroken(steps, GAP_INTERVALS * interval_s)
        .into_iter()
        .filter(|part| part.len() > 1)
        .map(|mut steps| {
            let tracks: Vec<f64> = steps.iter().map(|step| step.track_rad).collect();
            steady(&mut steps);
            head(&mut steps, mounting.ahead_m);
            for (step, track) in steps.iter_mut().zip(tracks) {
                step.track_rad = near(track, step.heading_rad);
            }
            Trace { steps, interval_s, plane }
        })
        .collect()
}

/// The steps between gaps longer than `gap_s`; from the end, so that each is moved but once.
fn unbroken(mut steps: Vec<TraceStep>, gap_s: f64) -> Vec<Vec<TraceStep>> {
    let mut parts = Vec::new();
    for at in (1..steps.len()).rev() {
        let within = steps[at].at_s - steps[at - 1].at_s <= gap_s;
        if !within {
            parts.push(steps.split_off(at));
            steps.shrink_to_fit();
        }
    }
    steps.shrink_to_fit();
    parts.push(steps);
    parts.reverse();
    parts
}

fn median_interval_s(steps: &[TraceStep]) -> Option<f64> {
    let gaps = steps.windows(2).map(|w| w[1].at_s - w[0].at_s).collect();
    upper_median(gaps).filter(|&gap_s| gap_s > 0.0)
}

/// The angle that is `angle` up to whole turns and nearest to `to`.
fn near(angle: f64, to: f64) -> f64 {
    to + (angle - to + PI).rem_euclid(TAU) - PI
}

/// Where the frame rocks, the antenna swings to and fro and the tractor does not: then the tracks
/// are averaged over a swing or two before the heading is carried along them. Turns are rounded off
/// by that, so that it is done only where there is a swing.
fn steady(steps: &mut [TraceStep]) {
    let driven = |step: &TraceStep| step.speed_m_s >= ROCKING_MIN_M_S;
    for run in steps.chunk_by_mut(|a, b| driven(a) == driven(b)) {
        if !driven(&run[0]) || run.len() < 3 {
            continue;
        }
        let own: Vec<(f64, f64)> = run.iter().map(|step| (step.at_s, step.track_rad)).collect();
        let once = averaged(&own);
        let smooth = averaged(&once);
        let swings = own.iter().zip(&smooth).map(|(a, b)| (a.1 - b.1).abs()).collect();
        if upper_median(swings).is_some_and(|swing| swing > SWING_RAD) {
            run.iter_mut().zip(smooth).for_each(|(step, (_, track))| step.track_rad = track);
        }
    }
}

/// Mean over [`SWING_S`] around each, evenly to both sides.
fn averaged(values: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (first_s, last_s) = (values[0].0, values[values.len() - 1].0);
    let mean = |&(at_s, _): &(f64, f64)| {
        let half_s = (SWING_S / 2.0).min(at_s - first_s).min(last_s - at_s) + 1e-6;
        let from = values.partition_point(|value| value.0 < at_s - half_s);
        let to = values.partition_point(|value| value.0 <= at_s + half_s);
        let inside = &values[from..to];
        (at_s, inside.iter().map(|value| value.1).sum::<f64>() / inside.len() as f64)
    };
    values.iter().map(mean).collect()
}

/// Carry the heading along the steps.
fn head(steps: &mut [TraceStep], ahead_m: f64) {
    // Time runs the way in which an error of the heading dies out.
    if ahead_m < 0.0 {
        steps.reverse();
        follow(steps, -ahead_m);
        steps.reverse();
    } else {
        follow(steps, ahead_m);
    }
}

fn follow(steps: &mut [TraceStep], apart_m: f64) {
    let moving = |step: &TraceStep| step.speed_m_s >= TRACK_MIN_M_S;
    let Some(first) = steps.iter().position(moving) else { return };
    let start = steps[first].track_rad;
    steps[..=first].iter_mut().for_each(|step| step.heading_rad = start);
    let mut backwards = false;
    for i in first + 1..steps.len() {
        let (a, b) = (steps[i - 1], steps[i]);
        let before = a.heading_rad;
        let track = near(b.track_rad, before);
        if moving(&b) && !moving(&a) {
            // Only at a stop can the direction be turned over.
            backwards = (track - before).abs() > BACKWARDS_RAD;
        }
        let heading = if !moving(&b) {
            before
        } else if backwards {
            near(track + PI, before)
        } else {
            let d_m = (b.at_s - a.at_s).abs() * f64::midpoint(a.speed_m_s, b.speed_m_s);
            let middle =
                if moving(&a) { f64::midpoint(near(a.track_rad, track), track) } else { track };
            trail(middle, before, d_m, apart_m, track)
        };
        let step = &mut steps[i];
        step.heading_rad = heading;
        step.track_rad = near(step.track_rad, heading);
        step.backwards = backwards;
    }
}

/// Heading after a step of `d_m` in direction `middle`, from a heading of `before`; of an antenna
/// over the axle the direction at the end, `track`, is the heading.
fn trail(middle: f64, before: f64, d_m: f64, apart_m: f64, track: f64) -> f64 {
    if apart_m < AHEAD_MIN_M {
        return track;
    }
    let off = near(middle, before) - before;
    let left = 2.0 * ((off / 2.0).tan() * (-d_m / apart_m).exp()).atan();
    before + off - left
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps of a point on a circle of an axle with radius `r_m`, antenna ahead and right.
    fn circle(r_m: f64, arm: (f64, f64), clockwise: bool) -> (Vec<TraceStep>, Vec<f64>) {
        let sign = if clockwise { 1.0 } else { -1.0 };
        let (dt_s, v_m_s) = (0.1, 2.0);
        let turn = sign * v_m_s / r_m;
        let mut truth = Vec::new();
        let steps = (0..400)
            .map(|i| {
                let at_s = f64::from(i) * dt_s;
                let heading = turn * at_s;
                truth.push(heading);
                let (forward, right) = (v_m_s - turn * arm.1, turn * arm.0);
                TraceStep {
                    at_s,
                    lat_lon_deg: (0.0, 0.0),
                    height: Height::new(None),
                    speed_m_s: forward.hypot(right),
                    track_rad: (heading + right.atan2(forward) + PI).rem_euclid(TAU) - PI,
                    heading_rad: 0.0,
                    backwards: false,
                    quality: Quality::RtkFixed,
                }
            })
            .collect();
        (steps, truth)
    }

    #[test]
    fn the_heading_of_a_circle_is_found_for_any_place_of_the_antenna() {
        for arm in [(1.5, 0.4), (2.6, -0.3), (-0.8, 0.2)] {
            for clockwise in [true, false] {
                let (mut steps, truth) = circle(7.0, arm, clockwise);
                head(&mut steps, arm.0);
                // After some metres of settling, at either end for an antenna behind the axle.
                for i in 100..300 {
                    let off = near(steps[i].heading_rad, truth[i]) - truth[i];
                    assert!(off.abs() < 2e-3, "{arm:?} {clockwise} at {i}: {off}");
                    let turn = (truth[1] - truth[0]) / 0.1;
                    let axle = steps[i].forward_m_s() + turn * arm.1;
                    assert!((axle - 2.0).abs() < 2e-3, "{arm:?} {clockwise} at {i}: {axle}");
                }
            }
        }
    }
}
