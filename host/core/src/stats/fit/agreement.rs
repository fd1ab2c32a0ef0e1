//! Do two results agree? The normalised error of ISO 13528 and ISO/IEC 17043.

use crate::stats::budget::{Quantity, Sources, expand};

/// The verdict on two results.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// First result less second.
    pub difference: f64,
    /// Expanded uncertainty of the difference.
    pub expanded_uncertainty: f64,
    /// Magnitude of the difference over its expanded uncertainty (En); infinite when two exact
    /// results differ.
    pub normalised_error: f64,
    /// Whether the normalised error is at most one.
    pub agrees: bool,
}

fn verdict(difference: f64, expanded_uncertainty: f64) -> Agreement {
    let normalised_error =
        if difference.abs() > 0.0 { difference.abs() / expanded_uncertainty } else { 0.0 };
    Agreement {
        difference,
        expanded_uncertainty,
        normalised_error,
        agrees: normalised_error <= 1.0,
    }
}

/// En from two results with their **expanded** uncertainties.
///
/// `covariance` is that of the two expanded errors: k² times the covariance of the results; zero
/// when they share no source.
#[must_use]
pub fn normalised_error(a: f64, u_a: f64, b: f64, u_b: f64, covariance: f64) -> Agreement {
    verdict(a - b, (u_a * u_a + u_b * u_b - 2.0 * covariance).max(0.0).sqrt())
}

/// En of two quantities, what they share cancelling out, at a coverage probability.
#[must_use]
pub fn compare(a: &Quantity, b: &Quantity, sources: &Sources, probability: f64) -> Agreement {
    let difference = a - b;
    let expanded = expand(&difference, sources, probability);
    verdict(difference.value(), expanded.expanded_uncertainty)
}
