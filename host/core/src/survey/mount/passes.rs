//! The first witness: opposite passes along one line.
//!
//! The tractor's middle goes out and comes back on the same line; the antenna, off the middle,
//! draws two lines that lie apart by twice its offset. Each straight part gives its mean place
//! across the line, over the run that all parts of the line have in common and weighed by way,
//! not by time. Places and offset are found together by generalised least squares: the errors of
//! one part are those of the driver, who holds the line so and so well, and the slow error of the
//! receiver, whose covariance falls with the time between two parts (first-order Gauss-Markov).
//! That covariance takes the drift between passes into account: parts near in time show most.

use super::runs::Run;
use super::solve::solve;
use crate::geodesy::Enu;
use crate::passes::satellite::{slow_m, worse};
use crate::stats::budget::{Quantity, Source, Sources};
use crate::survey::ride::axle::TraceStep;
use crate::survey::ride::noise::MotionNoise;
use crate::survey::ride::parts::PartKind;
use crate::wire::fix::Quality;

/// A part shorter than this, or less in common with the others of its line, shows too little of
/// where the line is, metres.
const COMMON_MIN_M: f64 = 20.0;
/// Parts whose directions differ by more than this are not on one line, radians: 3 degrees.
const PARALLEL_RAD: f64 = 0.052;
/// Parts further apart than this are of different lines, metres: twice an offset of 1.2 m; an
/// antenna further out would stand over the wheels. Common practice, no source.
const NEAR_M: f64 = 2.4;
/// A part that strays by more than this (root mean square) from its straight is a bend, metres.
const BENT_M: f64 = 0.5;
/// Length over which places are gathered, so that a rest does not outweigh the way, metres.
const BIN_M: f64 = 1.0;
/// Share of the bins that must be filled.
const FILLED: f64 = 0.8;
/// Slower than this no fix is used: at rest nothing is passed, m/s.
const MOVING_M_S: f64 = 0.3;
/// Instants by which a part is represented when its slow error is averaged.
const INSTANTS: usize = 6;
/// The model is an assumption about the driver in the main: it may be wrong by half (JCGM 100,
/// G.4.2, equation G.3: two degrees of freedom).
const MODEL_DOF: f64 = 2.0;

/// One pass along a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassPlace {
    /// Which line, from 1.
    pub line: usize,
    /// Along the line's first part (`true`) or against it.
    pub out: bool,
    /// Middle of the part, seconds since the first fix.
    pub at_s: f64,
    /// Mean place to the right of the line's first part, metres.
    pub across_m: f64,
    /// What the fit leaves of it, metres.
    pub residual_m: f64,
}

/// What the passes say.
#[derive(Clone, Debug, PartialEq)]
pub struct PassWitness {
    /// Offset to the right, metres.
    pub right: Quantity,
    /// The passes that were used.
    pub places: Vec<PassPlace>,
    /// Lines they belong to.
    pub lines: usize,
    /// Observed over expected variance; 1 where there is nothing to spare.
    pub variance_ratio: f64,
}

/// Why the passes say nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PassRefusal {
    /// No straight part that is long enough.
    #[error("no straight pass of 20 m or more was driven")]
    NoStraight,
    /// Straights, but none in opposite directions on one line.
    #[error("no line was driven both out and back")]
    NotOpposite,
    /// Opposite and near, but not over the same run.
    #[error("the passes out and back have less than 20 m of the line in common")]
    NoOverlap,
}

/// A straight part on the common plane.
struct Straight {
    points: Vec<(f64, Enu)>,
    direction: (f64, f64),
    quality: Quality,
}

/// A line: its first part's axis, and the parts on it.
struct DrivenLine {
    origin: Enu,
    axis: (f64, f64),
    members: Vec<(usize, f64)>,
    common: (f64, f64),
}

impl DrivenLine {
    fn along(&self, at: Enu) -> f64 {
        (at.east_m - self.origin.east_m) * self.axis.0
            + (at.north_m - self.origin.north_m) * self.axis.1
    }

    /// To the right of the axis.
    fn across(&self, at: Enu) -> f64 {
        (at.east_m - self.origin.east_m) * self.axis.1
            - (at.north_m - self.origin.north_m) * self.axis.0
    }

    fn reach(&self, part: &Straight) -> (f64, f64) {
        let along = part.points.iter().map(|p| self.along(p.1));
        along.fold((f64::INFINITY, f64::NEG_INFINITY), |r, m| (r.0.min(m), r.1.max(m)))
    }

