//! The second witness: turns, in which the antenna's way and the wheel's way differ.
//!
//! Along the heading the antenna goes as fast as the axle, less the turn rate times its offset to
//! the right. Over a turn only the change of the heading remains of that, whatever the way between
//! and however slowly the receiver's positions wander. The wheel shows the way of the axle, by the
//! scale that the straights of the same ride give it, so that a common factor cancels.
//!
//! The way along the heading needs the heading, and that needs the distance ahead of the axle. So
//! both are found together, with the wheel's scale, by Gauss and Newton: the offset shows as the
//! difference of left and right turns, the distance ahead as what they have in common.

use super::runs::{AHEAD_FIRST_M, Run, runs};
use super::solve::{Solved, solve};
use super::way::{Way, Ways};
use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::line::Estimate;
use crate::survey::ride::Rides;
use crate::survey::ride::noise::MotionNoise;
use crate::survey::ride::parts::PartKind;

/// A part of a turn to one side counts from this change of heading on, radians: 30 degrees.
const PART_MIN_RAD: f64 = 0.52;
/// The heading has turned round when it comes back by this, radians: 11 degrees.
const BACK_RAD: f64 = 0.2;
/// Turned to each side in all, at the least, radians: 90 degrees.
const SIDE_MIN_RAD: f64 = 1.57;
/// A straight that gives the wheel's scale is at least as long, metres.
const SCALE_MIN_M: f64 = 20.0;
/// Places ahead of the axle that are searched, metres. Nearer than the first, the distance no
/// longer shows; further than the last no cab reaches.
const AHEAD_RANGE_M: (f64, f64) = (0.15, 5.0);
/// Steps allowed to the search; six are usual.
const ROUNDS: usize = 25;
/// The search ends when it moves by less, metres.
const SETTLED_M: f64 = 1e-5;
/// Step of the numerical derivative, metres.
const NUDGE_M: f64 = 0.05;
/// Impulses a steady run must have.
const IMPULSES_MIN: f64 = 50.0;

/// A steady run used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnRun {
    /// Part of a turn; else a straight that scales the wheel.
    pub is_turn: bool,
    /// Seconds since the first fix, middle.
    pub at_s: f64,
    /// Change of the heading, radians clockwise.
    pub turned_rad: f64,
    /// Antenna's way along the heading, metres.
    pub antenna_m: f64,
    /// Wheel's way by the common scale, metres.
    pub wheel_m: f64,
    /// What the fit leaves, metres.
    pub residual_m: f64,
}

/// What the turns say.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnWitness {
    /// Offset to the right, metres.
    pub right: Quantity,
    /// Distance ahead of the rear axle, metres.
    pub ahead: Quantity,
    /// Impulses per metre on the straights.
    pub impulses_per_m: Quantity,
    /// The steady runs that were used.
    pub steady_runs: Vec<TurnRun>,
    /// Turned to the left and to the right in all, radians, both positive.
    pub turned_rad: (f64, f64),
    /// Observed over expected variance.
    pub variance_ratio: f64,
    /// The distance ahead lies at the edge of what was searched: it was not seen.
    pub ahead_at_edge: bool,
}

/// Why the turns say nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TurnRefusal {
    /// The wheel gave no impulses.
    #[error("the wheel sensor gave no impulses")]
    NoWheel,
    /// No turn at all.
    #[error("no turn was driven forwards")]
    NoTurns,
    /// Turned to one side only.
    #[error("turns were driven to one side only")]
    OneSide,
    /// No straight to scale the wheel by.
    #[error("no straight of 20 m or more shows the wheel's scale")]
    NoScale,
    /// The fit did not come to rest.
    #[error("offset and distance ahead cannot be separated by these turns")]
    NotSolved,
}

/// A steady run before it is worked: which run, from which step to which.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub run: usize,
    pub from: usize,
    pub to: usize,
    pub is_turn: bool,
    pub impulses: f64,
}

