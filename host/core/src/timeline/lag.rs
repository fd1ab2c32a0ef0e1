//! The receiver's lag, found by matching speeds.
//!
//! The wheel (or the radar) and the satellite see the same starts and stops. Shifting one speed
//! against the other until they fit best finds by how much the receiver's speed trails its own
//! time tag, far more finely than the fix interval, as long as the speed changes. Where it does
//! not change there is nothing to see, and the match is refused instead of guessed.

use super::counts::CountCurve;
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::upper_median;

/// Half the width over which the counts are averaged to a speed, seconds: several impulses wide
/// at walking pace, short against any change of speed.
pub(super) const SMOOTH_S: f64 = 0.2;
/// The search goes this far either side of the starting point, seconds. The starting point is
/// late by the receiver's least output delay (tens to hundreds of milliseconds).
pub const SEARCH_S: f64 = 1.5;
/// Steps of the coarse search, seconds.
const COARSE_S: f64 = 0.05;
/// A match whose own standard uncertainty exceeds this is refused, seconds.
pub(super) const UNCERTAINTY_MAX_S: f64 = 0.15;
/// Least number of speeds to match.
const POINTS_MIN: usize = 40;
/// Below this acceleration the speed counts as steady, m/s2.
const STEADY_M_S2: f64 = 0.1;
/// Above this speed the tractor counts as driving, m/s.
const MOVING_M_S: f64 = 0.3;
/// Residuals beyond this many times their median size do not count more than at it.
pub(super) const CLIP: f64 = 6.0;
/// They count in full up to this at the least, m/s: a receiver that prints zero at rest would
/// otherwise clip everything else, and at each lag differently.
const CLIP_LEAST_M_S: f64 = 0.06;

/// No tractor brakes or starts harder, m/s2 (common practice, no source): what looks so is a wrong
/// count, and shows nothing of the lag.
const HARDEST_M_S2: f64 = 8.0;
/// Below this no lag is known, seconds: receivers print their times to the millisecond at best.
const LEAST_U_S: f64 = 0.001;

/// Two speeds over one span, on the same clock, up to the lag.
#[derive(Clone, Debug)]
pub struct SpeedSpan<'a> {
    /// Running count of the reference channel.
    pub curve: &'a CountCurve,
    /// Board seconds (before the lag is taken off) and satellite speed, m/s; rising in time.
    pub speeds: Vec<(f64, f64)>,
}

/// A lag that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lag {
    /// Take this off a fix's time to get the instant its content belongs to, seconds.
    pub lag_s: f64,
    /// Its standard uncertainty, in seconds.
    pub standard_uncertainty_s: f64,
    /// Scatter of satellite speed about the counts' speed at the best lag, m/s.
    pub speed_scatter_m_s: f64,
    /// Correlation of neighbouring residuals.
    pub residual_correlation: f64,
}

impl Lag {
    /// The lag itself, seconds.
    #[must_use]
    pub const fn estimate_s(&self) -> Estimate {
        Estimate::new(self.lag_s, self.standard_uncertainty_s)
    }
}

/// Why no lag could be determined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LagRefusal {
    /// Too few speeds in common.
    TooFew {
        /// How many there were.
        points: usize,
    },
    /// The speed hardly changed, so every lag fits about as well.
    NoAcceleration {
        /// Standard uncertainty the best fit would have had, seconds.
        standard_uncertainty_s: f64,
    },
    /// The best fit lies at the edge of the search.
    OutOfRange,
}