    /// Mean place across over a run, weighed by way; `None` with holes in it.
    fn mean_across(&self, part: &Straight, (from, to): (f64, f64)) -> Option<f64> {
        let bins = ((to - from) / BIN_M).floor().max(1.0);
        let mut sums = vec![(0.0, 0_u32); bins as usize];
        for (_, at) in &part.points {
            let place = (self.along(*at) - from) / (to - from) * bins;
            if place >= 0.0 && place < bins {
                let bin = &mut sums[place as usize];
                *bin = (bin.0 + self.across(*at), bin.1 + 1);
            }
        }
        let means: Vec<f64> =
            sums.iter().filter(|bin| bin.1 > 0).map(|bin| bin.0 / f64::from(bin.1)).collect();
        let enough = means.len() as f64 >= FILLED * bins;
        enough.then(|| means.iter().sum::<f64>() / means.len() as f64)
    }
}

/// Hear the passes. `line_held_m`: standard uncertainty with which the driver holds the line.
///
/// # Errors
/// [`PassRefusal`] when no line was driven out and back.
pub fn witness(
    runs: &[Run<'_>],
    noise: &MotionNoise,
    line_held_m: f64,
    sources: &mut Sources,
) -> Result<PassWitness, PassRefusal> {
    let straights = straights(runs);
    if straights.is_empty() {
        return Err(PassRefusal::NoStraight);
    }
    let lines = lines(&straights)?;
    let mut design = Vec::new();
    let mut places = Vec::new();
    let mut parts: Vec<(&Straight, &DrivenLine)> = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        for &(index, way) in &line.members {
            let part = &straights[index];
            let Some(across_m) = line.mean_across(part, line.common) else { continue };
            // Places of the lines first, the offset last.
            let mut row = vec![0.0; lines.len() + 1];
            row[number] = 1.0;
            row[lines.len()] = way;
            design.push(row);
            let at_s = f64::midpoint(part.points[0].0, part.points[part.points.len() - 1].0);
            let (line_number, out) = (number + 1, way > 0.0);
            places.push(PassPlace { line: line_number, out, at_s, across_m, residual_m: 0.0 });
            parts.push((part, line));
        }
    }
    let receiver = receiver_covariance(&parts, noise);
    let mut covariance = receiver.clone();
    for (i, row) in covariance.iter_mut().enumerate() {
        row[i] += line_held_m * line_held_m;
    }
    let observed: Vec<f64> = places.iter().map(|p| p.across_m).collect();
    let solved = solve(&design, &observed, &covariance).ok_or(PassRefusal::NotOpposite)?;
    for (place, residual) in places.iter_mut().zip(&solved.residuals) {
        place.residual_m = *residual;
    }
    let gain = &solved.gain[lines.len()];
    let (ratio, dof) = solved.blended(MODEL_DOF);
    let held_m2 = line_held_m.powi(2) * gain.iter().map(|g| g * g).sum::<f64>();
    let receiver_m2 = solved.covariance[lines.len()][lines.len()] - held_m2;
    let ensemble = Some(sources.new_ensemble());
    let mut part = |key: &str, name: &str, variance_m2: f64| {
        let standard = (variance_m2.max(0.0) * ratio).sqrt();
        let source = Source::type_a(key, name, standard, dof);
        sources.quantity(0.0, Source { ensemble, ..source })
    };
    let held = part("passes.line", "how well the driver held the line", held_m2);
    let slow = part("passes.receiver", "the receiver's slow error from pass to pass", receiver_m2);
    let right = (&held + &slow).shifted(solved.values[lines.len()]);
    Ok(PassWitness { right, places, lines: lines.len(), variance_ratio: solved.variance_ratio() })
}

