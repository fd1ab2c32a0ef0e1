//! How much longer the wheel's path is than the straight line from peg to peg.
//!
//! No one steers dead straight. A path whose heading differs from the line by the small angle t is
//! longer by t^2/2, so the mean square of the heading error is what is wanted: a weave of 0.15 m
//! over 20 m adds 0.06 %. The receiver's track shows the heading, but its own noise would add to
//! the mean square. That noise is forgotten within a second, the weave is not: so the mean product
//! of headings some time apart is taken, at two such times, and carried back to zero time apart.

use super::prepare::Prepared;
use super::satellite::End;
use crate::geodesy::inverse;
use crate::stats::fit::line::Estimate;

/// The nearer of the two times apart, seconds: longer than the memory of speed noise (half a
/// second, common practice, no source), short against a weave (5 s and more).
const APART_S: f64 = 1.2;
/// Slower than this a track means little, m/s.
const SPEED_MIN_M_S: f64 = 0.7;
/// Share of the estimate itself that is doubted: a weave is not one pure wave.
const SHAPE: f64 = 0.05;
/// Least standard uncertainty of the excess, as a share of the length.
const FLOOR: f64 = 1e-5;
/// Taken where no track can be had: weaving by 0.1 m over 30 m (the mean square of
/// (2 pi A/lambda), halved, is 0.011 %); common practice, no source.
const UNSEEN: f64 = 1e-4;

/// Estimate from all passes whose ends are known.
#[must_use]
pub fn measure(passes: &[(&Prepared<'_>, Option<(End, End)>)], lag_s: f64) -> Estimate {
    let values: Vec<f64> =
        passes.iter().filter_map(|(pass, ends)| excess(&headings(pass, (*ends)?, lag_s))).collect();
    let n = values.len();
    if n == 0 {
        return Estimate::new(0.0, UNSEEN);
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let scatter = if n > 1 {
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        (squares / (n - 1) as f64 / n as f64).sqrt()
    } else {
        UNSEEN / 2.0
    };
    let excess = mean.max(0.0);
    Estimate::new(excess, scatter.hypot(SHAPE * excess).hypot(FLOOR))
}

/// Time and heading error in radians while driving, the mean taken off: the line the driver held,
/// not the line between two noisy positions.
fn headings(pass: &Prepared<'_>, ends: (End, End), lag_s: f64) -> Vec<(f64, f64)> {
    let azimuth_deg = inverse(ends.0.lat_lon_deg, ends.1.lat_lon_deg).azimuth_deg;
    let (from_s, to_s) = (pass.start.start_s(), pass.finish.finish_s());
    let mut all: Vec<(f64, f64)> = pass
        .fixes
        .iter()
        .filter(|f| f.fix.speed_m_s.is_some_and(|v| v > SPEED_MIN_M_S))
        .filter_map(|f| {
            let t = f.tag_s - lag_s;
            let off_deg = (f.fix.track_deg? - azimuth_deg + 180.0).rem_euclid(360.0) - 180.0;
            // More than a quarter turn off is not weaving.
            let on_course = (from_s..=to_s).contains(&t) && off_deg.abs() < 45.0;
            on_course.then(|| (t, off_deg.to_radians()))
        })
        .collect();
    let mean = all.iter().map(|h| h.1).sum::<f64>() / all.len().max(1) as f64;
    all.iter_mut().for_each(|h| h.1 -= mean);
    all
}

/// Half the mean square of the heading error without the noise, or `None` with too little.
///
/// For a wave, the product of headings t apart is C0 cos wt, and that of headings 2t apart is
/// C0 (2 cos^2 wt - 1): two values give cos wt and with it C0. Where they do not look like a wave
/// (noise alone), C0 (1 - c t^2) through both is taken.
fn excess(headings: &[(f64, f64)]) -> Option<f64> {
    let near = product(headings, APART_S)?;
    let far = product(headings, 2.0 * APART_S)?;
    let ratio = far / near;
    let cosine = (ratio + (ratio * ratio + 8.0).sqrt()) / 4.0;
    let wave = near > 0.0 && (0.4..=1.0).contains(&cosine);
    let at_zero = if wave { near / cosine } else { (4.0 * near - far) / 3.0 };
    Some(at_zero / 2.0)
}

/// Mean product of headings that are `apart_s` apart.
fn product(headings: &[(f64, f64)], apart_s: f64) -> Option<f64> {
    const LEAST: usize = 10;
    let mut sum = 0.0;
    let mut count = 0;
    let mut ahead = 0;
    for (i, a) in headings.iter().enumerate() {
        ahead = ahead.max(i);
        while ahead < headings.len() && headings[ahead].0 - a.0 < apart_s - 1e-6 {
            ahead += 1;
        }
        let Some(b) = headings.get(ahead) else { break };
        // Over a gap, or at a slow rate, the pair is further apart than meant.
        if b.0 - a.0 < 1.5 * apart_s {
            sum += a.1 * b.1;
            count += 1;
        }
    }
    (count >= LEAST).then(|| sum / count as f64)
}
