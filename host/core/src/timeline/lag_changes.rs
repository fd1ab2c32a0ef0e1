//! The receiver's lag where the wheels slip: found by the changes of speed alone.
//!
//! On soft ground the wheel's speed is not the ground's, and differs from place to place. Over the
//! few seconds of a start, a stop or a change of speed the two still rise and fall together. So
//! each such change is matched with a scale and an offset of its own; only the instant is common.
//!
//! Counts that are summed from a filtered speed do not follow a change to its end before the next
//! one comes, so that a mere shift is found too short. They are matched with the time constant of
//! a filter of first order besides, which is exact for one, and for others has the mean and the
//! width of their delay.

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
/// Filters of speeds are no slower, seconds; common practice, no source.
const FILTER_MAX_S: f64 = 1.5;
/// A match with a filter in mind whose standard uncertainty exceeds this is refused, seconds: so
/// far off, another time constant fits about as well, and it is more uncertain than it says.
const FILTERED_U_MAX_S: f64 = 0.05;
/// The scale of a change and the time constant hang together; so often they are found in turn.
const TURNS: usize = 4;

/// One change of speed.
struct Change<'r, 'a> {
    curve: &'a CountCurve,
    speeds: &'r [(f64, f64)],
    range_m_s: f64,
}

/// What the counts follow the movement like.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Follow {
    /// At once.
    Close,
    /// Through a filter of a time constant that is to be found.
    Filtered,
}

