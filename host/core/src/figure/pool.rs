//! Several passes pooled into one value, with the uncertainty their scatter shows.
//!
//! Each pass comes with the standard uncertainty that a model of its errors gives it; the passes
//! are weighed by it. How much they really scatter is then seen, and two evaluations are made.
//!
//! - **observed**: the scatter alone, with n - 1 degrees of freedom (JCGM 100, 4.2, for weighted
//!   values). It trusts no model, so its interval is honest whatever the receiver and the driver
//!   are like; with two passes it is very wide, as it must be. Every value carries this one.
//! - **blended**: the model counts as some degrees of freedom beside the n - 1 of the scatter.
//!   With the scaled inverse chi-squared prior for one common factor on all variances this is the
//!   exact posterior (Gelman et al., Bayesian Data Analysis, section 3.3, from memory). It is
//!   steadier with few passes, and serves where a decision is taken that must not follow the luck
//!   of the scatter: the weights of tape and satellite in the combined value, and the test whether
//!   they agree. A single pass has nothing else.

use crate::stats::fit::line::Estimate;

/// Worth of a model that is an assumption about people (how near to a peg they stop), in degrees
/// of freedom: it may be wrong by half (JCGM 100, G.4.2, equation G.3: two).
pub const ASSUMED_DOF: f64 = 2.0;
/// Worth of a model learned from the same capture (the receiver's noise at rest): it may be wrong
/// by a third.
pub const LEARNED_DOF: f64 = 4.0;

/// From so many passes on their scatter speaks for itself.
pub(super) const MANY: usize = 5;
/// Passes that lie close together by luck promise too much: this share of the blended uncertainty
/// is the least. Of two passes nobody can tell luck.
pub(super) const LEAST_SHARE: f64 = 0.4;

/// A standard uncertainty of the mean and its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// Standard uncertainty by pass-to-pass errors only.
    pub standard_uncertainty: f64,
    /// How well it is known.
    pub degrees_of_freedom: f64,
}

/// The value of all passes, pooled.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooled {
    /// Weighted mean of the values.
    pub mean: f64,
    /// From the scatter alone; the blended one where there is only one pass.
    pub observed: Scatter,
    /// From model and scatter.
    pub blended: Scatter,
    /// Sum of squared deviations over the model's variances; n - 1 expected.
    pub chi_squared: f64,
    /// Standard uncertainty of a pass by the model, the quadratic mean over the passes.
    pub model_u: f64,
    /// What each pass's deviation puts into the mean, in the order given; the root of the sum of
    /// their squares is the observed standard uncertainty.
    pub parts: Vec<f64>,
}

impl Pooled {
    /// Number of the passes used.
    #[must_use]
    pub fn passes(&self) -> usize {
        self.parts.len()
    }

    /// The same mean, both standard uncertainties widened by a factor: for errors the passes share
    /// and so cannot show.
    #[must_use]
    pub fn inflated(mut self, factor: f64) -> Self {
        self.observed.standard_uncertainty *= factor;
        self.blended.standard_uncertainty *= factor;
        self.parts.iter_mut().for_each(|part| *part *= factor);
        self
    }
}

/// Pool the passes, each with its standard uncertainty by a model of the errors that differ from
/// pass to pass; the model is worth `model_dof` degrees of freedom. `None` without any.
#[must_use]
pub fn pool(values: &[Estimate], model_dof: f64) -> Option<Pooled> {
    let first = values.first()?;
    let weight = |v: &Estimate| v.standard_uncertainty.powi(2).recip();
    let total: f64 = values.iter().map(weight).sum();
    let offset = values.iter().map(|v| weight(v) * (v.value - first.value)).sum::<f64>() / total;
    let mean = first.value + offset;
    let chi_squared: f64 = values.iter().map(|v| weight(v) * (v.value - mean).powi(2)).sum();
    let free = (values.len() - 1) as f64;
    let scatter = |squares: f64, degrees_of_freedom: f64| Scatter {
        standard_uncertainty: (squares / degrees_of_freedom / total).sqrt(),
        degrees_of_freedom,
    };
    let blended = scatter(model_dof + chi_squared, model_dof + free);
    let mut observed = if values.len() > 1 { scatter(chi_squared, free) } else { blended };
    if values.len() > 2 {
        let least = LEAST_SHARE * blended.standard_uncertainty;
        observed.standard_uncertainty = observed.standard_uncertainty.max(least);
    }
    // Shares of one total; n/(n-1) for the mean that was taken from the same values.
    let enlarged = (values.len() as f64 / free.max(1.0)).sqrt();
    let parts = values.iter().map(|v| enlarged * weight(v) / total * (v.value - mean)).collect();
    let squares: f64 = values.iter().map(|v| v.standard_uncertainty.powi(2)).sum();
    let model_u = (squares / values.len() as f64).sqrt();
    Some(Pooled { mean, observed, blended, chi_squared, model_u, parts })
}
