//! Outlier tests: named, and never on fewer than five values.
//!
//! With three values the largest statistic Grubbs' test can ever show is 1.1547, whatever the data,
//! so a test on a handful of passes is theatre. A test here only points at a value; leaving it out
//! is a decision that somebody takes and the record names.

use super::{FitRefusal, all_finite, at_least};
use crate::stats::budget::student::t_quantile;
use statrs::function::erf::erfc;
use std::fmt;

/// The fewest values an outlier test is done on.
pub const LEAST_VALUES: usize = 5;

/// Which test was done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// Grubbs (1969), two-sided, at this level of significance.
    GrubbsTwoSided {
        /// For instance 0.05.
        significance: f64,
    },
    /// Peirce (1852) by the recursion of Gould (1855), one doubtful value.
    Peirce,
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::GrubbsTwoSided { significance } => {
                write!(f, "Grubbs' test, two-sided, {} %", significance * 100.0)
            }
            Self::Peirce => f.write_str("Peirce's criterion, one doubtful value"),
        }
    }
}

/// What a test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlierTest {
    /// The test.
    pub rule: Rule,
    /// The value farthest from the mean, counted from zero.
    pub suspect: usize,
    /// Its distance from the mean over the standard deviation.
    pub statistic: f64,
    /// The distance beyond which the test calls it an outlier.
    pub critical: f64,
    /// Whether it does.
    pub is_outlier: bool,
}

/// Critical value of Grubbs' test for the share `tail` in one t-tail.
fn grubbs_from_tail(n: usize, tail: f64) -> f64 {
    let count = n as f64;
    let t2 = t_quantile(1.0 - tail, count - 2.0).powi(2);
    (count - 1.0) / count.sqrt() * (t2 / (count - 2.0 + t2)).sqrt()
}

/// Two-sided critical value of Grubbs' test (NIST/SEMATECH e-Handbook, 1.3.5.17.1).
///
/// Not a number for fewer than three values.
#[must_use]
pub fn grubbs_critical_two_sided(n: usize, significance: f64) -> f64 {
    if n < 3 { f64::NAN } else { grubbs_from_tail(n, significance / (2.0 * n as f64)) }
}

/// One-sided critical value of Grubbs' test. Not a number for fewer than three values.
#[must_use]
pub fn grubbs_critical_one_sided(n: usize, significance: f64) -> f64 {
    if n < 3 { f64::NAN } else { grubbs_from_tail(n, significance / n as f64) }
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
    let critical = grubbs_critical_two_sided(values.len(), significance);
    decide(values, Rule::GrubbsTwoSided { significance }, critical)
}

/// Peirce's criterion for one doubtful value.
///
/// # Errors
/// [`FitRefusal`] with fewer than [`LEAST_VALUES`] values or one that is not finite.
pub fn peirce(values: &[f64]) -> Result<OutlierTest, FitRefusal> {
    decide(values, Rule::Peirce, peirce_critical(values.len()))
}

fn decide(values: &[f64], rule: Rule, critical: f64) -> Result<OutlierTest, FitRefusal> {
    at_least(values.len(), LEAST_VALUES)?;
    all_finite(values.iter().copied())?;
    let (suspect, statistic) = largest_deviation(values);
    Ok(OutlierTest { rule, suspect, statistic, critical, is_outlier: statistic > critical })
}

/// Peirce's largest allowed deviation for one doubtful value out of `n`, by Gould's recursion
/// (B. A. Gould, Astronomical Journal 4 (1855) 81). Not a number for fewer than three.
#[must_use]
pub fn peirce_critical(n: usize) -> f64 {
    if n < 3 {
        return f64::NAN;
    }
    let count = n as f64;
    let rest = count - 1.0;
    let log_q = (rest / count) * rest.ln() - count.ln();
    let mut ratio: f64 = 1.0;
    let mut squared = 0.0;
    for _ in 0..200 {
        let lambda = ((count * log_q - ratio.max(1e-6).ln()) / rest).exp();
        squared = (1.0 + (count - 2.0) * (1.0 - lambda * lambda)).max(0.0);
        let next = ((squared - 1.0) / 2.0).exp() * erfc((squared / 2.0).sqrt());
        let settled = (next - ratio).abs() <= count * 2e-16;
        ratio = next;
        if settled {
            break;
        }
    }
    squared.sqrt()
}
