//! The length of a pass by satellite.
//!
//! Three estimates are made and combined by what they are worth. The chord is the
//! geodesic between the mean positions at the two marks: its error is the change of the
//! receiver's slow error from one end to the other. The line of all positions against all counts
//! ([`super::track`]) takes the chord's place where the marks were given on the move. The Doppler
//! length is the integral of the
//! speed: it knows nothing of position errors, and its own error grows with the root of the
//! time. All are straight lengths; how much longer the wheel's path is, [`super::weave`] shows.
//! The sum of steps between fixes is never used, because noise only ever lengthens it.

use super::parts::{self, Parts};
use super::prepare::{Prepared, SETTLE_S};
use super::rest::Stance;
use super::spikes::plausible_heights_m;
use super::track::{self, Track};
use crate::geodesy::{Enu, LocalPlane, inverse, slope_length_m};
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::upper_median;
use crate::timeline::timed_fix::TaggedFix;
use crate::wire::fix::Quality;

/// Used of a rest, seconds. More would not help: the slow error moves on meanwhile.
const REST_USED_S: f64 = 15.0;
/// Either side of a rolling mark, seconds: short enough for an even motion.
const ROLL_HALF_S: f64 = 1.0;
/// Of a fine sensor's creeping nothing is lost: an impulse of a centimetre takes this, seconds.
const CREEP_FINE_S: f64 = 0.32;
/// Standard uncertainty of the antenna position over the wheel at a mark, metres: 0.2 degrees of
/// pitch at 3 m height (H sin of the change); common practice, no source.
pub const SWAY_M: f64 = 0.010;
/// Least fixes for a mean position.
const FIXES_MIN: usize = 5;

/// Where the antenna was at a mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    /// Latitude and longitude, degrees.
    pub lat_lon_deg: (f64, f64),
    /// Height above the ellipsoid, metres.
    pub height_m: Option<f64>,
    /// Middle of the fixes used, board seconds of the window.
    pub at_s: f64,
    /// The same as UTC of the fixes, nanoseconds since 1970: one clock for all passes.
    pub utc_ns: i64,
    /// Number of the fixes used.
    pub fixes: usize,
    /// Poorest quality among them.
    pub quality: Quality,
    /// Horizontal speed at the mark, m/s; 0 at rest.
    pub speed_m_s: f64,
}

/// What the receiver's own data say of its errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReceiverNoise {
    /// Variance per axis of the part that differs from fix to fix, square metres.
    pub white_m2: f64,
    /// Growth per second of the variance of the difference of two positions, per axis, m2/s.
    pub walk_m2_s: f64,
    /// Scatter of the speed about the sensors' speed, m/s.
    pub speed_m_s: f64,
    /// Correlation of neighbouring speed errors.
    pub speed_correlation: f64,
}

/// A length with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    /// Metres along the ground.
    pub length_m: f64,
    /// Standard uncertainty by the receiver's own noise, metres.
    pub standard_uncertainty_m: f64,
}

/// The satellite's word on one pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SatelliteLength {
    /// From the line of positions against counts.
    pub track: Option<Track>,
    /// By the positions: the better of chord and line.
    pub by_place: Length,
    /// The positions at the marks beside those between them, where they can be compared.
    pub parts: Option<Parts>,
    /// Integral of the speed.
    pub doppler: Option<Length>,
    /// Positions and speed combined.
    pub joined: Length,
    /// Share of the positions in it, 0 to 1.
    pub position_share: f64,
}

impl Length {
    /// As uncertain by so many metres more.
    #[must_use]
    pub fn widened(self, by_m: f64) -> Self {
        Self { standard_uncertainty_m: self.standard_uncertainty_m.hypot(by_m), ..self }
    }
}

/// Standard deviation per axis to which the slow error of a class grows in the long run, metres:
/// what is learned at rest shows how fast the error wanders, this shows where that ends. Ample
/// values for open sky, common practice, no source.
#[must_use]
pub fn slow_m(quality: Quality) -> f64 {
    match quality {
        Quality::RtkFixed => 0.012,
        Quality::RtkFloat => 0.3,
        Quality::Differential | Quality::Pps => 0.5,
        _ => 1.5,
    }
}

/// The quality with the larger slow error.
#[must_use]
pub fn worse(a: Quality, b: Quality) -> Quality {
    if slow_m(b) > slow_m(a) { b } else { a }
}

