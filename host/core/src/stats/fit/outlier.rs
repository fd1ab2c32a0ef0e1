//! Grubbs' test for an outlier, never on fewer than five values.
//!
//! With three values the largest statistic Grubbs' test can ever show is 1.1547, whatever the data,
//! so a test on a handful of passes is theatre. A test here only points at a value; leaving it out
//! is a decision that somebody takes and the record names.

use super::{FitRefusal, all_finite, at_least};
use crate::stats::budget::student::t_quantile;

/// The fewest values an outlier test is done on.
pub const LEAST_VALUES: usize = 5;

/// What a test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlierTest {
    /// The value farthest from the mean, counted from zero.
    pub suspect: usize,
    /// Its distance from the mean over the standard deviation.
    pub statistic: f64,
    /// The distance beyond which the test calls it an outlier.
    pub critical: f64,
    /// Whether it is an outlier.
    pub is_outlier: bool,
}

/// Two-sided critical value of Grubbs' test (NIST/SEMATECH e-Handbook, 1.3.5.17.1).
///
/// Not a number for fewer than three values.
#[must_use]
pub fn grubbs_critical_two_sided(n: usize, significance: f64) -> f64 {
    if n < 3 {
        return f64::NAN;
    }
    let count = n as f64;
    let t2 = t_quantile(1.0 - significance / (2.0 * count), count - 2.0).powi(2);
    (count - 1.0) / count.sqrt() * (t2 / (count - 2.0 + t2)).sqrt()
}

/// Largest deviation over the standard deviation, and whose it is; zero when all are equal.
fn largest_deviation(values: &[f64]) -> (usize, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let (suspect, deviation) = values
        .iter()
        .map(|value| (value - mean).abs())
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, 0.0));
    (suspect, if variance > 0.0 { deviation / variance.sqrt() } else { 0.0 })
}

/// Grubbs' two-sided test for one outlier.
///
/// # Errors
/// [`FitRefusal`] with fewer than [`LEAST_VALUES`] values or one that is not finite.
pub fn grubbs(values: &[f64], significance: f64) -> Result<OutlierTest, FitRefusal> {
    at_least(values.len(), LEAST_VALUES)?;
    all_finite(values.iter().copied())?;
    let critical = grubbs_critical_two_sided(values.len(), significance);
    let (suspect, statistic) = largest_deviation(values);
    Ok(OutlierTest { suspect, statistic, critical, is_outlier: statistic > critical })
}
