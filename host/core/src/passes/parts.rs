//! Positions at the marks beside those between them: lengths by one receiver, within minutes.
//!
//! A jump of the positions, or one that stood still, beside a peg bends the length by the marks and
//! hardly that by the line between them. Nothing shows which of the two is wrong.

use super::pass::MeasuredPass;
use super::prepare::Prepared;
use super::satellite::Length;
use crate::stats::fit::robust::upper_median;

/// Positions at the marks contradict those between beyond this many standard uncertainties, and
/// this length, metres.
const PARTS_U: f64 = 6.0;
const PARTS_M: f64 = 0.15;
/// They are odd beyond so many, and beyond so many times what is usual in the job, from so many
/// passes on.
const ODD_U: f64 = 3.0;
const ODD_TIMES: f64 = 6.0;
const ODD_PASSES: usize = 4;

/// Length by the positions at the marks beside that by those between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// By how much they differ, metres.
    pub apart_m: f64,
    /// Standard uncertainty of that, taken as independent, metres.
    pub noise_m: f64,
    /// They contradict each other.
    pub contradict: bool,
}

/// Compare both lengths of a pass, where that can be done.
#[must_use]
pub fn compare(pass: &Prepared<'_>, chord: &Length, line: &Length) -> Option<Parts> {
    // A receiver that smooths is late between the marks, and less so the longer it stands.
    if pass.is_smoothed() {
        return None;
    }
    let apart_m = (chord.length_m - line.length_m).abs();
    let noise_m = chord.standard_uncertainty_m.hypot(line.standard_uncertainty_m);
    // Teeth are not evenly spaced, and slip comes and goes by less.
    let allowed_m = (PARTS_U * noise_m).max(PARTS_M) + 2.0 * pass.spacing_m;
    Some(Parts { apart_m, noise_m, contradict: apart_m > allowed_m })
}

/// Where the two differ by more than noise and by far more than in the other passes of the job,
/// that much less is known.
pub fn widen_odd(passes: &mut [MeasuredPass]) {
    let parts = |pass: &MeasuredPass| pass.satellite.as_ref()?.parts.filter(|_| !pass.refused());
    let aparts: Vec<f64> = passes.iter().filter_map(parts).map(|parts| parts.apart_m).collect();
    if aparts.len() < ODD_PASSES {
        return;
    }
    let Some(usual_m) = upper_median(aparts) else { return };
    for satellite in passes.iter_mut().filter_map(|pass| pass.satellite.as_mut()) {
        let Some(parts) = satellite.parts.filter(|parts| !parts.contradict) else { continue };
        if parts.apart_m > (ODD_U * parts.noise_m).max(ODD_TIMES * usual_m) {
            satellite.by_place = satellite.by_place.widened(parts.apart_m);
            if satellite.doppler.is_none() {
                satellite.joined = satellite.by_place;
            }
        }
    }
}