/// Variance per axis of the difference of two positions some time apart, without the part that
/// differs from fix to fix: a first-order Gauss-Markov error, 2 s^2 (1 - exp(-t/T)), whose growth
/// at first is the one learned and whose end is that of the class. Positions of unlike quality do
/// not share their slow error at all.
#[must_use]
pub fn slow_growth_m2(noise: &ReceiverNoise, a: Quality, b: Quality, apart_s: f64) -> f64 {
    let end_m2 = 2.0 * slow_m(a).max(slow_m(b)).powi(2);
    if a == b { end_m2 * (1.0 - (-noise.walk_m2_s * apart_s / end_m2).exp()) } else { end_m2 }
}

/// Position at the start or finish of a pass.
#[must_use]
pub fn end(pass: &Prepared<'_>, stance: Stance, is_start: bool, lag_s: f64) -> Option<End> {
    let used = fixes_at(pass, stance, is_start, lag_s);
    let first = used.first()?;
    if used.len() < FIXES_MIN {
        return None;
    }
    let plane = LocalPlane::new(first.fix.lat_deg, first.fix.lon_deg, 0.0);
    let places: Vec<(f64, Enu)> =
        used.iter().map(|f| (f.tag_s - lag_s, plane.enu(f.fix.lat_deg, f.fix.lon_deg))).collect();
    let n = places.len() as f64;
    let mean_s = places.iter().map(|p| p.0).sum::<f64>() / n;
    let east_m = places.iter().map(|p| p.1.east_m).sum::<f64>() / n;
    let north_m = places.iter().map(|p| p.1.north_m).sum::<f64>() / n;
    let mut at = Enu { east_m, north_m };
    let mut at_s = mean_s;
    let mut speed_m_s = 0.0;
    if let Stance::Rolling { at_s: mark_s } = stance {
        let velocity = slope(&places, mean_s)?;
        speed_m_s = velocity.0.hypot(velocity.1);
        at.east_m += velocity.0 * (mark_s - mean_s);
        at.north_m += velocity.1 * (mark_s - mean_s);
        at_s = mark_s;
    }
    let heights = plausible_heights_m(used);
    let height_m =
        (!heights.is_empty()).then(|| heights.iter().sum::<f64>() / heights.len() as f64);
    let since_first_ns = used.iter().map(|f| f.fix.utc_ns - first.fix.utc_ns).sum::<i64>();
    Some(End {
        lat_lon_deg: plane.lat_lon_deg(at),
        height_m,
        at_s,
        utc_ns: first.fix.utc_ns + since_first_ns / used.len() as i64,
        fixes: used.len(),
        quality: used.iter().map(|f| f.fix.quality).fold(first.fix.quality, worse),
        speed_m_s,
    })
}

/// Fixes that show the position at a mark: the part of the rest next to the drive, or both sides
/// of a rolling mark.
#[must_use]
pub fn fixes_at<'p>(
    pass: &'p Prepared<'_>,
    stance: Stance,
    is_start: bool,
    lag_s: f64,
) -> &'p [TaggedFix] {
    fixes_settled(pass, stance, is_start, lag_s, pass.settle_s)
}

/// The same with another wait after coming to rest, seconds.
pub(super) fn fixes_settled<'p>(
    pass: &'p Prepared<'_>,
    stance: Stance,
    is_start: bool,
    lag_s: f64,
    settle_s: f64,
) -> &'p [TaggedFix] {
    let (from_s, to_s) = match stance {
        Stance::Rolling { at_s } => (at_s - ROLL_HALF_S, at_s + ROLL_HALF_S),
        Stance::Standing { from_s, to_s, .. } => {
            // With a coarse sensor the tractor creeps at either end of what looks like rest.
            let creep_s = (pass.creep_s() - CREEP_FINE_S).max(0.0);
            // A smoothed position moves off at once, however late it arrives.
            let early_s = if settle_s > SETTLE_S { lag_s.max(0.0) } else { 0.0 };
            let settled_s = from_s + creep_s + settle_s;
            let left_s = to_s - creep_s - early_s;
            if is_start {
                (settled_s.max(left_s - REST_USED_S), left_s)
            } else {
                (settled_s, left_s.min(settled_s + REST_USED_S))
            }
        }
    };
    let from = pass.fixes.partition_point(|f| f.tag_s - lag_s < from_s);
    let to = pass.fixes.partition_point(|f| f.tag_s - lag_s <= to_s);
    &pass.fixes[from..to.max(from)]
}