/// The straights and the one-sided parts of turns of all runs.
pub(super) fn pieces(all: &[Run<'_>]) -> Vec<Piece> {
    let mut out = Vec::new();
    for (run, of) in all.iter().enumerate() {
        let Some(wheel) = of.wheel else { continue };
        let heading: Vec<f64> = of.trace.steps.iter().map(|step| step.heading_rad).collect();
        for part in &of.parts {
            let steps = &of.trace.steps[part.from..=part.to];
            if steps.iter().any(|step| step.backwards) {
                continue;
            }
            let is_turn = part.kind == PartKind::Turn;
            let parts = if is_turn {
                one_sided(&heading, part.from, part.to)
            } else {
                vec![(part.from, part.to)]
            };
            for (from, to) in parts {
                let at = |i: usize| wheel.at(of.trace.steps[i].at_s);
                let (Some(first), Some(last)) = (at(from), at(to)) else { continue };
                let impulses = last - first;
                if impulses >= IMPULSES_MIN {
                    out.push(Piece { run, from, to, is_turn, impulses });
                }
            }
        }
    }
    out
}

/// Cut a turn where the heading turns round; parts that hardly turn are left out.
fn one_sided(heading: &[f64], from: usize, to: usize) -> Vec<(usize, usize)> {
    let mut cuts = vec![from];
    let (mut low, mut high) = (from, from);
    let mut rising: Option<bool> = None;
    for i in from..=to {
        low = if heading[i] < heading[low] { i } else { low };
        high = if heading[i] > heading[high] { i } else { high };
        let (up, down) =
            (heading[i] - heading[low] > BACK_RAD, heading[high] - heading[i] > BACK_RAD);
        match rising {
            None if up => rising = Some(true),
            None if down => rising = Some(false),
            Some(true) if down => {
                cuts.push(high);
                (rising, low) = (Some(false), i);
            }
            Some(false) if up => {
                cuts.push(low);
                (rising, high) = (Some(true), i);
            }
            _ => {}
        }
        // The other extreme follows, so that only turning back is seen.
        match rising {
            Some(true) => low = high,
            Some(false) => high = low,
            None => {}
        }
    }
    cuts.push(to);
    let turns = |w: &&[usize]| (heading[w[1]] - heading[w[0]]).abs() >= PART_MIN_RAD;
    cuts.windows(2).filter(turns).map(|w| (w[0], w[1])).collect()
}

/// Hear the turns. `turn_slip`: standard uncertainty of the slip in turns over that on the
/// straights; `per_m`: impulses per metre where they are known, with their standard uncertainty.
///
/// # Errors
/// [`TurnRefusal`] when wheel, turns to both sides or straights are missing.
pub fn witness(
    rides: &Rides<'_>,
    noise: &MotionNoise,
    turn_slip: f64,
    per_m: Option<Estimate>,
    sources: &mut Sources,
) -> Result<TurnWitness, TurnRefusal> {
    let first = runs(rides, AHEAD_FIRST_M);
    let pieces = pieces(&first);
    let turned_rad = fit_to_hear(&first, &pieces, noise, per_m.is_some())?;
    let scale = per_m.map_or_else(|| rough_scale(&first, &pieces, noise), |known| known.value);
    let fit = |slip: f64, start_m: f64| {
        search(rides, &Task { pieces: &pieces, noise, scale, per_m, slip }, start_m)
    };
    let found = fit(0.0, AHEAD_FIRST_M).ok_or(TurnRefusal::NotSolved)?;
    let slipped = fit(turn_slip, found.ahead_m).ok_or(TurnRefusal::NotSolved)?;
    let values = [found.right_m, found.scale_off, found.ahead_m];
    let name = "scatter of the turns: the receiver's noise over in each direction";
    let [right, off, ahead] = found
        .solved
        .quantities("turns.noise", name, values, sources)
        .ok_or(TurnRefusal::NotSolved)?;
    // Of the wheel in turns, as its share of the way: both results move with it together.
    let slip = slip(turn_slip, sources);
    let per_slip = |moved: f64| if turn_slip > 0.0 { moved / turn_slip } else { 0.0 };
    let with_slip = |of: &Quantity, moved: f64| {
        Quantity::combine(of.value(), &[(of, 1.0), (&slip, per_slip(moved))])
    };
    Ok(TurnWitness {
        right: with_slip(&right, slipped.right_m - found.right_m),
        ahead: with_slip(&ahead, slipped.ahead_m - found.ahead_m),
        impulses_per_m: Quantity::combine(scale / (1.0 + off.value()), &[(&off, -scale)]),
        turned_rad,
        variance_ratio: found.solved.variance_ratio(),
        ahead_at_edge: found.at_edge,
        steady_runs: found.steady_runs,
    })
}

/// Slip of the wheel in turns beside that on the straights, as its share of the way.
pub(super) fn slip(turn_slip: f64, sources: &mut Sources) -> Quantity {
    sources.quantity(0.0, Source::normal("turns.slip", "the wheel's slip in turns", turn_slip))
}

/// Turned to the left and to the right in all, if that is enough.
fn fit_to_hear(
    first: &[Run<'_>],
    pieces: &[Piece],
    noise: &MotionNoise,
    scale_known: bool,
) -> Result<(f64, f64), TurnRefusal> {
    if first.iter().all(|run| run.wheel.is_none()) {
        return Err(TurnRefusal::NoWheel);
    }
    let ways: Vec<Ways> = first.iter().map(Ways::new).collect();
    let mut turned = (0.0, 0.0);
    let mut scaled_m = 0.0_f64;
    for piece in pieces {
        let way = ways[piece.run].between(piece.from, piece.to, noise);
        if !piece.is_turn {
            scaled_m = scaled_m.max(way.forward_m);
        } else if way.turned_rad < 0.0 {
            turned.0 -= way.turned_rad;
        } else {
            turned.1 += way.turned_rad;
        }
    }
    if turned.0 + turned.1 < SIDE_MIN_RAD {
        Err(TurnRefusal::NoTurns)
    } else if turned.0.min(turned.1) < SIDE_MIN_RAD {
        Err(TurnRefusal::OneSide)
    } else if scaled_m < SCALE_MIN_M && !scale_known {
        Err(TurnRefusal::NoScale)
    } else {
        Ok(turned)
    }
}

/// Impulses per metre over all straights.
fn rough_scale(first: &[Run<'_>], pieces: &[Piece], noise: &MotionNoise) -> f64 {
    let ways: Vec<Ways> = first.iter().map(Ways::new).collect();
    let (mut impulses, mut way_m) = (0.0, 0.0);
    for piece in pieces.iter().filter(|piece| !piece.is_turn) {
        impulses += piece.impulses;
        way_m += ways[piece.run].between(piece.from, piece.to, noise).forward_m;
    }
    impulses / way_m
}

struct Task<'t> {
    pieces: &'t [Piece],
    noise: &'t MotionNoise,
    /// Impulses per metre about which the scale is found.
    scale: f64,
    per_m: Option<Estimate>,
    /// The wheel turned by this share too much in turns.
    slip: f64,
}

struct Found {
    right_m: f64,
    /// The wheel's metres are longer than `scale` says by this share.
    scale_off: f64,
    ahead_m: f64,
    at_edge: bool,
    solved: Solved,
    steady_runs: Vec<TurnRun>,
}

/// All steady runs for an antenna `ahead_m` ahead of the axle.
fn steady_runs(rides: &Rides<'_>, task: &Task<'_>, ahead_m: f64) -> (Vec<TurnRun>, Vec<Way>) {
    let headed = runs(rides, ahead_m);
    let ways: Vec<Ways> = headed.iter().map(Ways::new).collect();
    let one = |piece: &Piece| {
        let way = ways[piece.run].between(piece.from, piece.to, task.noise);
        let steps = &headed[piece.run].trace.steps;
        let middle_s = f64::midpoint(steps[piece.from].at_s, steps[piece.to].at_s);
        let slip = if piece.is_turn { task.slip } else { 0.0 };
        let steady_run = TurnRun {
            is_turn: piece.is_turn,
            at_s: headed[piece.run].since_s(middle_s),
            turned_rad: way.turned_rad,
            antenna_m: way.forward_m,
            wheel_m: piece.impulses / task.scale * (1.0 - slip),
            residual_m: 0.0,
        };
        (steady_run, way)
    };
    task.pieces.iter().map(one).unzip()
}

/// Covariance of the antenna's ways. Two steady runs that meet share the position between them:
/// what it is wrong by lengthens the one and shortens the other.
fn covariance(task: &Task<'_>, ways: &[Way]) -> Vec<Vec<f64>> {
    let meet = |a: &Piece, b: &Piece| a.run == b.run && (a.to == b.from || b.to == a.from);
    let entry = |i: usize, j: usize| {
        if i == j {
            ways[i].standard_m.powi(2)
        } else if meet(&task.pieces[i], &task.pieces[j]) {
            -ways[i].position_share * ways[j].position_share * task.noise.white_m2
        } else {
            0.0
        }
    };
    (0..ways.len()).map(|i| (0..ways.len()).map(|j| entry(i, j)).collect()).collect()
}

/// Gauss and Newton over offset, scale and distance ahead.
fn search(rides: &Rides<'_>, task: &Task<'_>, start_m: f64) -> Option<Found> {
    let (low_m, high_m) = AHEAD_RANGE_M;
    let (mut right_m, mut ahead_m) = (0.0, start_m);
    for _ in 0..ROUNDS {
        let (here, ways) = steady_runs(rides, task, ahead_m);
        let (there, _) = steady_runs(rides, task, ahead_m + NUDGE_M);
        let mut design: Vec<Vec<f64>> = Vec::with_capacity(here.len() + 1);
        let mut observed: Vec<f64> = Vec::with_capacity(here.len() + 1);
        let mut covariance = covariance(task, &ways);
        for (a, b) in here.iter().zip(&there) {
            // What the way and the heading do together when the antenna is further ahead.
            let moved = b.antenna_m + right_m * b.turned_rad - a.antenna_m - right_m * a.turned_rad;
            design.push(vec![-a.turned_rad, a.wheel_m, -moved / NUDGE_M]);
            observed.push(a.antenna_m - a.wheel_m);
        }
        if let Some(known) = task.per_m {
            let (per_m, u_per_m) = (known.value, known.standard_uncertainty);
            // A metre more in the scale is a row of its own: known to be what was given.
            design.push(vec![0.0, 1.0, 0.0]);
            observed.push(0.0);
            let n = covariance.len();
            covariance.iter_mut().for_each(|row| row.push(0.0));
            covariance.push(vec![0.0; n + 1]);
            covariance[n][n] = (u_per_m / per_m).powi(2);
        }
        let solved = solve(&design, &observed, &covariance)?;
        let next_m = (ahead_m + solved.values[2]).clamp(low_m, high_m);
        let step_m = next_m - ahead_m;
        right_m = solved.values[0];
        if step_m.abs() < SETTLED_M {
            let at_edge = next_m <= low_m || next_m >= high_m;
            let scale_off = solved.values[1];
            let steady_runs = here
                .into_iter()
                .zip(&solved.residuals)
                .map(|(run, &residual_m)| TurnRun { residual_m, ..run })
                .collect();
            return Some(Found { right_m, scale_off, ahead_m, at_edge, solved, steady_runs });
        }
        ahead_m = next_m;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::one_sided;

    #[test]
    fn a_turn_is_cut_where_the_heading_turns_round() {
        // 60 degrees left, 300 right, 60 left, in steps of one degree.
        let mut heading = vec![0.0_f64; 10];
        for (count, step) in [(60, -1.0_f64), (300, 1.0), (60, -1.0), (10, 0.0)] {
            for _ in 0..count {
                heading.push(heading[heading.len() - 1] + step.to_radians());
            }
        }
        let parts = one_sided(&heading, 0, heading.len() - 1);
        assert_eq!(parts, [(0, 69), (69, 369), (369, 439)]);
    }
}
