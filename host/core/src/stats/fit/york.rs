//! The straight line with uncertainty in both variables.
//!
//! D. York, N. M. Evensen, M. López Martínez, J. De Basabe Delgado, "Unified equations for the
//! slope, intercept, and standard errors of the best straight line", Am. J. Phys. 72 (2004) 367.
//! The equations are written with uncertainties in place of their reciprocals, so that a point may
//! be exact in one variable. Three sets of standard errors are in print for the same data; this is
//! the 2004 one, taken at the **adjusted** points and not enlarged by the scatter. Multiply by the
//! root of the reduced chi-squared to have the third.

use super::line::{LineFit, weighted};
use super::{FitRefusal, all_finite, at_least};

/// Rounds of iteration allowed. The published data sets take under twenty.
pub const MAX_ITERATIONS: usize = 500;

/// Relative change of the slope at which it has settled.
const SETTLED: f64 = 1e-14;

/// A point with uncertainty in both variables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Abscissa of the measured point.
    pub x: f64,
    /// Ordinate of the measured point.
    pub y: f64,
    /// Standard uncertainty of x; may be zero if that of y is not.
    pub u_x: f64,
    /// Standard uncertainty of y; may be zero if that of x is not.
    pub u_y: f64,
}

impl Point {
    /// A point whose errors in x and y have nothing to do with each other.
    #[must_use]
    pub fn new(x: f64, y: f64, u_x: f64, u_y: f64) -> Self {
        Self { x, y, u_x, u_y }
    }

    /// Weight of the point about a line of this slope: York (2004), equation 13a.
    fn weight(&self, slope: f64) -> f64 {
        (self.u_y.powi(2) + (slope * self.u_x).powi(2)).recip()
    }

    fn usable(&self) -> bool {
        let Self { u_x, u_y, .. } = *self;
        u_x >= 0.0 && u_y >= 0.0 && u_x + u_y > 0.0 && (u_x + u_y).is_finite()
    }
}

/// One round of the iteration at a given slope.
struct Round {
    x_mean: f64,
    y_mean: f64,
    /// (weight, x adjusted less the mean, U, V) of each point.
    rows: Vec<(f64, f64, f64, f64)>,
}

impl Round {
    fn at(points: &[Point], slope: f64) -> Self {
        let weights: Vec<f64> = points.iter().map(|point| point.weight(slope)).collect();
        let total: f64 = weights.iter().sum();
        let mean = |pick: fn(&Point) -> f64| -> f64 {
            points.iter().zip(&weights).map(|(point, w)| w * pick(point)).sum::<f64>() / total
        };
        let (x_mean, y_mean) = (mean(|point| point.x), mean(|point| point.y));
        let rows = points
            .iter()
            .zip(&weights)
            .map(|(point, &weight)| {
                let (u, v) = (point.x - x_mean, point.y - y_mean);
                let from_y = u * point.u_y.powi(2);
                let from_x = slope * v * point.u_x.powi(2);
                (weight, weight * (from_y + from_x), u, v)
            })
            .collect();
        Self { x_mean, y_mean, rows }
    }

    /// The slope this round leads to: York (2004), equation 13b.
    fn next_slope(&self) -> f64 {
        let up: f64 = self.rows.iter().map(|(w, beta, _, v)| w * beta * v).sum();
        let along: f64 = self.rows.iter().map(|(w, beta, u, _)| w * beta * u).sum();
        up / along
    }
}

/// The best straight line through points uncertain in both variables.
///
/// # Errors
/// [`FitRefusal`] with fewer than three points, values that are not finite, a point exact in both
/// variables, no spread, or an iteration that does not settle within [`MAX_ITERATIONS`].
pub fn fit(points: &[Point]) -> Result<LineFit, FitRefusal> {
    at_least(points.len(), 3)?;
    all_finite(points.iter().map(|point| point.x + point.y))?;
    if !points.iter().all(Point::usable) {
        return Err(FitRefusal::UncertaintyNotPositive);
    }
    let start: Vec<(f64, f64, f64)> = points.iter().map(|p| (p.x, p.y, 1.0)).collect();
    let mut slope = weighted(&start)?.slope;
    for _ in 0..MAX_ITERATIONS {
        let next = Round::at(points, slope).next_slope();
        if !next.is_finite() {
            return Err(FitRefusal::NoSpread);
        }
        let settled = (next - slope).abs() <= SETTLED * next.abs().max(f64::MIN_POSITIVE);
        slope = next;
        if settled {
            return Ok(finish(points, slope));
        }
    }
    // The last digits of some data sets go back and forth; that is settled for every purpose.
    let next = Round::at(points, slope).next_slope();
    if (next - slope).abs() <= 1e-10 * next.abs() {
        return Ok(finish(points, next));
    }
    Err(FitRefusal::NotConverged)
}

/// Intercept, chi-squared and standard errors at the final slope: equations 13c to 13f.
fn finish(points: &[Point], slope: f64) -> LineFit {
    let round = Round::at(points, slope);
    let total: f64 = round.rows.iter().map(|(w, ..)| w).sum();
    let shift = round.rows.iter().map(|(w, beta, ..)| w * beta).sum::<f64>() / total;
    let adjusted_mean = round.x_mean + shift;
    let spread: f64 = round.rows.iter().map(|(w, beta, ..)| w * (beta - shift).powi(2)).sum();
    let chi_squared = round.rows.iter().map(|(w, _, u, v)| w * (v - slope * u).powi(2)).sum();
    LineFit {
        intercept: round.y_mean - slope * round.x_mean,
        slope,
        u_intercept: (1.0 / total + adjusted_mean.powi(2) / spread).sqrt(),
        u_slope: spread.sqrt().recip(),
        covariance: -adjusted_mean / spread,
        chi_squared,
        degrees_of_freedom: points.len() - 2,
    }
}