/// Least-squares velocity east and north, m/s.
fn slope(places: &[(f64, Enu)], mean_s: f64) -> Option<(f64, f64)> {
    let tt: f64 = places.iter().map(|p| (p.0 - mean_s).powi(2)).sum();
    let east: f64 = places.iter().map(|p| (p.0 - mean_s) * p.1.east_m).sum();
    let north: f64 = places.iter().map(|p| (p.0 - mean_s) * p.1.north_m).sum();
    (tt > 0.0).then(|| (east / tt, north / tt))
}

/// Work out both lengths; [`super::reconcile`] joins them. `rise_m` is the height difference of the
/// pegs.
#[must_use]
pub fn measure(
    pass: &Prepared<'_>,
    ends: &(End, End),
    impulses: Option<f64>,
    noise: &ReceiverNoise,
    rise_m: f64,
    lag_s: Estimate,
) -> SatelliteLength {
    let mut chord = chord(ends, noise, rise_m, lag_s.standard_uncertainty);
    chord.standard_uncertainty_m = chord.standard_uncertainty_m.hypot(pass.unsettled_m);
    let track = impulses.and_then(|n| track::fit(pass, ends, n, noise, rise_m, lag_s));
    // Chord and line are made of the same positions, so the better one stands for both.
    let mut by_place = match track {
        Some(t) if t.length.standard_uncertainty_m < chord.standard_uncertainty_m => t.length,
        _ => chord,
    };
    let parts = track.and_then(|line| parts::compare(pass, &chord, &line.length));
    if let Some(parts) = parts.filter(|parts| parts.contradict) {
        by_place = by_place.widened(parts.apart_m);
    }
    let azimuth_deg = inverse(ends.0.lat_lon_deg, ends.1.lat_lon_deg).azimuth_deg;
    let doppler = doppler(pass, noise, azimuth_deg, lag_s.value)
        .map(|level| sloped(level, chord.length_m, rise_m));
    SatelliteLength { track, by_place, parts, doppler, joined: by_place, position_share: 1.0 }
}

fn chord(ends: &(End, End), noise: &ReceiverNoise, rise_m: f64, lag_u_s: f64) -> Length {
    let (a, b) = ends;
    let line = inverse(a.lat_lon_deg, b.lat_lon_deg);
    let height_m = match (a.height_m, b.height_m) {
        (Some(a), Some(b)) => f64::midpoint(a, b),
        (Some(h), None) | (None, Some(h)) => h,
        (None, None) => 0.0,
    };
    let level_m = slope_length_m(line.length_m, height_m, 0.0);
    let white = noise.white_m2 * (1.0 / a.fixes as f64 + 1.0 / b.fixes as f64);
    let slow = slow_growth_m2(noise, a.quality, b.quality, (b.at_s - a.at_s).abs());
    // One lag for both marks: only the difference of the speeds matters, plus the fix noise.
    let timing = (b.speed_m_s - a.speed_m_s) * lag_u_s;
    Length {
        length_m: slope_length_m(level_m, 0.0, rise_m),
        standard_uncertainty_m: (white + slow + timing * timing).sqrt(),
    }
}

/// Level length by the integral of the speed along the line from end to end, or `None` where
/// speeds are missing.
///
/// Along the line, so that neither weaving nor noise across it lengthens the result: the
/// magnitude of a noisy velocity is always a little too large.
fn doppler(
    pass: &Prepared<'_>,
    noise: &ReceiverNoise,
    azimuth_deg: f64,
    lag_s: f64,
) -> Option<Length> {
    let along = |speed_m_s: f64, track_deg: Option<f64>| {
        let off_deg = track_deg.map_or(0.0, |track| track - azimuth_deg);
        speed_m_s * off_deg.to_radians().cos()
    };
    let (between_edges_m, interval_s) = integrate(pass, lag_s, along)?;
    let standing = [pass.start, pass.finish].iter().filter(|s| s.is_standing()).count() as f64;
    // A smoothed speed is spread beyond the edges and integrated from rest to rest; else what lies
    // outside the edges is a part of an impulse at either end, evenly spread.
    let (share, outside_m2) = if pass.is_smoothed() {
        (1.0, 0.0)
    } else {
        (edge_share(pass)?, standing * pass.spacing_m.powi(2) / 12.0)
    };
    let length_m = between_edges_m * share;
    let lasted_s = pass.finish.finish_s() - pass.start.start_s();
    let correlated = (1.0 + noise.speed_correlation) / (1.0 - noise.speed_correlation);
    let variance = noise.speed_m_s.powi(2) * interval_s * lasted_s * correlated + outside_m2;
    Some(Length { length_m, standard_uncertainty_m: variance.sqrt() })
}

