//! Effective degrees of freedom, coverage factor and expanded uncertainty (JCGM 100, annex G).

use super::linear::Quantity;
use super::source::Sources;
use super::student;
use std::collections::BTreeMap;

/// An uncertainty fit for printing: with what probability it covers, and by which factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expanded {
    /// Combined standard uncertainty, in the unit of the quantity.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom, not truncated to a whole number.
    pub degrees_of_freedom: f64,
    /// Coverage probability, for instance 0.95.
    pub coverage_probability: f64,
    /// Student's t for that probability and those degrees of freedom.
    pub coverage_factor: f64,
    /// Coverage factor times standard uncertainty.
    pub expanded_uncertainty: f64,
}

impl Expanded {
    /// From a standard uncertainty whose degrees of freedom are known.
    #[must_use]
    pub fn new(standard_uncertainty: f64, degrees_of_freedom: f64, probability: f64) -> Self {
        let coverage_factor = student::coverage_factor(probability, degrees_of_freedom);
        Self {
            standard_uncertainty,
            degrees_of_freedom,
            coverage_probability: probability,
            coverage_factor,
            expanded_uncertainty: coverage_factor * standard_uncertainty,
        }
    }
}

/// The Welch-Satterthwaite formula, JCGM 100 equation G.2b.
///
/// Sources of one ensemble (see `Source::ensemble`) count as one, with the degrees of freedom they
/// share: they come from the same readings, and adding them up one by one would credit the result
/// with readings nobody took. The sum is not truncated to a whole number: G.4.1 allows either, and
/// truncation makes the factor jump. Infinite when no source has finite degrees of freedom.
#[must_use]
pub fn effective_degrees_of_freedom(quantity: &Quantity, sources: &Sources) -> f64 {
    let mut variance = 0.0;
    let mut weighted = 0.0;
    let mut ensembles: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
    for (id, term) in quantity.terms() {
        let source = sources.get(*id);
        let part = term.contribution().powi(2);
        variance += part;
        match source.ensemble {
            Some(number) => {
                let shared = ensembles.entry(number).or_insert((0.0, source.degrees_of_freedom));
                shared.0 += part;
                shared.1 = shared.1.min(source.degrees_of_freedom);
            }
            None => weighted += part * part / source.degrees_of_freedom,
        }
    }
    weighted += ensembles.values().map(|(part, dof)| part * part / dof).sum::<f64>();
    if weighted > 0.0 { variance * variance / weighted } else { f64::INFINITY }
}

/// Expanded uncertainty of a quantity at a coverage probability (JCGM 100, G.6.4).
#[must_use]
pub fn expand(quantity: &Quantity, sources: &Sources, probability: f64) -> Expanded {
    let dof = effective_degrees_of_freedom(quantity, sources);
    Expanded::new(quantity.standard_uncertainty(), dof, probability)
}
