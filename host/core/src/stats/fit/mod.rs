//! Lines, means, outliers and agreement: the statistics a value is made with.
//!
//! Everything here takes plain numbers and returns plain numbers. Where published practice knows
//! more than one convention, each function says which is its own. Being unable to answer is a
//! [`FitRefusal`].

pub mod agreement;
pub mod line;
pub mod outlier;
pub mod pooled;
pub mod robust;
pub mod york;

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FitRefusal {
    /// Fewer values than the method needs.
    TooFew {
        /// How many there are.
        have: usize,
        /// How many it takes.
        need: usize,
    },
    /// A value is infinite or not a number.
    NotFinite,
    /// An uncertainty is zero, negative or not a number, or a correlation is not within ±1.
    UncertaintyNotPositive,
    /// All points lie at the same place along the axis.
    NoSpread,
    /// The iteration did not settle.
    NotConverged,
}

/// Refuses values that are not finite.
pub(crate) fn all_finite(values: impl IntoIterator<Item = f64>) -> Result<(), FitRefusal> {
    if values.into_iter().all(f64::is_finite) { Ok(()) } else { Err(FitRefusal::NotFinite) }
}

/// Refuses uncertainties that are not positive and finite.
pub(crate) fn all_positive(values: impl IntoIterator<Item = f64>) -> Result<(), FitRefusal> {
    let positive = values.into_iter().all(|value| value.is_finite() && value > 0.0);
    if positive { Ok(()) } else { Err(FitRefusal::UncertaintyNotPositive) }
}

/// Refuses sets that are too small.
pub(crate) fn at_least(have: usize, need: usize) -> Result<(), FitRefusal> {
    if have < need { Err(FitRefusal::TooFew { have, need }) } else { Ok(()) }
}
