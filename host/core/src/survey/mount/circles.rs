//! Steady circles: how far ahead of the axle the antenna is, from two radii.
//!
//! On a steady circle the middle of the axle goes round at radius R, which the wheel shows: its way
//! over the angle turned. The antenna goes round the same centre at radius A: to the side its
//! distance from the centre is R plus or minus its offset r, along the tractor it is a ahead, so
//! that A^2 = (R +- r)^2 + a^2, plus on a left circle with the antenna on the right. That is linear
//! in r and q = r^2 + a^2: A^2 - R^2 = +-2 R r + q. Circles both ways give both.
//!
//! A comes from the circle through the positions, and from the speed over the turn rate; both are
//! combined by what they are worth. What is left out at either end of a turn, until the heading has
//! settled, dies out with the way driven as exp(-way/a).

use super::runs::Run;
use super::solve::solve_independent;
use super::turns::{self, Piece};
use crate::geodesy::Enu;
use crate::stats::budget::{Quantity, Sources};
use crate::survey::ride::noise::MotionNoise;
use crate::survey::ride::sums::integrated;
use std::f64::consts::TAU;

/// Left out at either end, metres of way: four times the distance ahead of a usual antenna leaves
/// 2 % of the angle that the heading lags by.
const SETTLING_M: f64 = 7.0;
/// A steady arc turns by at least this much, radians: three quarters of a circle.
const ARC_MIN_RAD: f64 = 0.75 * TAU;
/// No steady circle where the positions stray further from it than this (root mean square),
/// metres, unless the receiver's noise explains it.
const STEADY_M: f64 = 0.06;
/// Times the noise that a circle may stray.
const NOISE_TIMES: f64 = 3.0;
/// Rounds of the circle fit; five are usual.
const ROUNDS: usize = 20;

/// One circle, or most of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Turning to the left.
    pub left: bool,
    /// Middle, seconds since the first fix.
    pub at_s: f64,
    /// Angle turned, radians, positive.
    pub turned_rad: f64,
    /// Radius of the axle's middle by the wheel, metres.
    pub axle_radius_m: f64,
    /// Radius of the antenna by positions, metres.
    pub by_position_m: f64,
    /// Radius of the antenna by speed over turn rate, metres.
    pub by_speed_m: f64,
    /// Radius by both combined, metres.
    pub antenna_radius_m: f64,
    /// Standard uncertainty of that, metres.
    pub standard_m: f64,
}

/// What the circles say.
#[derive(Clone, Debug, PartialEq)]
pub struct CircleWitness {
    /// Distance ahead of the rear axle, metres.
    pub ahead: Quantity,
    /// Offset to the right, metres; of the same motion as the turns' word, no witness of its own.
    pub right: Quantity,
    /// The circles that were used.
    pub arcs: Vec<Arc>,
    /// Observed over expected variance.
    pub variance_ratio: f64,
}

/// Why the circles say nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CircleRefusal {
    /// There are no circles at all.
    #[error("no steady circle was driven")]
    NoCircles,
    /// Only one way round.
    #[error("steady circles were driven one way round only")]
    OneWay,
    /// The antenna's radius leaves nothing for a distance ahead.
    #[error("the radii of antenna and axle leave no room for a distance ahead")]
    NoRoom,
}

