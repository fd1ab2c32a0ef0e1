//! Several measurements of one figure made into one.
//!
//! Passes may scatter just as their budgets say, or more. The weighted mean and its chi-squared say
//! which. When they scatter more there are two honest answers: enlarge all uncertainties alike
//! (Birge), or admit a variance between passes and add it to each (random effects). Both are here
//! and both say what they did. Neither knows about terms that all passes share, such as the tape:
//! keep those out of the uncertainties given here and add them afterwards.

use super::line::Estimate;
use super::{FitRefusal, all_finite, all_positive, at_least};
use crate::stats::budget::student::chi_squared_survival;
use crate::stats::budget::{Quantity, Source, Sources};

/// Mean of repeated readings of equal standing (JCGM 100, 4.2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RepeatedMean {
    /// Arithmetic mean.
    pub mean: f64,
    /// Experimental standard deviation of one reading.
    pub standard_deviation: f64,
    /// Standard uncertainty of the mean: the standard deviation over √n.
    pub standard_uncertainty: f64,
    /// Readings less one.
    pub degrees_of_freedom: f64,
    /// How many readings.
    pub count: usize,
}

/// Mean of values weighed by their stated uncertainties.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightedMean {
    /// Weighted mean.
    pub mean: f64,
    /// Standard uncertainty if all stated uncertainties are right.
    pub standard_uncertainty: f64,
    /// Sum of the squared deviations over the stated uncertainties (Cochran's Q).
    pub chi_squared: f64,
    /// Values less one.
    pub degrees_of_freedom: f64,
    /// Probability of so large a chi-squared if all stated uncertainties are right.
    pub chi_squared_probability: f64,
    /// Root of chi-squared over its degrees of freedom: above one, the values disagree more than
    /// they should.
    pub birge_ratio: f64,
    /// The standard uncertainty enlarged by the Birge ratio, never made smaller by it. For few
    /// values even this is too small (Bodnar and Elster, Metrologia 51 (2014) 516).
    pub standard_uncertainty_birge: f64,
}

/// How the variance between values was estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BetweenMethod {
    /// DerSimonian and Laird (1986): one step, from Q.
    DerSimonianLaird,
    /// Paule and Mandel (1982): the variance at which chi-squared equals its expectation.
    PauleMandel,
}

/// Mean of values that differ by more than their stated uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RandomEffects {
    /// Weighted mean with the variance between values in the weights.
    pub mean: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Variance between values (τ²); zero when they agree as well as they should.
    pub between_variance: f64,
    /// Cochran's Q of the fixed-effect mean.
    pub chi_squared: f64,
    /// Values less one.
    pub degrees_of_freedom: f64,
    /// Share of the scatter that is between values (I², 0 to 1).
    pub inconsistency: f64,
    /// How the variance was estimated.
    pub method: BetweenMethod,
}

/// Type A evaluation of repeated readings.
///
/// # Errors
/// [`FitRefusal`] with fewer than two readings or one that is not finite.
pub fn repeated_mean(readings: &[f64]) -> Result<RepeatedMean, FitRefusal> {
    at_least(readings.len(), 2)?;
    all_finite(readings.iter().copied())?;
    let n = readings.len() as f64;
    let mean = readings.iter().sum::<f64>() / n;
    let squares: f64 = readings.iter().map(|reading| (reading - mean).powi(2)).sum();
    let standard_deviation = (squares / (n - 1.0)).sqrt();
    Ok(RepeatedMean {
        mean,
        standard_deviation,
        standard_uncertainty: standard_deviation / n.sqrt(),
        degrees_of_freedom: n - 1.0,
        count: readings.len(),
    })
}

impl RepeatedMean {
    /// The mean as a quantity with one type A source of its own.
    pub fn quantity(&self, sources: &mut Sources, key: &str, name: &str) -> Quantity {
        let source = Source::type_a(key, name, self.standard_uncertainty, self.degrees_of_freedom);
        let id = sources.add(source);
        Quantity::from_source(self.mean, id, sources)
    }
}

fn check(values: &[Estimate]) -> Result<(), FitRefusal> {
    at_least(values.len(), 2)?;
    all_finite(values.iter().map(|estimate| estimate.value))?;
    all_positive(values.iter().map(|estimate| estimate.standard_uncertainty))
}

