//! Several measurements of one value made into one.
//!
//! The values may scatter just as their budgets say, or more; the weighted mean and its chi-squared
//! say which. When they scatter more, all uncertainties are enlarged alike (Birge), and the result
//! says so. Nothing here knows about terms that all values share, such as the tape: keep those out
//! of the uncertainties given here and add them afterwards.

use super::line::Estimate;
use super::{FitRefusal, all_finite, all_positive, at_least};

/// Mean of values weighed by their stated uncertainties.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightedMean {
    /// Weighted mean of the values.
    pub mean: f64,
    /// Standard uncertainty if all stated uncertainties are right.
    pub standard_uncertainty: f64,
    /// Sum of the squared deviations over the stated uncertainties (Cochran's Q).
    pub chi_squared: f64,
    /// Number of values less one.
    pub degrees_of_freedom: f64,
    /// The standard uncertainty enlarged by the Birge ratio, the root of chi-squared over its
    /// degrees of freedom, never made smaller by it. For few
    /// values even this is too small (Bodnar and Elster, Metrologia 51 (2014) 516).
    pub standard_uncertainty_birge: f64,
}

/// Weighted mean with chi-squared and Birge ratio.
///
/// # Errors
/// [`FitRefusal`] with fewer than two values, or an uncertainty that is not positive.
pub fn weighted_mean(values: &[Estimate]) -> Result<WeightedMean, FitRefusal> {
    at_least(values.len(), 2)?;
    all_finite(values.iter().map(|estimate| estimate.value))?;
    all_positive(values.iter().map(|estimate| estimate.standard_uncertainty))?;
    let weight = |estimate: &Estimate| estimate.standard_uncertainty.powi(2).recip();
    let total: f64 = values.iter().map(weight).sum();
    // About the first value, so that large values close together keep their digits.
    let origin = values[0].value;
    let offset: f64 = values.iter().map(|e| weight(e) * (e.value - origin)).sum::<f64>() / total;
    let chi_squared =
        values.iter().map(|e| weight(e) * (e.value - origin - offset).powi(2)).sum::<f64>();
    let degrees_of_freedom = values.len() as f64 - 1.0;
    let birge_ratio = (chi_squared / degrees_of_freedom).sqrt();
    let standard_uncertainty = total.recip().sqrt();
    Ok(WeightedMean {
        mean: origin + offset,
        standard_uncertainty,
        chi_squared,
        degrees_of_freedom,
        standard_uncertainty_birge: standard_uncertainty * birge_ratio.max(1.0),
    })
}
