//! Several passes pooled into one value, with the doubt their scatter shows.
//!
//! Each pass comes with the standard uncertainty that a model of its errors gives it. Few passes
//! tell little of the true scatter, and the model alone may be wrong, so both are heard: the
//! model counts as [`MODEL_DOF`] degrees of freedom, the observed scatter as n - 1. With the
//! scaled inverse chi-squared prior for one common factor on all variances this is the exact
//! posterior (Gelman et al., Bayesian Data Analysis, section 3.3, from memory), and a Student
//! interval with the summed degrees of freedom follows. With many passes it tends to the plain
//! type A evaluation of JCGM 100, 4.2; with one it is the model alone.

/// Degrees of freedom that the model of the errors of one pass is worth. JCGM 100, G.4.2,
/// equation G.3: four degrees of freedom mean the model is trusted to about 35 %.
pub const MODEL_DOF: f64 = 4.0;

/// One pass's word.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassValue {
    /// Its value.
    pub value: f64,
    /// Standard uncertainty by the model, of the errors that differ from pass to pass.
    pub standard_uncertainty: f64,
}

/// The pooled value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// Weighted mean.
    pub mean: f64,
    /// Standard uncertainty of the mean, pass-to-pass errors only.
    pub standard_uncertainty: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Sum of squared deviations over the model's variances; n - 1 expected.
    pub chi_squared: f64,
    /// Passes.
    pub passes: usize,
}

/// Pool the passes; `None` without any.
#[must_use]
pub fn pool(values: &[PassValue]) -> Option<Pooled> {
    let first = values.first()?;
    let weight = |v: &PassValue| v.standard_uncertainty.powi(2).recip();
    let total: f64 = values.iter().map(weight).sum();
    let mean =
        first.value + values.iter().map(|v| weight(v) * (v.value - first.value)).sum::<f64>() / total;
    let chi_squared: f64 = values.iter().map(|v| weight(v) * (v.value - mean).powi(2)).sum();
    let degrees_of_freedom = MODEL_DOF + (values.len() - 1) as f64;
    let scale = (MODEL_DOF + chi_squared) / degrees_of_freedom;
    Some(Pooled {
        mean,
        standard_uncertainty: (scale / total).sqrt(),
        degrees_of_freedom,
        chi_squared,
        passes: values.len(),
    })
}
