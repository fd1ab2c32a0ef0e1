//! Single positions beside the path of their neighbours, single heights beside the others.
//!
//! A line that loses bytes now and then leaves a sentence that still has a right checksum and a
//! wrong digit. One such fix among a rest's eighty shifts the rest's mean by decimetres and makes
//! the receiver's noise look like that of one without memory; one such height makes a steep course
//! of a level one.

use crate::geodesy::LocalPlane;
use crate::stats::fit::robust::upper_median;
use crate::timeline::timed_fix::TaggedFix;

/// A spike is beside the middle of its neighbours by more than this many times what is usual.
const USUAL: f64 = 10.0;
/// And by more than this, or two of the digits that are printed, and what a tractor can speed up or
/// turn by between them, m/s2.
const LEAST_M: f64 = 0.1;
const TURN_M_S2: f64 = 1.5;
/// A height is wrong by more than this beside the middle one of a standstill, metres: tractors do
/// not climb between two fixes.
const HEIGHT_LEAST_M: f64 = 1.0;

/// The fixes without spikes.
pub fn without_spikes(fixes: Vec<TaggedFix>) -> Vec<TaggedFix> {
    let Some(first) = fixes.first() else { return fixes };
    let plane = LocalPlane::new(first.fix.lat_deg, first.fix.lon_deg, 0.0);
    let places: Vec<_> =
        fixes.iter().map(|f| (f.tag_s, plane.enu(f.fix.lat_deg, f.fix.lon_deg))).collect();
    let quantum_m = fixes.iter().map(|f| f.fix.position_quantum_m).fold(0.0, f64::max);
    let least_m = LEAST_M.max(2.0 * quantum_m);
    // How far beside, and how far that could be by driving.
    let beside: Vec<(f64, f64)> = places
        .windows(3)
        .map(|w| {
            let [(t0, a), (t1, b), (t2, c)] = [w[0], w[1], w[2]];
            let (before_s, after_s) = (t1 - t0, t2 - t1);
            let share = before_s / (before_s + after_s).max(1e-6);
            let east_m = b.east_m - a.east_m - share * (c.east_m - a.east_m);
            let north_m = b.north_m - a.north_m - share * (c.north_m - a.north_m);
            (east_m.hypot(north_m), least_m + TURN_M_S2 * before_s * after_s)
        })
        .collect();
    let Some(usual_m) = upper_median(beside.iter().map(|b| b.0).collect()) else { return fixes };
    let wild = |i: usize| {
        let (off_m, driving_m) = beside[i];
        off_m > (USUAL * usual_m).max(driving_m)
    };
    // The neighbours of a spike lie half as far beside: only the middle one of three is it.
    let is_spike = |i: usize| {
        let Some(at) = i.checked_sub(1).filter(|&at| at < beside.len() && wild(at)) else {
            return false;
        };
        let near = [at.checked_sub(1), Some(at + 1)];
        near.into_iter().flatten().filter_map(|n| beside.get(n)).all(|n| n.0 <= beside[at].0)
    };
    let kept = (0..fixes.len()).filter(|&i| !is_spike(i)).map(|i| fixes[i]);
    kept.collect()
}

/// Heights of a standstill, or of the moment of a mark, metres, without those far beside the middle
/// one.
pub fn plausible_heights_m(fixes: &[TaggedFix]) -> Vec<f64> {
    let heights: Vec<f64> = fixes.iter().filter_map(|f| f.fix.height_m).collect();
    let Some(middle_m) = upper_median(heights.clone()) else { return heights };
    let off_m = |height_m: &f64| (height_m - middle_m).abs();
    let usual_m = upper_median(heights.iter().map(off_m).collect()).unwrap_or(0.0);
    let most_m = (USUAL * usual_m).max(HEIGHT_LEAST_M);
    heights.into_iter().filter(|height_m| off_m(height_m) <= most_m).collect()
}
