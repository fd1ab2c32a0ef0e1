//! Integrated speed and positions, each for what it is worth.
//!
//! The integrated speed parts from the truth little by little; positions differ from fix to fix
//! and wander, but never far. What the two part by, over some seconds around a stretch, is the sum
//! of both errors. By how fast each of them changes with time, the part of it that is the
//! integrated speed's is foretold with the least variance (kriging, linear prediction by
//! covariances): for a stretch of any length and any pace of fixes, fixes shared by both ends
//! counted once.

use super::noise::MotionNoise;
use super::sums::Carry;
use crate::stats::budget::correlated::cholesky;

/// Positions this long before and after a stretch are used, seconds.
pub const AROUND_S: f64 = 2.0;
/// Fixes are averaged to this many groups at the most: what remains within one is as good as
/// averaged.
const GROUPS_MAX: usize = 24;

/// The error of the integrated speed over a stretch, by the positions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// Best estimate, east and north, metres: to be taken off.
    pub off_m: (f64, f64),
    /// Variance per axis that remains after that, m2.
    pub left_m2: f64,
    /// Variance per axis without the positions, m2.
    pub alone_m2: f64,
}

/// Fixes taken together.
#[derive(Clone, Copy, Default)]
struct Group {
    at_s: f64,
    /// Integrated speed less position, metres.
    east_m: f64,
    north_m: f64,
    fixes: f64,
}

/// Work it out between the steps `from` and `to`. Only positions of one kind of fix are used, that
/// of the longest run there: where kinds change, places jump.
#[must_use]
pub fn carried(carry: &Carry<'_>, (from, to): (usize, usize), noise: &MotionNoise) -> Carried {
    let steps = &carry.trace().steps;
    let (from_s, to_s) = (steps[from].at_s, steps[to].at_s);
    let alone_m2 = noise.carried_m2(to_s - from_s);
    let groups = groups(carry, (from, to));
    let none = Carried { off_m: (0.0, 0.0), left_m2: alone_m2, alone_m2 };
    let Some((first, rest)) = groups.split_first() else { return none };
    let parted = |apart_s: f64| noise.carried_m2(apart_s) + noise.wandered_m2(apart_s);
    // Each group against the first, so that no absolute place is needed.
    let row = |a: &Group| {
        let column = |b: &Group| {
            let own =
                if a.at_s.total_cmp(&b.at_s).is_eq() { noise.white_m2 / a.fixes } else { 0.0 };
            let since = parted(a.at_s - first.at_s) + parted(b.at_s - first.at_s);
            (since - parted(a.at_s - b.at_s)) / 2.0 + noise.white_m2 / first.fixes + own
        };
        rest.iter().map(column).collect()
    };
    let covariance: Vec<Vec<f64>> = rest.iter().map(row).collect();
    let shared: Vec<f64> = rest
        .iter()
        .map(|group| {
            let with = |at_s: f64| noise.carried_m2(at_s - from_s) - noise.carried_m2(at_s - to_s);
            (with(group.at_s) - with(first.at_s)) / 2.0
        })
        .collect();
    let Some(factor) = cholesky(&covariance) else { return none };
    let weights = solved(&factor, &shared);
    let foretold: f64 = weights.iter().zip(&shared).map(|(w, c)| w * c).sum();
    let sum = |part: fn(&Group) -> f64| {
        weights.iter().zip(rest).map(|(w, group)| w * (part(group) - part(first))).sum()
    };
    let off_m = (sum(|group| group.east_m), sum(|group| group.north_m));
    Carried { off_m, left_m2: (alone_m2 - foretold).max(0.0), alone_m2 }
}

fn groups(carry: &Carry<'_>, (from, to): (usize, usize)) -> Vec<Group> {
    let steps = &carry.trace().steps;
    let low = steps.partition_point(|step| step.at_s < steps[from].at_s - AROUND_S);
    let high = steps.partition_point(|step| step.at_s <= steps[to].at_s + AROUND_S);
    let inside = &steps[from..=to];
    let runs = inside.chunk_by(|a, b| a.quality == b.quality);
    let kind = runs.max_by_key(|run| run.len()).map(|run| run[0].quality);
    let near = (low..high).zip(carry.apart_m(low));
    let used: Vec<(usize, (f64, f64))> =
        near.filter(|(i, _)| Some(steps[*i].quality) == kind).collect();
    let size = used.len().div_ceil(GROUPS_MAX).max(1);
    used.chunks(size)
        .map(|chunk| {
            let n = chunk.len() as f64;
            let mean = |part: &dyn Fn(usize, (f64, f64)) -> f64| {
                chunk.iter().map(|&(i, apart)| part(i, apart)).sum::<f64>() / n
            };
            Group {
                at_s: mean(&|i, _| steps[i].at_s),
                east_m: mean(&|_, apart| apart.0),
                north_m: mean(&|_, apart| apart.1),
                fixes: n,
            }
        })
        .collect()
}

/// Solve G G^T x = y.
fn solved(factor: &[Vec<f64>], y: &[f64]) -> Vec<f64> {
    let n = y.len();
    let mut x = y.to_vec();
    for i in 0..n {
        let known: f64 = (0..i).map(|j| factor[i][j] * x[j]).sum();
        x[i] = (x[i] - known) / factor[i][i];
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| factor[j][i] * x[j]).sum();
        x[i] = (x[i] - known) / factor[i][i];
    }
    x
}