/// All straight parts, on the plane of the first run.
fn straights(runs: &[Run<'_>]) -> Vec<Straight> {
    let Some(plane) = runs.first().map(|run| run.trace.plane) else { return Vec::new() };
    let mut out = Vec::new();
    for run in runs {
        for part in run.parts.iter().filter(|part| part.kind == PartKind::Pass) {
            let steps = &run.trace.steps[part.from..=part.to];
            if steps.iter().any(|step| step.backwards) {
                continue;
            }
            let moving = steps.iter().filter(|step| step.speed_m_s >= MOVING_M_S);
            let place = |s: &TraceStep| plane.enu(s.lat_lon_deg.0, s.lat_lon_deg.1);
            let points: Vec<(f64, Enu)> = moving.map(|s| (run.since_s(s.at_s), place(s))).collect();
            let quality = steps.iter().map(|s| s.quality).fold(steps[0].quality, worse);
            out.extend(straight(points, quality));
        }
    }
    out
}

fn straight(points: Vec<(f64, Enu)>, quality: Quality) -> Option<Straight> {
    let (first, last) = (points.first()?.1, points.last()?.1);
    let (east, north) = (last.east_m - first.east_m, last.north_m - first.north_m);
    let length_m = east.hypot(north);
    if length_m < COMMON_MIN_M {
        return None;
    }
    let direction = (east / length_m, north / length_m);
    let across: Vec<f64> = points
        .iter()
        .map(|(_, at)| {
            (at.east_m - first.east_m) * direction.1 - (at.north_m - first.north_m) * direction.0
        })
        .collect();
    let mean = across.iter().sum::<f64>() / across.len() as f64;
    let square = across.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / across.len() as f64;
    (square.sqrt() <= BENT_M).then_some(Straight { points, direction, quality })
}

/// Lines that were driven both ways. Each part belongs to the first line it fits.
fn lines(straights: &[Straight]) -> Result<Vec<DrivenLine>, PassRefusal> {
    let mut taken = vec![false; straights.len()];
    let mut out = Vec::new();
    let mut short = false;
    for seed in 0..straights.len() {
        if taken[seed] {
            continue;
        }
        let first = &straights[seed];
        let origin = first.points[first.points.len() / 2].1;
        let mut line = DrivenLine {
            origin,
            axis: first.direction,
            members: vec![(seed, 1.0)],
            common: (0.0, 0.0),
        };
        line.common = line.reach(first);
        for (index, part) in straights.iter().enumerate().skip(seed + 1) {
            if taken[index] {
                continue;
            }
            let same = part.direction.0 * line.axis.0 + part.direction.1 * line.axis.1;
            let reach = line.reach(part);
            let common = (line.common.0.max(reach.0), line.common.1.min(reach.1));
            let middle = line.across(part.points[part.points.len() / 2].1);
            if same.abs() < PARALLEL_RAD.cos() || middle.abs() > NEAR_M {
                continue;
            }
            if common.1 - common.0 < COMMON_MIN_M {
                short |= same < 0.0;
                continue;
            }
            line.common = common;
            line.members.push((index, same.signum()));
        }
        if line.members.iter().any(|member| member.1 < 0.0) {
            line.members.iter().for_each(|member| taken[member.0] = true);
            out.push(line);
        }
    }
    match out.is_empty() {
        false => Ok(out),
        true if short => Err(PassRefusal::NoOverlap),
        true => Err(PassRefusal::NotOpposite),
    }
}

/// Covariance of the parts' mean places by the receiver's errors.
fn receiver_covariance(parts: &[(&Straight, &DrivenLine)], noise: &MotionNoise) -> Vec<Vec<f64>> {
    let instants = |(part, line): &(&Straight, &DrivenLine)| -> Vec<f64> {
        let within = |m: f64| (line.common.0..=line.common.1).contains(&m);
        let times: Vec<f64> =
            part.points.iter().filter(|p| within(line.along(p.1))).map(|p| p.0).collect();
        let pick = |i: usize| times.get(i * times.len().saturating_sub(1) / (INSTANTS - 1));
        (0..INSTANTS).filter_map(pick).copied().collect()
    };
    let times: Vec<Vec<f64>> = parts.iter().map(instants).collect();
    let mut out = vec![vec![0.0; parts.len()]; parts.len()];
    for i in 0..parts.len() {
        for j in 0..parts.len() {
            // Fixes of unlike quality do not share their slow error at all.
            if i != j && parts[i].0.quality != parts[j].0.quality {
                continue;
            }
            let long_m2 = slow_m(parts[i].0.quality).powi(2);
            let fading_s = 2.0 * long_m2 / noise.walk_m2_s;
            let pairs = (times[i].len() * times[j].len()).max(1) as f64;
            let shared = |a: &f64| -> f64 {
                times[j].iter().map(|b| (-(a - b).abs() / fading_s).exp()).sum()
            };
            out[i][j] = long_m2 * times[i].iter().map(shared).sum::<f64>() / pairs;
        }
        let bins = ((parts[i].1.common.1 - parts[i].1.common.0) / BIN_M).max(1.0);
        out[i][i] += noise.white_m2 / bins;
    }
    out
}