/// Find the lag that fits all changes of speed best.
///
/// # Errors
/// A [`LagRefusal`] when there is no change of speed, or the data cannot show.
pub fn match_changes(runs: &[SpeedSpan<'_>]) -> Result<Lag, LagRefusal> {
    matched(runs, Follow::Close)
}

/// The same for counts that may be summed from a filtered speed: the mean lag, in which the delay
/// of the filter counts in full. At a steady speed they lag behind by it.
///
/// # Errors
/// A [`LagRefusal`] as above.
pub fn match_filtered(runs: &[SpeedSpan<'_>]) -> Result<Lag, LagRefusal> {
    matched(runs, Follow::Filtered)
}

fn matched(runs: &[SpeedSpan<'_>], follow: Follow) -> Result<Lag, LagRefusal> {
    let mut changes: Vec<Change<'_, '_>> = runs.iter().flat_map(changes).collect();
    if changes.is_empty() {
        return Err(LagRefusal::NoAcceleration { standard_uncertainty_s: f64::INFINITY });
    }
    changes.sort_by(|a, b| b.range_m_s.total_cmp(&a.range_m_s));
    changes.truncate(CHANGES_MAX);
    let lag_s = search(|lag_s| fit(&changes, lag_s, follow).map(|fit| fit.loss))?;
    let fit = fit(&changes, lag_s, follow).ok_or(LagRefusal::TooFew { points: 0 })?;
    let n = fit.residuals.len() as f64;
    let (parameters, most_u_s) = match follow {
        Follow::Close => (1.0, UNCERTAINTY_MAX_S),
        Follow::Filtered => (2.0, FILTERED_U_MAX_S),
    };
    let free = (n - 2.0 * changes.len() as f64 - parameters).max(1.0);
    let variance = fit.loss * n / free;
    let correlation = neighbour_correlation(&fit.residuals, &fit.change).clamp(0.0, 0.95);
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    let standard_uncertainty_s = (variance * inflation / fit.information).sqrt();
    if standard_uncertainty_s.is_nan() || standard_uncertainty_s >= most_u_s {
        return Err(LagRefusal::NoAcceleration { standard_uncertainty_s });
    }
    Ok(Lag {
        lag_s: lag_s - fit.filter_s,
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
    /// Sum of squares of the part of the acceleration that neither scale nor offset can imitate,
    /// nor the width of a filter where there may be one.
    information: f64,
    /// Time constant of the filter, seconds.
    filter_s: f64,
}

/// The counts of one change at one lag, beside its speeds.
struct Course {
    number: usize,
    /// Counts a second, with their first and second derivative by time.
    rates: Vec<f64>,
    slopes: Vec<f64>,
    bends: Vec<f64>,
    speeds: Vec<f64>,
}

fn course((number, change): (usize, &Change<'_, '_>), lag_s: f64) -> Option<Course> {
    let of = || Vec::with_capacity(change.speeds.len());
    let (mut rates, mut slopes, mut bends) = (of(), of(), of());
    let rate = || change.curve.rates(SMOOTH_S);
    let (mut now, mut later, mut sooner) = (rate(), rate(), rate());
    for speed in change.speeds {
        let at_s = speed.0 - lag_s;
        let (before, here, after) =
            (sooner.at(at_s - SMOOTH_S)?, now.at(at_s)?, later.at(at_s + SMOOTH_S)?);
        rates.push(here);
        slopes.push((after - before) / (2.0 * SMOOTH_S));
        bends.push((after - 2.0 * here + before) / SMOOTH_S.powi(2));
    }
    let speeds = change.speeds.iter().map(|s| s.1).collect();
    Some(Course { number, rates, slopes, bends, speeds })
}

fn fit(changes: &[Change<'_, '_>], lag_s: f64, follow: Follow) -> Option<Fit> {
    let courses = || changes.iter().enumerate().map(|change| course(change, lag_s));
    let filtered = follow == Follow::Filtered;
    // Only the time constant wants all changes of a long day at once.
    let filter_s = if filtered { filter_s(&courses().collect::<Option<Vec<_>>>()?) } else { 0.0 };
    let (residuals, change) = (Vec::new(), Vec::new());
    let mut out = Fit { loss: 0.0, residuals, change, information: 0.0, filter_s };
    // Squares of what the lag does, of what the width does, and their product.
    let (mut of_lag, mut of_width, mut both) = (0.0, 0.0, 0.0);
    for one in courses() {
        let one = one?;
        let followed: Vec<f64> =
            one.rates.iter().zip(&one.slopes).map(|(r, a)| r + filter_s * a).collect();
        let Some((scale, off)) = line(&followed, &one.speeds) else { continue };
        out.residuals.extend(followed.iter().zip(&one.speeds).map(|(r, v)| v - off - scale * r));
        out.change.extend(one.speeds.iter().map(|_| one.number));
        of_lag += information(scale, &one.rates, &one.slopes);
        if filtered {
            of_width += information(scale, &one.rates, &one.bends);
            let own = beyond(&one.rates, &one.slopes).zip(beyond(&one.rates, &one.bends));
            both += own.map(|(slope, bend)| scale * scale * slope * bend).sum::<f64>();
        }
    }
    let shared = if of_width > 0.0 { both * both / of_width } else { 0.0 };
    out.information = of_lag - shared;
    out.loss = clipped_loss(&mut out.residuals)?;
    Some(out)
}

/// The time constant that fits best at one lag, seconds: what a filter of first order was given is
/// what it gave and its time constant times the slope of that.
fn filter_s(courses: &[Course]) -> f64 {
    let mut filter_s = 0.0;
    for _ in 0..TURNS {
        let (mut product, mut square) = (0.0, 0.0);
        for one in courses {
            let Some((plain, off)) = line(&one.rates, &one.speeds) else { continue };
            let turn = line(&one.rates, &one.slopes).map_or(0.0, |(turn, _)| turn);
            let scale = plain / (1.0 + filter_s * turn);
            let own = beyond(&one.rates, &one.slopes);
            for ((rate, speed), slope) in one.rates.iter().zip(&one.speeds).zip(own) {
                product += (speed - off - plain * rate) * scale * slope;
                square += (scale * slope).powi(2);
            }
        }
        filter_s = if square > 0.0 { (product / square).clamp(0.0, FILTER_MAX_S) } else { 0.0 };
    }
    filter_s
}

/// What one change says of the shift: the square of what a shift would do to its speeds, beyond
/// what scale and level take up.
pub(super) fn information(scale: f64, rates: &[f64], slopes: &[f64]) -> f64 {
    beyond(rates, slopes).map(|slope| (scale * slope).powi(2)).sum::<f64>()
}

/// The slopes without what a change of scale and level would do.
fn beyond<'s>(rates: &'s [f64], slopes: &'s [f64]) -> impl Iterator<Item = f64> + 's {
    let (turn, level) = line(rates, slopes).unwrap_or((0.0, 0.0));
    rates.iter().zip(slopes).map(move |(rate, slope)| slope - level - turn * rate)
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
