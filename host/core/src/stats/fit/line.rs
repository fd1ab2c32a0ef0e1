//! Straight lines with uncertainty in y only, and what every straight line can be asked.
//!
//! The conventions are those of ISO/TS 28037:2010: clause 6 where the uncertainties of the points
//! are known, annex E where they are unknown but equal. Sums are taken about the weighted mean,
//! which keeps the digits that the textbook sums of squares lose.

use super::{FitRefusal, all_finite, all_positive, at_least};

/// y = intercept + slope·x, with what is known about its parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct LineFit {
    /// Value at x = 0.
    pub intercept: f64,
    /// Rise per unit of x.
    pub slope: f64,
    /// Standard uncertainty of the intercept.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope.
    pub u_slope: f64,
    /// Covariance of intercept and slope.
    pub covariance: f64,
    /// Sum of the squared residuals, each over its stated uncertainty; in the unit of y squared
    /// when the uncertainties were unknown.
    pub chi_squared: f64,
    /// Number of points less two.
    pub degrees_of_freedom: usize,
}

/// A value with a standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Best estimate of the value.
    pub value: f64,
    /// Standard uncertainty, same unit.
    pub standard_uncertainty: f64,
}

impl Estimate {
    /// A value and its standard uncertainty, same unit.
    #[must_use]
    pub const fn new(value: f64, standard_uncertainty: f64) -> Self {
        Self { value, standard_uncertainty }
    }
}

impl LineFit {
    /// Chi-squared over its degrees of freedom; about one when the stated uncertainties are right.
    #[must_use]
    pub fn reduced_chi_squared(&self) -> f64 {
        self.chi_squared / self.degrees_of_freedom as f64
    }
}

/// Line of points that are all equally uncertain, by how much being read off their scatter
/// (ordinary least squares; ISO/TS 28037, annex E).
///
/// # Errors
/// [`FitRefusal`] with fewer than three points, values that are not finite, or no spread in x.
pub fn ordinary(points: &[(f64, f64)]) -> Result<LineFit, FitRefusal> {
    at_least(points.len(), 3)?;
    let unit: Vec<(f64, f64, f64)> = points.iter().map(|(x, y)| (*x, *y, 1.0)).collect();
    let mut fit = weighted(&unit)?;
    let scatter = fit.reduced_chi_squared();
    fit.u_intercept *= scatter.sqrt();
    fit.u_slope *= scatter.sqrt();
    fit.covariance *= scatter;
    Ok(fit)
}

/// Line of points (x, y, standard uncertainty of y) (weighted least squares; ISO/TS 28037, 6.2).
///
/// # Errors
/// [`FitRefusal`] with fewer than two points, values that are not finite, an uncertainty that is
/// not positive, or no spread in x.
pub fn weighted(points: &[(f64, f64, f64)]) -> Result<LineFit, FitRefusal> {
    at_least(points.len(), 2)?;
    all_finite(points.iter().map(|(x, y, _)| x + y))?;
    all_positive(points.iter().map(|(_, _, u)| *u))?;
    let weights: Vec<f64> = points.iter().map(|(_, _, u)| u.powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let sum = |pick: &dyn Fn(f64, f64) -> f64| -> f64 {
        points.iter().zip(&weights).map(|((x, y, _), w)| w * pick(*x, *y)).sum()
    };
    let x_mean = sum(&|x, _| x) / total;
    let y_mean = sum(&|_, y| y) / total;
    let spread = sum(&|x, _| (x - x_mean).powi(2));
    let extent = points.iter().map(|(x, _, _)| x.abs()).fold(0.0, f64::max);
    if spread <= total * (extent * 1e-14).powi(2) {
        return Err(FitRefusal::NoSpread);
    }
    let slope = sum(&|x, y| (x - x_mean) * (y - y_mean)) / spread;
    let intercept = y_mean - slope * x_mean;
    let residual = |x: f64, y: f64| (y - y_mean) - slope * (x - x_mean);
    Ok(LineFit {
        intercept,
        slope,
        u_intercept: (1.0 / total + x_mean * x_mean / spread).sqrt(),
        u_slope: spread.sqrt().recip(),
        covariance: -x_mean / spread,
        chi_squared: sum(&|x, y| residual(x, y).powi(2)),
        degrees_of_freedom: points.len() - 2,
    })
}
