//! Positions against speed: the two lengths of every pass by satellite, tested against each other
//! before they are joined.
//!
//! The chord and the integral of the speed have nothing in common but the sky. Where a receiver's
//! speed is off by a few per mille, or positions jumped by a reflection, the two part by more than
//! their uncertainties; joining them by weight would hand a part of the error on in silence. A
//! speed that is off is off in every pass, so the scale of the speed is estimated over all of
//! them: its prior is what a sound receiver holds, and what is left uncertain of it is a source of
//! its own. Beyond chance the speed is not used at all.

use super::parts::widen_odd;
use super::pass::MeasuredPass;
use super::satellite::{Length, SWAY_M, SatelliteLength};
use crate::flags::{Code, Flag};
use crate::stats::fit::line::Estimate;
use crate::units::signed;

/// Standard uncertainty of the scale of a sound receiver's speed; common practice, no source.
pub const SCALE_SOUND: f64 = 5e-5;
/// A difference of this many standard uncertainties is no chance: 6 in 100 000, two-sided normal.
const CHANCE: f64 = 4.0;

/// Scale of the receiver's speed by its positions, less one, as far as it is known.
///
/// First of all, positions that differ oddly within a pass are made less certain. Passes in which
/// both are there are corrected for the scale and joined; where the two contradict each other, in a
/// pass or over all, positions alone are taken and a flag says so.
pub fn reconcile(passes: &mut [MeasuredPass], flags: &mut Vec<Flag>) -> Estimate {
    widen_odd(passes);
    let both: Vec<(Length, Length)> = passes
        .iter()
        .filter(|pass| !pass.refused())
        .filter_map(|pass| pass.satellite.as_ref().and_then(pair))
        .collect();
    let seen = scale(&both);
    let doubt = seen.standard_uncertainty.hypot(SCALE_SOUND);
    let contradicts = both.len() > 1 && seen.value.abs() > CHANCE * doubt;
    if contradicts {
        let percent = signed(100.0 * seen.value, 2);
        let what = format!("distances by its speed are {percent} % off those by its positions");
        flags.push(Flag::job(Code::SpeedPosition, what));
    }
    let known = posterior(seen);
    for pass in passes {
        let Some(satellite) = &mut pass.satellite else { continue };
        let Some((place, speed)) = pair(satellite) else { continue };
        if contradicts {
            (satellite.joined, satellite.position_share) = (place, 1.0);
            continue;
        }
        let right = Length { length_m: speed.length_m / (1.0 + known.value), ..speed };
        (satellite.joined, satellite.position_share) = join(place, right);
        let apart_m = (place.length_m - right.length_m).abs();
        if apart_m > CHANCE * apart_u_m(&place, &right) {
            (satellite.joined, satellite.position_share) = (place, 1.0);
            let what =
                format!("positions and speed by satellite give lengths {apart_m:.2} m apart");
            pass.flags.push(Flag::pass(Code::SpeedPosition, pass.number, what));
        }
    }
    if contradicts { Estimate::new(0.0, 0.0) } else { known }
}

/// By positions and by speed, where both are there.
fn pair(satellite: &SatelliteLength) -> Option<(Length, Length)> {
    satellite.doppler.map(|speed| (satellite.by_place, speed))
}

/// Standard uncertainty of the difference of both lengths, metres; the antenna rocks at either end.
fn apart_u_m(place: &Length, speed: &Length) -> f64 {
    let rocking_m = SWAY_M * 2.0_f64.sqrt();
    place.standard_uncertainty_m.hypot(speed.standard_uncertainty_m).hypot(rocking_m)
}

/// Weighted mean of speed over positions, less one. Its uncertainty is the larger of the one that
/// the lengths' own give and the one that they show.
fn scale(both: &[(Length, Length)]) -> Estimate {
    let ratios: Vec<(f64, f64)> = both
        .iter()
        .map(|(place, speed)| {
            (
                speed.length_m / place.length_m - 1.0,
                (place.length_m / apart_u_m(place, speed)).powi(2),
            )
        })
        .collect();
    let total: f64 = ratios.iter().map(|(_, weight)| weight).sum();
    if total <= 0.0 {
        return Estimate::new(0.0, f64::INFINITY);
    }
    let mean = ratios.iter().map(|(ratio, weight)| ratio * weight).sum::<f64>() / total;
    let squares: f64 = ratios.iter().map(|(ratio, w)| w * (ratio - mean).powi(2)).sum();
    let birge = if ratios.len() > 1 { squares / (ratios.len() - 1) as f64 } else { 1.0 };
    Estimate::new(mean, (birge.max(1.0) / total).sqrt())
}

/// What is known of the scale from the passes and from what a sound receiver holds.
fn posterior(seen: Estimate) -> Estimate {
    let (prior, own) = (SCALE_SOUND.powi(-2), seen.standard_uncertainty.powi(-2));
    Estimate::new(seen.value * own / (prior + own), (prior + own).sqrt().recip())
}

/// Weighted by inverse variance, with the share of the first; the errors of position and of speed
/// are taken as independent.
fn join(a: Length, b: Length) -> (Length, f64) {
    let weight = |l: Length| 1.0 / l.standard_uncertainty_m.max(1e-4).powi(2);
    let (wa, wb) = (weight(a), weight(b));
    let length = Length {
        length_m: (wa * a.length_m + wb * b.length_m) / (wa + wb),
        standard_uncertainty_m: (wa + wb).sqrt().recip(),
    };
    (length, wa / (wa + wb))
}
