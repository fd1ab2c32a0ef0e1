//! Whether VTG begins or ends an epoch, where a recording has no times of arrival to show it.

use crate::geodesy::LocalPlane;
use crate::wire::fix::{EpochAssembler, Fix, FixEvent};
use crate::wire::sentence::Sentence;

/// Steps over which speeds are compared, seconds: long enough that the scatter of two positions is
/// small beside what a speed changes from one fix to the next.
const STEP_S: std::ops::RangeInclusive<f64> = 0.95..=3.0;
/// The misfit of the wrong order has to be so many times that of the right one.
const CLEAR: f64 = 1.5;

/// Whether VTG begins an epoch: the order in which its speeds agree with the steps from position
/// to position. `None` where both agree as well, or where the speeds have times of their own.
pub(super) fn vtg_begins(sentences: &[(Sentence, u64)], reference_ns: i64) -> Option<bool> {
    let has = |test: fn(&Sentence) -> bool| sentences.iter().any(|(sentence, _)| test(sentence));
    if !has(|sentence| matches!(sentence, Sentence::Vtg(_)))
        || has(|sentence| matches!(sentence, Sentence::Rmc(rmc) if rmc.speed.is_some()))
    {
        return None;
    }
    let [ends, begins] = [false, true].map(|begins| misfit(sentences, reference_ns, begins));
    if ends > CLEAR * begins {
        Some(true)
    } else if begins > CLEAR * ends {
        Some(false)
    } else {
        None
    }
}

/// Sum of the squared differences between the speeds and the steps from position to position,
/// (m/s)².
fn misfit(sentences: &[(Sentence, u64)], reference_ns: i64, begins: bool) -> f64 {
    let mut assembler = EpochAssembler::new(Some(reference_ns));
    assembler.vtg_begins(begins);
    // Each fix with the distance driven by its speeds so far.
    let mut driven: Vec<(Fix, f64)> = Vec::new();
    let (mut sum, mut from) = (0.0, 0);
    for (sentence, line) in sentences {
        let Some(FixEvent::Fix(fix)) = assembler.push(sentence, *line) else { continue };
        let Some(speed_m_s) = fix.speed_m_s else { continue };
        let so_far_m = driven.last().map_or(0.0, |(before, so_far_m)| {
            let mean_m_s = 0.5 * (speed_m_s + before.speed_m_s.unwrap_or(speed_m_s));
            so_far_m + mean_m_s * seconds(before, &fix)
        });
        driven.push((fix, so_far_m));
        while from + 1 < driven.len() && seconds(&driven[from + 1].0, &fix) >= *STEP_S.start() {
            from += 1;
        }
        let (first, at_first_m) = driven[from];
        let step_s = seconds(&first, &fix);
        if STEP_S.contains(&step_s) {
            let plane = LocalPlane::new(first.lat_deg, first.lon_deg, 0.0);
            let step = plane.enu(fix.lat_deg, fix.lon_deg);
            let differ_m = step.east_m.hypot(step.north_m) - (so_far_m - at_first_m);
            sum += (differ_m / step_s).powi(2);
        }
    }
    sum
}

fn seconds(before: &Fix, now: &Fix) -> f64 {
    (now.utc_ns - before.utc_ns) as f64 * 1e-9
}