/// Metres driven between the marks, turns and all, by the speed's magnitude.
#[must_use]
pub fn driven_m(pass: &Prepared<'_>, lag_s: f64) -> Option<f64> {
    integrate(pass, lag_s, |speed_m_s, _| speed_m_s).map(|(length_m, _)| length_m)
}

/// Length from rest to rest over length from the first edge to the last. N impulses of a standing
/// pass are N - 1 intervals between edges, and at either end a part of one that nothing shows, on
/// average half of it. A mark on the move is an instant, with nothing outside it.
fn edge_share(pass: &Prepared<'_>) -> Option<f64> {
    let halves = [pass.start, pass.finish].iter().filter(|stance| stance.is_standing()).count();
    let curve = pass.motion_curve();
    // Before the first edge known the count is that edge's own, as where the impulses are taken.
    let from = curve.whole(pass.start.start_s()).or_else(|| Some(curve.knots().first()?.1))?;
    let impulses = curve.whole(pass.finish.finish_s())? - from;
    let untold = 0.5 * halves as f64;
    (impulses > 2.0).then(|| impulses / (impulses - untold))
}

/// Integral of what `value` makes of speed and track, and the usual interval of the fixes; `None`
/// where speeds are missing. It runs from the first edge after a rest to the last before the
/// next, or from mark to mark on the move. Where the tractor stands the speed is zero: what a
/// receiver prints there is the size of its noise, which is never negative and only adds length.
fn integrate(
    pass: &Prepared<'_>,
    lag_s: f64,
    value: impl Fn(f64, Option<f64>) -> f64,
) -> Option<(f64, f64)> {
    let (mut from_s, mut to_s) = (pass.start.motion_from_s(), pass.finish.motion_to_s());
    let mut creep_s = pass.creep_s();
    if pass.is_smoothed() {
        let reach_s = |stance: Stance| if stance.is_standing() { pass.settle_s } else { 0.0 };
        (from_s, to_s) = (from_s - reach_s(pass.start), to_s + reach_s(pass.finish));
        creep_s = 0.0;
    }
    let at_rest = |t: f64| {
        pass.start.is_standing() && t < from_s - creep_s
            || pass.finish.is_standing() && t > to_s + creep_s
    };
    let speeds: Vec<(f64, f64)> = pass
        .fixes
        .iter()
        .filter_map(|f| {
            let (t, speed_m_s) = (f.tag_s - lag_s, f.fix.speed_m_s?);
            Some((t, if at_rest(t) { 0.0 } else { value(speed_m_s, f.fix.track_deg) }))
        })
        .collect();
    let interval_s = median_interval(&speeds)?;
    let first = speeds.partition_point(|p| p.0 < from_s).checked_sub(1)?;
    let last = speeds.partition_point(|p| p.0 <= to_s);
    if last >= speeds.len() {
        return None;
    }
    let mut sum = 0.0;
    for pair in speeds[first..=last].windows(2) {
        let (a, b) = (pair[0], pair[1]);
        // Over one missing epoch the speed is still as good as straight; over more it is not.
        if b.0 - a.0 > 2.5 * interval_s {
            return None;
        }
        let at = |t: f64| a.1 + (b.1 - a.1) * (t - a.0) / (b.0 - a.0);
        let (t0, t1) = (a.0.max(from_s), b.0.min(to_s));
        if t1 > t0 {
            sum += (t1 - t0) * f64::midpoint(at(t0), at(t1));
        }
    }
    Some((sum, interval_s))
}

fn median_interval(speeds: &[(f64, f64)]) -> Option<f64> {
    let steps = speeds.windows(2).map(|w| w[1].0 - w[0].0).collect();
    upper_median(steps).filter(|&step| step > 0.0)
}

fn sloped(level: Length, chord_m: f64, rise_m: f64) -> Length {
    let stretch = if chord_m > 0.0 { slope_length_m(1.0, 0.0, rise_m / chord_m) } else { 1.0 };
    Length {
        length_m: level.length_m * stretch,
        standard_uncertainty_m: level.standard_uncertainty_m * stretch,
    }
}
