//! Whether VTG begins or ends an epoch, where a recording has no times of arrival to show it.

use crate::geodesy::LocalPlane;
use crate::wire::fix::{EpochAssembler, Fix, FixEvent};
use crate::wire::sentence::Sentence;

/// Longest step between two fixes over which a speed is compared, seconds.
const STEP_MAX_S: f64 = 3.0;
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

/// Sum of the squared differences between speeds and steps, (m/s)².
fn misfit(sentences: &[(Sentence, u64)], reference_ns: i64, begins: bool) -> f64 {
    let mut assembler = EpochAssembler::new(Some(reference_ns));
    assembler.vtg_begins(begins);
    let mut sum = 0.0;
    let mut last: Option<Fix> = None;
    for (sentence, line) in sentences {
        let Some(FixEvent::Fix(fix)) = assembler.push(sentence, *line) else { continue };
        if let Some(before) = last.replace(fix)
            && let Some((a, b)) = before.speed_m_s.zip(fix.speed_m_s)
        {
            let seconds = (fix.utc_ns - before.utc_ns) as f64 * 1e-9;
            if seconds > 0.0 && seconds <= STEP_MAX_S {
                let plane = LocalPlane::new(before.lat_deg, before.lon_deg, 0.0);
                let step = plane.enu(fix.lat_deg, fix.lon_deg);
                sum += (step.east_m.hypot(step.north_m) / seconds - 0.5 * (a + b)).powi(2);
            }
        }
    }
    sum
}
