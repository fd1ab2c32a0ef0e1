//! Several passes pooled into one value, with the doubt their scatter shows.
//!
//! Each pass comes with the standard uncertainty that a model of its errors gives it. Few passes
//! tell little of the true scatter, and the model alone may be wrong, so both are heard: the
//! model counts as some degrees of freedom, the observed scatter as n - 1. With the scaled inverse
//! chi-squared prior for one common factor on all variances this is the exact posterior (Gelman
//! et al., Bayesian Data Analysis, section 3.3, from memory), and a Student interval with the
//! summed degrees of freedom follows. With many passes it tends to the plain type A evaluation of
//! JCGM 100, 4.2; with one it is the model alone.

/// Worth of a model that is an assumption about people (how near to a peg they stop), in degrees
/// of freedom. JCGM 100, G.4.2, equation G.3: one degree of freedom is a model that may be wrong
/// by 70 %.
pub const ASSUMED_DOF: f64 = 1.0;
/// Worth of a model learned from the same capture (the receiver's noise at rest): it may be wrong
/// by half.
pub const LEARNED_DOF: f64 = 2.0;

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

/// Pool the passes, the model of their errors being worth `model_dof` degrees of freedom; `None`
/// without any.
#[must_use]
pub fn pool(values: &[PassValue], model_dof: f64) -> Option<Pooled> {
    let first = values.first()?;
    let weight = |v: &PassValue| v.standard_uncertainty.powi(2).recip();
    let total: f64 = values.iter().map(weight).sum();
    let mean =
        first.value + values.iter().map(|v| weight(v) * (v.value - first.value)).sum::<f64>() / total;
    let chi_squared: f64 = values.iter().map(|v| weight(v) * (v.value - mean).powi(2)).sum();
    let degrees_of_freedom = model_dof + (values.len() - 1) as f64;
    let scale = (model_dof + chi_squared) / degrees_of_freedom;
    Some(Pooled {
        mean,
        standard_uncertainty: (scale / total).sqrt(),
        degrees_of_freedom,
        chi_squared,
        passes: values.len(),
    })
}
