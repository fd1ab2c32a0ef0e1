//! An offset made sharp where the wheels slip: by the changes of speed alone.
//!
//! As in [`super::lag_changes`]: slip differs from place to place, and one scale over the whole
//! drive leaves more behind than a second of offset does. Within some seconds of a start, a stop
//! or a turn the two speeds still rise and fall together, so each has a scale and a level of its
//! own, and only the offset is common.

use super::join_grid::{GRID_S, Grid, Score};
use super::lag::{SEARCH_S, neighbour_correlation, search};
use super::lag_changes::{clipped_loss, information, line};

/// Speeds are compared as means over this, seconds.
const BIN_S: f64 = 0.5;
/// Length of one change, bins: 10 s.
const BINS: usize = 20;
/// The speed must range over this much in it, m/s: more than the noise of a poor receiver.
const RANGE_M_S: f64 = 0.3;
/// Changes needed, at the least: one alone may be chance.
const CHANGES_MIN: usize = 3;
/// Changes used, at most, the greatest first.
const CHANGES_MAX: usize = 200;

/// An offset by the changes of speed.
#[derive(Clone, Copy, Debug)]
pub(super) struct ByChanges {
    /// Seconds.
    pub(super) offset_s: f64,
    /// Its standard uncertainty, seconds.
    pub(super) standard_uncertainty_s: f64,
    /// How well the changes fit.
    pub(super) score: Score,
}

/// Look for the offset within [`SEARCH_S`] of `near_s`; `None` where the changes do not show it.
pub(super) fn by_changes(travel: &Grid, way: &Grid, near_s: f64) -> Option<ByChanges> {
    let changes = changes(travel, way, near_s);
    if changes.len() < CHANGES_MIN {
        return None;
    }
    let shift_s = search(|s| Some(fit(travel, &changes, near_s + s)?.loss)).ok()?;
    let offset_s = near_s + shift_s;
    let fit = fit(travel, &changes, offset_s)?;
    let n = fit.residuals.len() as f64;
    let free = (n - 2.0 * changes.len() as f64 - 1.0).max(1.0);
    let correlation = neighbour_correlation(&fit.residuals, &fit.change).clamp(0.0, 0.95);
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    let variance = fit.loss * n / free;
    let seen_s = (variance * inflation / fit.information).sqrt();
    // As in the search over all: half the spacing of the grid is lost at most.
    let standard_uncertainty_s = seen_s.hypot(GRID_S / 12.0_f64.sqrt());
    let score =
        Score { standard_uncertainty_s, ..Score::new(n * BIN_S, variance, fit.spread, BIN_S) };
    standard_uncertainty_s.is_finite().then_some(ByChanges {
        offset_s,
        standard_uncertainty_s,
        score,
    })
}

/// One change: seconds and speed.
type Change = Vec<(f64, f64)>;

/// The changes of the satellite speed beside which the counts are known whatever the offset.
fn changes(travel: &Grid, way: &Grid, near_s: f64) -> Vec<Change> {
    let bins = way.bins(BIN_S);
    let at_s = |i: usize| way.start_s() + (i as f64 + 0.5) * BIN_S;
    let known = |s: f64| travel.mean(s - near_s, 2.0 * SEARCH_S + 4.0 * BIN_S).is_finite();
    let mut found: Vec<(f64, Change)> = Vec::new();
    for (number, part) in bins.chunks_exact(BINS).enumerate() {
        let least = part.iter().copied().fold(f64::INFINITY, f64::min);
        let range_m_s = part.iter().copied().fold(0.0, f64::max) - least;
        let timed = part.iter().enumerate().map(|(i, &v)| (at_s(number * BINS + i), v));
        let change: Change = timed.collect();
        if range_m_s > RANGE_M_S && change.iter().all(|c| c.1.is_finite() && known(c.0)) {
            found.push((range_m_s, change));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.truncate(CHANGES_MAX);
    found.into_iter().map(|change| change.1).collect()
}

struct Fit {
    /// Mean square of the clipped residuals, (m/s)^2.
    loss: f64,
    /// Mean square of the speeds about their mean in each change, (m/s)^2.
    spread: f64,
    residuals: Vec<f64>,
    change: Vec<usize>,
    /// Sum of squares of the part of the acceleration that neither scale nor level can imitate.
    information: f64,
}

fn fit(travel: &Grid, changes: &[Change], offset_s: f64) -> Option<Fit> {
    let mut out =
        Fit { loss: 0.0, spread: 0.0, residuals: Vec::new(), change: Vec::new(), information: 0.0 };
    for (number, change) in changes.iter().enumerate() {
        let rate = |s: f64| travel.mean(s - offset_s, BIN_S);
        let rates: Vec<f64> = change.iter().map(|c| rate(c.0)).collect();
        let slopes: Vec<f64> = change
            .iter()
            .map(|c| (rate(c.0 + BIN_S) - rate(c.0 - BIN_S)) / (2.0 * BIN_S))
            .collect();
        let speeds: Vec<f64> = change.iter().map(|c| c.1).collect();
        // Where the counts stand still, a level alone is left.
        let mean = speeds.iter().sum::<f64>() / speeds.len() as f64;
        out.spread += speeds.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        let (scale, level) = line(&rates, &speeds).unwrap_or((0.0, mean));
        out.residuals.extend(rates.iter().zip(&speeds).map(|(r, v)| v - level - scale * r));
        out.change.extend(change.iter().map(|_| number));
        out.information += information(scale, &rates, &slopes);
    }
    out.loss = clipped_loss(&mut out.residuals)?;
    out.spread /= out.residuals.len() as f64;
    Some(out)
}
