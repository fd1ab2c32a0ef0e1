//! The pass as a line: distance along the course by satellite against impulses counted.
//!
//! Where the marks were given on the move, two positions are poor witnesses: a fifth of a second
//! at 8 km/h is half a metre. The slope of all positions against all counts does not care when the
//! marks were given. Both have errors, so the line is that of York et al. (2004). What is left
//! over along the line shows slip and lost impulses inside a pass, which its two ends cannot show.

use super::prepare::Prepared;
use super::satellite::{End, Length, ReceiverNoise, slow_growth_m2};
use crate::geodesy::{LocalPlane, inverse, slope_length_m};
use crate::stats::fit::line::Estimate;
use crate::stats::fit::york::{self, Point};
use crate::timeline::counts::WHOLE_COUNT_U;

/// Positions taken, at most: more of them share the same slow error.
const POINTS_MAX: usize = 120;
/// Least positions for a line.
const POINTS_MIN: usize = 12;
/// A departure from the line is reported beyond this many standard deviations and this length,
/// metres.
const UNEVEN: (f64, f64) = (5.0, 0.15);
/// And this many impulses further: teeth and magnets are not evenly spaced, and a count says
/// nothing of where between two of them the wheel stands.
const PITCH: f64 = 1.5;

/// A pass as a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track {
    /// Slope times the impulses of the pass: its length on the ground, less the uncertainty of the
    /// marks.
    pub length: Length,
    /// Greatest departure of the positions from the line, metres.
    pub departure_m: f64,
    /// It is more than the receiver's noise explains.
    pub uneven: bool,
}

/// Fit the line. `impulses` are those of the channel that shows motion, between the marks.
#[must_use]
pub fn fit(
    pass: &Prepared<'_>,
    ends: &(End, End),
    impulses: f64,
    noise: &ReceiverNoise,
    rise_m: f64,
    lag_s: Estimate,
) -> Option<Track> {
    let points = points(pass, ends, noise, lag_s.value);
    if points.len() < POINTS_MIN {
        return None;
    }
    let line = york::fit(&points).ok()?;
    let level_m = line.slope * impulses;
    if level_m <= 1.0 {
        return None;
    }
    let apart_s = (ends.1.at_s - ends.0.at_s).abs();
    let slow_m2 = slow_growth_m2(noise, ends.0.quality, ends.1.quality, apart_s);
    // A random walk of variance q T end to end leaves 6/5 q T in a regression's slope times the
    // length; white noise of variance s^2 leaves 12 s^2/n.
    let variance = 1.2 * slow_m2 + 12.0 * noise.white_m2 / points.len() as f64;
    let departure_m = departure_m(&points, &line);
    let usual_m = (noise.white_m2 + 0.25 * slow_m2).sqrt();
    // A lag that is wrong by its doubt parts counts and positions wherever the speed changes.
    let late_m = 2.0 * lag_s.standard_uncertainty * level_m / apart_s.max(1.0);
    let limit_m = (UNEVEN.0 * usual_m).max(UNEVEN.1) + PITCH * line.slope + late_m;
    Some(Track {
        length: Length {
            length_m: slope_length_m(level_m, 0.0, rise_m),
            standard_uncertainty_m: variance.sqrt(),
        },
        departure_m,
        uneven: departure_m > limit_m,
    })
}

/// Impulses and metres along the line between the marks, thinned. Where the receiver smooths, it
/// parts from the counts as long as the speed changes: only the steady part is taken.
fn points(pass: &Prepared<'_>, ends: &(End, End), noise: &ReceiverNoise, lag_s: f64) -> Vec<Point> {
    let (from, to) = (ends.0.lat_lon_deg, ends.1.lat_lon_deg);
    let height_m = ends.0.height_m.or(ends.1.height_m).unwrap_or(0.0);
    let plane = LocalPlane::new(from.0, from.1, height_m);
    let (sin, cos) = inverse(from, to).azimuth_deg.to_radians().sin_cos();
    let (mut from_s, mut to_s) = (pass.start.start_s(), pass.finish.finish_s());
    if pass.is_smoothed() {
        (from_s, to_s) = (from_s + 2.0 * pass.settle_s, to_s - 2.0 * pass.settle_s);
    }
    let curve = pass.motion_curve();
    let inside: Vec<_> =
        pass.fixes.iter().filter(|f| (from_s..=to_s).contains(&(f.tag_s - lag_s))).collect();
    let every = inside.len().div_ceil(POINTS_MAX).max(1);
    let u_y = noise.white_m2.sqrt().max(1e-3);
    inside
        .iter()
        .step_by(every)
        .filter_map(|f| {
            let place = plane.enu(f.fix.lat_deg, f.fix.lon_deg);
            let along_m = place.east_m * sin + place.north_m * cos;
            Some(Point::new(curve.at(f.tag_s - lag_s)?, along_m, WHOLE_COUNT_U, u_y))
        })
        .collect()
}

/// Greatest departure of the mean of three neighbours: one wild fix is not slip.
fn departure_m(points: &[Point], line: &crate::stats::fit::line::LineFit) -> f64 {
    let off = |p: &Point| p.y - line.intercept - line.slope * p.x;
    points.windows(3).map(|w| (w.iter().map(off).sum::<f64>() / 3.0).abs()).fold(0.0, f64::max)
}