/// Weighted mean and its variance, with `extra` added to the variance of every value, and Q.
fn weigh(values: &[Estimate], extra: f64) -> (f64, f64, f64) {
    let weight = |estimate: &Estimate| (estimate.standard_uncertainty.powi(2) + extra).recip();
    let total: f64 = values.iter().map(weight).sum();
    // About the first value, so that large values close together keep their digits.
    let origin = values[0].value;
    let offset: f64 = values.iter().map(|e| weight(e) * (e.value - origin)).sum::<f64>() / total;
    let squares =
        values.iter().map(|e| weight(e) * (e.value - origin - offset).powi(2)).sum::<f64>();
    (origin + offset, total.recip(), squares)
}

/// Weighted mean with chi-squared and Birge ratio.
///
/// # Errors
/// [`FitRefusal`] with fewer than two values, or an uncertainty that is not positive.
pub fn weighted_mean(values: &[Estimate]) -> Result<WeightedMean, FitRefusal> {
    check(values)?;
    let (mean, variance, chi_squared) = weigh(values, 0.0);
    let degrees_of_freedom = values.len() as f64 - 1.0;
    let birge_ratio = (chi_squared / degrees_of_freedom).sqrt();
    Ok(WeightedMean {
        mean,
        standard_uncertainty: variance.sqrt(),
        chi_squared,
        degrees_of_freedom,
        chi_squared_probability: chi_squared_survival(chi_squared, degrees_of_freedom),
        birge_ratio,
        standard_uncertainty_birge: variance.sqrt() * birge_ratio.max(1.0),
    })
}

fn random_effects(values: &[Estimate], tau2: f64, method: BetweenMethod) -> RandomEffects {
    let (_, _, chi_squared) = weigh(values, 0.0);
    let (mean, variance, _) = weigh(values, tau2);
    let degrees_of_freedom = values.len() as f64 - 1.0;
    let excess = (chi_squared - degrees_of_freedom).max(0.0);
    RandomEffects {
        mean,
        standard_uncertainty: variance.sqrt(),
        between_variance: tau2,
        chi_squared,
        degrees_of_freedom,
        inconsistency: if excess > 0.0 { excess / chi_squared } else { 0.0 },
        method,
    }
}

/// Random-effects mean after DerSimonian and Laird (Controlled Clinical Trials 7 (1986) 177).
///
/// # Errors
/// [`FitRefusal`] with fewer than two values, or an uncertainty that is not positive.
pub fn dersimonian_laird(values: &[Estimate]) -> Result<RandomEffects, FitRefusal> {
    check(values)?;
    let (_, variance, chi_squared) = weigh(values, 0.0);
    let total = variance.recip();
    let squares: f64 = values.iter().map(|e| e.standard_uncertainty.powi(-4)).sum();
    let excess = chi_squared - (values.len() as f64 - 1.0);
    let tau2 = (excess / (total - squares / total)).max(0.0);
    Ok(random_effects(values, tau2, BetweenMethod::DerSimonianLaird))
}

/// Random-effects mean after Paule and Mandel (J. Res. NBS 87 (1982) 377).
///
/// # Errors
/// [`FitRefusal`] with fewer than two values, or an uncertainty that is not positive.
pub fn paule_mandel(values: &[Estimate]) -> Result<RandomEffects, FitRefusal> {
    check(values)?;
    let wanted = values.len() as f64 - 1.0;
    let above = |tau2: f64| weigh(values, tau2).2 > wanted;
    let mut low = 0.0;
    if above(low) {
        // Q falls with τ², and is below its expectation once τ² exceeds the sum of squares.
        let origin = values[0].value;
        let mut high: f64 = values.iter().map(|e| (e.value - origin).powi(2)).sum();
        for _ in 0..200 {
            let middle = low + (high - low) / 2.0;
            if above(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
    }
    Ok(random_effects(values, low, BetweenMethod::PauleMandel))
}

/// Variance between passes: what the scatter of `readings` has beyond the mean of the squared
/// uncertainties they were expected to scatter with. Never negative.
///
/// # Errors
/// [`FitRefusal`] with fewer than two values, or an uncertainty that is not positive.
pub fn between_variance(values: &[Estimate]) -> Result<f64, FitRefusal> {
    check(values)?;
    let readings: Vec<f64> = values.iter().map(|e| e.value).collect();
    let scatter = repeated_mean(&readings)?.standard_deviation.powi(2);
    let squares: f64 = values.iter().map(|e| e.standard_uncertainty.powi(2)).sum();
    Ok((scatter - squares / values.len() as f64).max(0.0))
}
