//! The receiver's lag where the wheels slip: found by the changes of speed alone.
//!
//! On soft ground the wheel's speed is not the ground's, and differs from place to place. Over the
//! few seconds of a start, a stop or a change of speed the two still rise and fall together. So
//! each such change is matched with a scale and an offset of its own; only the instant is common.

use super::counts::CountCurve;
use super::lag::{
    CLIP, Lag, LagRefusal, SEARCH_S, SMOOTH_S, SpeedSpan, UNCERTAINTY_MAX_S, neighbour_correlation,
    search,
};
use crate::stats::fit::robust::upper_median;

/// Length of one change, seconds, where the speeds come fast enough.
const CHANGE_S: f64 = 6.0;
/// Otherwise this many of their intervals.
const CHANGE_STEPS: f64 = 12.0;
/// The speed must range over this much in it, m/s: more than the noise of a poor receiver.
const RANGE_M_S: f64 = 0.3;
/// Speeds in it, at the least.
const SPEEDS_MIN: usize = 8;
/// Changes used, at most, the greatest first: a lag does not change, and more only cost time.
const CHANGES_MAX: usize = 60;

/// One change of speed.
struct Change<'r, 'a> {
    curve: &'a CountCurve,
    speeds: &'r [(f64, f64)],
    range_m_s: f64,
}

/// Find the lag that fits all changes of speed best.
///
/// # Errors
/// A [`LagRefusal`] when there is no change of speed, or the data cannot show.
pub fn match_changes(runs: &[SpeedSpan<'_>]) -> Result<Lag, LagRefusal> {
    let mut changes: Vec<Change<'_, '_>> = runs.iter().flat_map(changes).collect();
    if changes.is_empty() {
        return Err(LagRefusal::NoAcceleration { standard_uncertainty_s: f64::INFINITY });
    }
    changes.sort_by(|a, b| b.range_m_s.total_cmp(&a.range_m_s));
    changes.truncate(CHANGES_MAX);
    let lag_s = search(|lag_s| fit(&changes, lag_s).map(|fit| fit.loss))?;
    let fit = fit(&changes, lag_s).ok_or(LagRefusal::TooFew { points: 0 })?;
    let n = fit.residuals.len() as f64;
    let free = (n - 2.0 * changes.len() as f64 - 1.0).max(1.0);
    let variance = fit.loss * n / free;
    let correlation = neighbour_correlation(&fit.residuals, &fit.change).clamp(0.0, 0.95);
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    let standard_uncertainty_s = (variance * inflation / fit.information).sqrt();
    if standard_uncertainty_s.is_nan() || standard_uncertainty_s >= UNCERTAINTY_MAX_S {
        return Err(LagRefusal::NoAcceleration { standard_uncertainty_s });
    }
    Ok(Lag {
        lag_s,
        standard_uncertainty_s,
        speed_scatter_m_s: variance.sqrt(),
        residual_correlation: correlation,
    })
}

/// The changes of speed in a run whose counts are known whatever the lag.
fn changes<'r, 'a>(run: &'r SpeedSpan<'a>) -> Vec<Change<'r, 'a>> {
    let Some((first_s, last_s)) = run.curve.span_s() else { return Vec::new() };
    let reach_s = SEARCH_S + 3.0 * SMOOTH_S;
    let length_s = CHANGE_S.max(CHANGE_STEPS * usual_step_s(&run.speeds));
    let mut out = Vec::new();
    let mut from = run.speeds.partition_point(|s| s.0 < first_s + reach_s);
    let end = run.speeds.partition_point(|s| s.0 <= last_s - reach_s);
    while from < end {
        let from_s = run.speeds[from].0;
        let to = run.speeds.partition_point(|s| s.0 < from_s + length_s).min(end);
        let speeds = &run.speeds[from..to];
        let least = speeds.iter().map(|s| s.1).fold(f64::INFINITY, f64::min);
        let range_m_s = speeds.iter().map(|s| s.1).fold(0.0, f64::max) - least;
        if speeds.len() >= SPEEDS_MIN && range_m_s > RANGE_M_S {
            out.push(Change { curve: run.curve, speeds, range_m_s });
        }
        from = to.max(from + 1);
    }
    out
}

/// Median time from one speed to the next, seconds.
fn usual_step_s(speeds: &[(f64, f64)]) -> f64 {
    upper_median(speeds.windows(2).map(|w| w[1].0 - w[0].0).collect()).unwrap_or(0.0)
}

struct Fit {
    /// Mean square of the clipped residuals, (m/s)^2.
    loss: f64,
    residuals: Vec<f64>,
    change: Vec<usize>,
    /// Sum of squares of the part of the acceleration that neither scale nor offset can imitate.
    information: f64,
}

fn fit(changes: &[Change<'_, '_>], lag_s: f64) -> Option<Fit> {
    let mut out = Fit { loss: 0.0, residuals: Vec::new(), change: Vec::new(), information: 0.0 };
    for (number, change) in changes.iter().enumerate() {
        let mut rates = Vec::with_capacity(change.speeds.len());
        let mut slopes = Vec::with_capacity(change.speeds.len());
        let rate = || change.curve.rates(SMOOTH_S);
        let (mut now, mut later, mut sooner) = (rate(), rate(), rate());
        for speed in change.speeds {
            let at_s = speed.0 - lag_s;
            rates.push(now.at(at_s)?);
            let rise = later.at(at_s + SMOOTH_S)? - sooner.at(at_s - SMOOTH_S)?;
            slopes.push(rise / (2.0 * SMOOTH_S));
        }
        let speeds: Vec<f64> = change.speeds.iter().map(|s| s.1).collect();
        let Some((scale, off)) = line(&rates, &speeds) else { continue };
        out.residuals.extend(rates.iter().zip(&speeds).map(|(r, v)| v - off - scale * r));
        out.change.extend(speeds.iter().map(|_| number));
        out.information += information(scale, &rates, &slopes);
    }
    out.loss = clipped_loss(&mut out.residuals)?;
    Some(out)
}

/// What one change says of the shift: the square of what a shift would do to its speeds, beyond
/// what scale and level take up.
pub(super) fn information(scale: f64, rates: &[f64], slopes: &[f64]) -> f64 {
    let (turn, level) = line(rates, slopes).unwrap_or((0.0, 0.0));
    let own = rates.iter().zip(slopes).map(|(r, a)| scale * (a - level - turn * r));
    own.map(|a| a * a).sum::<f64>()
}

/// Mean square of residuals, wild ones cut to [`CLIP`] times the usual size.
pub(super) fn clipped_loss(residuals: &mut [f64]) -> Option<f64> {
    let clip = CLIP * upper_median(residuals.iter().map(|r| r.abs()).collect())?;
    residuals.iter_mut().for_each(|r| *r = r.clamp(-clip, clip));
    Some(residuals.iter().map(|r| r * r).sum::<f64>() / residuals.len() as f64)
}

/// Least-squares slope and intercept; `None` where the rate does not rise.
pub(super) fn line(x: &[f64], y: &[f64]) -> Option<(f64, f64)> {
    let n = x.len() as f64;
    let (mean_x, mean_y) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let xx: f64 = x.iter().map(|x| (x - mean_x).powi(2)).sum();
    let xy: f64 = x.iter().zip(y).map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    (xx > 0.0).then(|| (xy / xx, mean_y - xy / xx * mean_x))
}
