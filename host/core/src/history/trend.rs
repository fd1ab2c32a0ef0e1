//! The straight line in time through all points.

use super::{Known, NoTrend};
use crate::figure::COVERAGE;
use crate::stats::budget::{Quantity, Source, Sources, expand};
use crate::stats::fit::line::{LineFit, weighted};
use chrono::NaiveDate;

/// Fewest points: through two a line always goes, so it could not be wrong.
const TREND_MIN: usize = 3;
/// Days of a mean Gregorian year.
pub const DAYS_PER_YEAR: f64 = 365.2425;

/// The line, and how sure its rise is.
#[derive(Clone, Debug, PartialEq)]
pub struct Trend {
    /// Day at which the line is counted from.
    pub origin: NaiveDate,
    /// The line by the points' own uncertainties: impulses per 100 m against days since the origin.
    pub line: LineFit,
    /// Rise as a share of the mean value, in a year.
    pub share_per_year: f64,
    /// Half-width of its 95 % interval: with what is shared by some points only, and enlarged by
    /// the scatter about the line where that is more than the points' uncertainties.
    pub half_width_per_year: f64,
    /// Significant at 95 %.
    pub significant: bool,
    /// Weighted mean of the values, impulses per 100 m.
    pub mean: f64,
}

impl Trend {
    /// What the line says on a day, impulses per 100 m.
    #[must_use]
    pub fn at(&self, day: NaiveDate) -> f64 {
        self.line.intercept + self.line.slope * days(self.origin, day)
    }
}

fn days(from: NaiveDate, to: NaiveDate) -> f64 {
    (to - from).num_days() as f64
}

/// Lay it.
pub(super) fn trend(known: &[Known<'_>], sources: &mut Sources) -> Result<Trend, NoTrend> {
    let Some(first) = known.first().filter(|_| known.len() >= TREND_MIN) else {
        return Err(NoTrend::TooFew { have: known.len(), need: TREND_MIN });
    };
    let origin = first.point.day;
    let points: Vec<(f64, f64, f64)> = known
        .iter()
        .map(|k| {
            let u_own = sources.get(k.own).standard_uncertainty;
            (days(origin, k.point.day), k.point.figure, u_own)
        })
        .collect();
    let line = weighted(&points)?;
    let weights: Vec<f64> = points.iter().map(|(_, _, u)| u.powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let mean_of = |pick: &dyn Fn(&(f64, f64, f64)) -> f64| -> f64 {
        points.iter().zip(&weights).map(|(point, w)| w * pick(point)).sum::<f64>() / total
    };
    let x_mean = mean_of(&|point| point.0);
    let mean = mean_of(&|point| point.1);
    // The slope is a weighted sum of the values, so that what they share goes where it belongs: it
    // cancels where it is the same in all, and tilts the line where the tape was changed.
    let spread = line.u_slope.powi(-2);
    let parts: Vec<(&Quantity, f64)> = known
        .iter()
        .zip(points.iter().zip(&weights))
        .map(|(known, (point, weight))| (&known.figure, weight * (point.0 - x_mean) / spread))
        .collect();
    let mut slope = Quantity::weighted_sum(&parts);
    let excess = line.reduced_chi_squared() - 1.0;
    if excess > 0.0 {
        let u = line.u_slope * excess.sqrt();
        let dof = line.degrees_of_freedom as f64;
        let scatter = Source::type_a("line", "scatter about the line", u, dof);
        slope = &slope + &sources.quantity(0.0, scatter);
    }
    let half_width = expand(&slope, sources, COVERAGE).expanded_uncertainty;
    let per_year = DAYS_PER_YEAR / mean;
    Ok(Trend {
        origin,
        share_per_year: line.slope * per_year,
        half_width_per_year: half_width * per_year,
        significant: line.slope.abs() > half_width,
        mean,
        line,
    })
}
