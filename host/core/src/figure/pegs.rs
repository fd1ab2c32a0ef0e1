//! Where the pegs are, by satellite: direction of each pass, rise of the course, passes that did
//! not run from peg to peg.

use crate::flags::{Code, Flag};
use crate::geodesy::inverse;
use crate::passes::pass::{Direction, MeasuredPass};
use crate::passes::satellite::slow_m;
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::upper_median;

/// A pass may differ from the others by this much more than the receiver's slow error allows,
/// metres, before it is said to have missed a peg: a tractor stops within a step of a peg.
const MISSED_M: f64 = 1.5;

/// Direction of every pass against the first that has positions.
#[must_use]
pub fn directions(passes: &[MeasuredPass]) -> Vec<Option<Direction>> {
    let azimuth = |pass: &MeasuredPass| {
        let (a, b) = pass.ends?;
        Some(inverse(a.lat_lon_deg, b.lat_lon_deg).azimuth_deg)
    };
    let first = passes.iter().find_map(azimuth);
    let way = |pass: &MeasuredPass| {
        let turn_deg = (azimuth(pass)? - first?).rem_euclid(360.0);
        Some(if (90.0..270.0).contains(&turn_deg) { Direction::Back } else { Direction::Out })
    };
    passes.iter().map(way).collect()
}

/// Rise of the course in the direction out, metres, and its standard uncertainty.
///
/// Each pass shows it once, with opposite signs out and back, so that a slow drift of height
/// cancels. The scatter of the passes is the uncertainty.
#[must_use]
pub fn rise_m(passes: &[MeasuredPass], ways: &[Option<Direction>]) -> Estimate {
    let rises: Vec<f64> = passes
        .iter()
        .zip(ways)
        .filter(|(pass, _)| !pass.refused())
        .filter_map(|(pass, way)| {
            let (a, b) = pass.ends?;
            let rise = b.height_m? - a.height_m?;
            Some(if (*way)? == Direction::Out { rise } else { -rise })
        })
        .collect();
    let n = rises.len() as f64;
    if rises.len() < 2 {
        // One difference of satellite heights, or none: a metre either way is ample.
        return Estimate::new(rises.first().copied().unwrap_or(0.0), 1.0);
    }
    let mean = rises.iter().sum::<f64>() / n;
    let variance = rises.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0) / n;
    Estimate::new(mean, variance.sqrt())
}

/// The square of a rise measured with noise is too large by the noise's variance; this takes it
/// off. Metres.
#[must_use]
pub fn fair_rise_m(rise_m: Estimate) -> f64 {
    let (rise_m, u_m) = (rise_m.value, rise_m.standard_uncertainty);
    (rise_m * rise_m - u_m * u_m).max(0.0).sqrt()
}

/// Flag passes whose length by satellite differs from the middle one by more than a missed stop.
pub fn flag_missed_pegs(passes: &mut [MeasuredPass]) {
    let length = |pass: &MeasuredPass| {
        let (a, b) = pass.ends?;
        (!pass.refused()).then(|| inverse(a.lat_lon_deg, b.lat_lon_deg).length_m)
    };
    let lengths: Vec<f64> = passes.iter().filter_map(length).collect();
    if lengths.len() < 2 {
        return;
    }
    // With two passes that differ, the longer one is taken to have run from peg to peg: a pass
    // between turns at one peg is short.
    let Some(middle_m) = upper_median(lengths) else { return };
    for pass in passes.iter_mut() {
        let (Some(length_m), Some((a, b))) = (length(pass), pass.ends) else { continue };
        let wander_m = slow_m(a.quality).max(slow_m(b.quality));
        if (length_m - middle_m).abs() > MISSED_M + 3.0 * wander_m {
            let what = format!(
                "start and finish lie {length_m:.1} m apart by satellite, those of the other \
                 passes {middle_m:.1} m"
            );
            pass.flags.push(Flag::pass(Code::PegElsewhere, pass.number, what));
        }
    }
}