/// Hear the circles. `per_m`: impulses per metre.
///
/// # Errors
/// [`CircleRefusal`] when there are no steady circles both ways.
pub(super) fn witness(
    all: &[Run<'_>],
    pieces: &[Piece],
    noise: &MotionNoise,
    turn_slip: f64,
    per_m: &Quantity,
    sources: &mut Sources,
) -> Result<CircleWitness, CircleRefusal> {
    let driven = pieces.iter().filter(|piece| piece.is_turn);
    let arcs: Vec<Arc> =
        driven.flat_map(|piece| arcs(&all[piece.run], piece, noise, per_m.value())).collect();
    if arcs.is_empty() {
        return Err(CircleRefusal::NoCircles);
    }
    if arcs.iter().all(|arc| arc.left) || arcs.iter().all(|arc| !arc.left) {
        return Err(CircleRefusal::OneWay);
    }
    let side = |arc: &Arc| if arc.left { 1.0 } else { -1.0 };
    let design: Vec<Vec<f64>> =
        arcs.iter().map(|arc| vec![2.0 * side(arc) * arc.axle_radius_m, 1.0]).collect();
    let observed: Vec<f64> =
        arcs.iter().map(|arc| arc.antenna_radius_m.powi(2) - arc.axle_radius_m.powi(2)).collect();
    let sizes: Vec<f64> =
        arcs.iter().map(|arc| 2.0 * arc.antenna_radius_m * arc.standard_m).collect();
    let solved = solve_independent(&design, &observed, &sizes).ok_or(CircleRefusal::NoCircles)?;
    let (right_m, square_m2) = (solved.values[0], solved.values[1]);
    let room_m2 = square_m2 - right_m * right_m;
    if room_m2 <= 0.0 {
        return Err(CircleRefusal::NoRoom);
    }
    let ahead_m = room_m2.sqrt();
    let name = "scatter of the circles: the receiver's noise on each";
    let [right, square] = solved
        .quantities("circles.noise", name, [right_m, square_m2], sources)
        .ok_or(CircleRefusal::NoCircles)?;
    // A share too much of the wheel's way makes every R too large by that share, and with it the
    // same share twice over of R^2: the observations move by -2 R^2 a share.
    let shared: Vec<f64> = arcs.iter().map(|arc| 2.0 * arc.axle_radius_m.powi(2)).collect();
    let moved = |k: usize| solved.gain[k].iter().zip(&shared).map(|(g, s)| g * s).sum::<f64>();
    let slip = turns::slip(turn_slip, sources);
    let scale = &per_m.scaled(per_m.value().recip()).shifted(-1.0);
    let whole = |of: &Quantity, k: usize| {
        Quantity::combine(of.value(), &[(of, 1.0), (&slip, moved(k)), (scale, moved(k))])
    };
    let (right, square) = (whole(&right, 0), whole(&square, 1));
    let partials = [(&square, 0.5 / ahead_m), (&right, -right_m / ahead_m)];
    let ahead = Quantity::combine(ahead_m, &partials);
    Ok(CircleWitness { ahead, right, arcs, variance_ratio: solved.variance_ratio() })
}

/// The steady arcs of a part of a turn: full circles, as many as fit, or most of one.
fn arcs(run: &Run<'_>, piece: &Piece, noise: &MotionNoise, per_m: f64) -> Vec<Arc> {
    let Some(wheel) = run.wheel else { return Vec::new() };
    let steps = &run.trace.steps;
    let at = |i: usize| wheel.at(steps[i].at_s).unwrap_or_default() / per_m;
    let (begin_m, end_m) = (at(piece.from), at(piece.to));
    let inside = |i: &usize| at(*i) - begin_m >= SETTLING_M && end_m - at(*i) >= SETTLING_M;
    let kept: Vec<usize> = (piece.from..=piece.to).filter(inside).collect();
    let (Some(&from), Some(&to)) = (kept.first(), kept.last()) else { return Vec::new() };
    let turned = (steps[to].track_rad - steps[from].track_rad).abs();
    if turned < ARC_MIN_RAD {
        return Vec::new();
    }
    let count = (turned / TAU).floor().max(1.0) as usize;
    let cut = |k: usize| {
        let wanted = turned * k as f64 / count as f64;
        let reached = |i: usize| (steps[i].track_rad - steps[from].track_rad).abs() >= wanted;
        (from..=to).find(|&i| reached(i)).unwrap_or(to)
    };
    (0..count).filter_map(|k| arc(run, (cut(k), cut(k + 1)), noise, per_m)).collect()
}

fn arc(run: &Run<'_>, (from, to): (usize, usize), noise: &MotionNoise, per_m: f64) -> Option<Arc> {
    let steps = &run.trace.steps[from..=to];
    let places: Vec<Enu> = steps.iter().map(|step| run.trace.antenna(step)).collect();
    let (centre, by_position_m, stray_m) = circle(&places)?;
    if stray_m > STEADY_M.max(NOISE_TIMES * noise.white_m2.sqrt()) {
        return None;
    }
    let (first, last) = (steps.first()?, steps.last()?);
    let lasted_s = last.at_s - first.at_s;
    let wheel = run.wheel?;
    let way_m = (wheel.at(last.at_s)? - wheel.at(first.at_s)?) / per_m;
    // The angle seen from the centre is the sharper one; the tracks show how many half turns.
    let by_track = last.track_rad - first.track_rad;
    let seen = angle(centre, *places.last()?) - angle(centre, *places.first()?);
    let turned = by_track + (seen - by_track + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
    let by_speed_m = integrated(steps, |step| step.speed_m_s).last()? / turned.abs();
    // A radius moves by the mean of the outward errors: the part that differs from fix to fix goes
    // with their number; of the slow part, a quarter of what it grows by over one circle, from
    // averaging a random walk against a sine and cosine over one turn.
    let angle_m2 = 2.0 * noise.white_m2 / turned.abs().powi(2);
    let position_m2 = noise.white_m2 / places.len() as f64 + 0.25 * noise.walk_m2_s * lasted_s;
    let speed_m2 = noise.speed_walk_m2_s * lasted_s / turned.powi(2);
    let share = speed_m2 / (position_m2 + speed_m2);
    Some(Arc {
        left: turned < 0.0,
        at_s: run.since_s(f64::midpoint(first.at_s, last.at_s)),
        turned_rad: turned.abs(),
        axle_radius_m: way_m / turned.abs(),
        by_position_m,
        by_speed_m,
        antenna_radius_m: share * by_position_m + (1.0 - share) * by_speed_m,
        standard_m: (share * position_m2 + angle_m2).sqrt(),
    })
}

/// Direction from the centre, clockwise from north.
fn angle(centre: Enu, at: Enu) -> f64 {
    (at.east_m - centre.east_m).atan2(at.north_m - centre.north_m)
}

/// Circle through places by least squares of the distances from it (Gauss and Newton from the
/// middle of the places): centre, radius, root mean square of what is left.
fn circle(places: &[Enu]) -> Option<(Enu, f64, f64)> {
    let n = places.len() as f64;
    let mean = |of: &dyn Fn(&Enu) -> f64| places.iter().map(of).sum::<f64>() / n;
    let mut centre = Enu { east_m: mean(&|p| p.east_m), north_m: mean(&|p| p.north_m) };
    let mut radius_m = 0.0;
    for _ in 0..ROUNDS {
        let away: Vec<(f64, f64, f64)> = places
            .iter()
            .map(|p| {
                let (east, north) = (p.east_m - centre.east_m, p.north_m - centre.north_m);
                let m = east.hypot(north).max(1e-6);
                (m, east / m, north / m)
            })
            .collect();
        let design: Vec<Vec<f64>> = away.iter().map(|a| vec![1.0, a.1, a.2]).collect();
        let observed: Vec<f64> = away.iter().map(|a| a.0).collect();
        let solved = least(&design, &observed)?;
        radius_m = solved[0];
        centre.east_m += solved[1];
        centre.north_m += solved[2];
        if solved[1].hypot(solved[2]) < 1e-9 {
            break;
        }
    }
    let off =
        |p: &Enu| ((p.east_m - centre.east_m).hypot(p.north_m - centre.north_m) - radius_m).powi(2);
    let stray_m = (places.iter().map(off).sum::<f64>() / n).sqrt();
    (radius_m.is_finite() && radius_m > 0.0).then_some((centre, radius_m, stray_m))
}

/// Ordinary least squares by the normal equations: many rows, three unknowns.
fn least(design: &[Vec<f64>], observed: &[f64]) -> Option<Vec<f64>> {
    let unknowns = design.first()?.len();
    let normal: Vec<Vec<f64>> = (0..unknowns)
        .map(|j| (0..unknowns).map(|k| design.iter().map(|r| r[j] * r[k]).sum()).collect())
        .collect();
    let right: Vec<f64> =
        (0..unknowns).map(|j| design.iter().zip(observed).map(|(r, y)| r[j] * y).sum()).collect();
    let inverse = super::solve::inverse(&normal)?;
    Some(inverse.iter().map(|row| row.iter().zip(&right).map(|(a, b)| a * b).sum()).collect())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_is_found_from_most_of_its_rim() {
        let places: Vec<Enu> = (0..300)
            .map(|i| {
                let (sin, cos) = f64::from(i).to_radians().sin_cos();
                Enu { east_m: 40.0 + 7.2 * sin, north_m: -3.0 + 7.2 * cos }
            })
            .collect();
        let (centre, radius_m, stray_m) = circle(&places).unwrap();
        assert!((radius_m - 7.2).abs() < 1e-9 && stray_m < 1e-9);
        assert!((centre.east_m - 40.0).abs() < 1e-9 && (centre.north_m + 3.0).abs() < 1e-9);
    }
}