/// Find the lag that fits all spans best.
///
/// # Errors
/// A [`LagRefusal`] when the data cannot show.
pub fn match_speeds(spans: &[SpeedSpan<'_>]) -> Result<Lag, LagRefusal> {
    let points: usize = spans.iter().map(|s| s.speeds.len()).sum();
    if points < POINTS_MIN {
        return Err(LagRefusal::TooFew { points });
    }
    let lag_s = search(|lag_s| loss(spans, lag_s))?;
    describe(spans, lag_s)
}

/// Where a loss is least: a coarse search over [`SEARCH_S`] either side, then a fine one.
///
/// # Errors
/// [`LagRefusal`] when there is no loss anywhere, or the least lies at the edge.
pub(super) fn search(loss: impl Fn(f64) -> Option<f64>) -> Result<f64, LagRefusal> {
    let steps = (SEARCH_S / COARSE_S).round() as i32;
    let mut best = (f64::INFINITY, 0.0);
    for step in -steps..=steps {
        let lag_s = f64::from(step) * COARSE_S;
        if let Some(loss) = loss(lag_s)
            && loss < best.0
        {
            best = (loss, lag_s);
        }
    }
    if !best.0.is_finite() {
        return Err(LagRefusal::TooFew { points: 0 });
    }
    if best.1.abs() > SEARCH_S - 1.5 * COARSE_S {
        return Err(LagRefusal::OutOfRange);
    }
    Ok(refine(|lag_s| loss(lag_s).unwrap_or(f64::INFINITY), best.1))
}

/// Golden-section search between the neighbours of the best coarse step.
fn refine(loss: impl Fn(f64) -> f64, coarse_s: f64) -> f64 {
    let ratio = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (coarse_s - COARSE_S, coarse_s + COARSE_S);
    let mut inner = (high - ratio * (high - low), low + ratio * (high - low));
    let mut losses = (loss(inner.0), loss(inner.1));
    // 24 steps shrink 100 ms to a microsecond.
    for _ in 0..24 {
        if losses.0 <= losses.1 {
            high = inner.1;
            inner = (high - ratio * (high - low), inner.0);
            losses = (loss(inner.0), losses.0);
        } else {
            low = inner.0;
            inner = (inner.1, low + ratio * (high - low));
            losses = (losses.1, loss(inner.1));
        }
    }
    f64::midpoint(low, high)
}

fn describe(spans: &[SpeedSpan<'_>], lag_s: f64) -> Result<Lag, LagRefusal> {
    let fit = residuals(spans, lag_s).ok_or(LagRefusal::TooFew { points: 0 })?;
    let n = fit.values.len() as f64;
    let variance = fit.loss * n / (n - 2.0);
    let correlation = neighbour_correlation(&fit.values, &fit.pass).clamp(0.0, 0.98);
    // Gauss-Newton: one parameter, sensitivity = the acceleration of the fitted speed.
    let information: f64 = fit.slopes.iter().map(|a| a * a).sum();
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    let within_s =
        if information > 0.0 { (variance * inflation / information).sqrt() } else { f64::INFINITY };
    let standard_uncertainty_s = within_s.max(LEAST_U_S);
    if standard_uncertainty_s.is_nan() || standard_uncertainty_s >= UNCERTAINTY_MAX_S {
        return Err(LagRefusal::NoAcceleration { standard_uncertainty_s });
    }
    let (steady_m_s, steady_correlation) =
        steady_noise(&fit).unwrap_or((variance.sqrt(), correlation));
    Ok(Lag {
        lag_s,
        standard_uncertainty_s,
        speed_scatter_m_s: steady_m_s,
        residual_correlation: steady_correlation,
    })
}

/// Noise of the satellite speed, m/s, and correlation of neighbours, where the speed is steady, at
/// a lag that is known already; `None` where hardly anything is steady.
#[must_use]
pub fn steady_noise_at(spans: &[SpeedSpan<'_>], lag_s: f64) -> Option<(f64, f64)> {
    steady_noise(&residuals(spans, lag_s)?)
}

/// Speed noise and its correlation where the speed is steady. While it changes, the averaging of
/// the counts differs from the receiver's own, and the residual is not noise.
fn steady_noise(fit: &Fit) -> Option<(f64, f64)> {
    let (steady, pass): (Vec<f64>, Vec<usize>) = (0..fit.values.len())
        .filter(|&i| fit.slopes[i].abs() < STEADY_M_S2 && fit.speeds[i] > MOVING_M_S)
        .map(|i| (fit.values[i], fit.pass[i]))
        .unzip();
    if steady.len() < POINTS_MIN {
        return None;
    }
    let mean = steady.iter().sum::<f64>() / steady.len() as f64;
    let off: Vec<f64> = steady.iter().map(|v| v - mean).collect();
    let variance = off.iter().map(|v| v * v).sum::<f64>() / (off.len() - 1) as f64;
    Some((variance.sqrt(), neighbour_correlation(&off, &pass).clamp(0.0, 0.98)))
}

struct Fit {
    /// Mean square of the clipped residuals, (m/s)^2.
    loss: f64,
    values: Vec<f64>,
    /// Acceleration by the counts, m/s2.
    slopes: Vec<f64>,
    /// Speed by the counts, m/s.
    speeds: Vec<f64>,
    /// Which span each belongs to: neighbours of two spans are no neighbours in time.
    pass: Vec<usize>,
}

/// Rates and speeds at one lag: what is fitted.
struct Pairs {
    /// Impulses per second and metres per second.
    values: Vec<(f64, f64)>,
    /// Board seconds and span of each.
    at: Vec<(f64, usize)>,
}

/// The pairs whose rate is known, and would be a little earlier and later too.
fn pairs(spans: &[SpeedSpan<'_>], lag_s: f64) -> Option<Pairs> {
    let mut out = Pairs { values: Vec::new(), at: Vec::new() };
    for (number, span) in spans.iter().enumerate() {
        let Some((first_s, last_s)) = span.curve.span_s() else { continue };
        let mut rates = span.curve.rates(SMOOTH_S);
        for &(at_s, speed_m_s) in &span.speeds {
            let t = at_s - lag_s;
            if t - 2.0 * SMOOTH_S < first_s || t + 2.0 * SMOOTH_S > last_s {
                continue;
            }
            if let Some(rate) = rates.at(t) {
                out.values.push((rate, speed_m_s));
                out.at.push((t, number));
            }
        }
    }
    (out.values.len() >= POINTS_MIN).then_some(out)
}

/// Scale in metres per impulse and residuals of satellite speed about the scaled rate, clipped.
fn clipped(pairs: &Pairs) -> Option<(f64, Vec<f64>)> {
    let mut metres_per_impulse = scale(pairs.values.iter().copied())?;
    let sizes = pairs.values.iter().map(|p| (p.1 - metres_per_impulse * p.0).abs()).collect();
    let clip = (CLIP * upper_median(sizes)?).max(CLIP_LEAST_M_S);
    // One repeat without the wild ones, which would otherwise tilt the scale.
    metres_per_impulse = scale(
        pairs.values.iter().filter(|p| (p.1 - metres_per_impulse * p.0).abs() <= clip).copied(),
    )?;
    let off = |p: &(f64, f64)| (p.1 - metres_per_impulse * p.0).clamp(-clip, clip);
    Some((metres_per_impulse, pairs.values.iter().map(off).collect()))
}

fn mean_square(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64
}

/// Mean square of the residuals at one lag, (m/s)^2.
fn loss(spans: &[SpeedSpan<'_>], lag_s: f64) -> Option<f64> {
    clipped(&pairs(spans, lag_s)?).map(|(_, values)| mean_square(&values))
}

/// Everything about the fit at one lag.
fn residuals(spans: &[SpeedSpan<'_>], lag_s: f64) -> Option<Fit> {
    let pairs = pairs(spans, lag_s)?;
    let (metres_per_impulse, values) = clipped(&pairs)?;
    let slope = |&(t, number): &(f64, usize)| {
        let curve = spans[number].curve;
        let rise = curve.rate(t + SMOOTH_S, SMOOTH_S)? - curve.rate(t - SMOOTH_S, SMOOTH_S)?;
        Some(metres_per_impulse * (rise / (2.0 * SMOOTH_S)))
    };
    Some(Fit {
        loss: mean_square(&values),
        slopes: pairs
            .at
            .iter()
            .map(|at| slope(at).filter(|a| a.abs() < HARDEST_M_S2).unwrap_or(0.0))
            .collect(),
        speeds: pairs.values.iter().map(|p| metres_per_impulse * p.0).collect(),
        values,
        pass: pairs.at.iter().map(|at| at.1).collect(),
    })
}

/// Least-squares ratio of speed to rate.
fn scale(pairs: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let (xy, xx) =
        pairs.fold((0.0, 0.0), |(xy, xx), (rate, speed)| (xy + rate * speed, xx + rate * rate));
    (xx > 0.0 && xy > 0.0).then(|| xy / xx)
}

pub(super) fn neighbour_correlation(values: &[f64], pass: &[usize]) -> f64 {
    let square: f64 = values.iter().map(|v| v * v).sum();
    let product: f64 = values
        .windows(2)
        .zip(pass.windows(2))
        .filter(|(_, p)| p[0] == p[1])
        .map(|(w, _)| w[0] * w[1])
        .sum();
    if square > 0.0 { product / square } else { 0.0 }
}
