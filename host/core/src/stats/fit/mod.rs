//! Lines, means, outliers and agreement: the statistics a value is made with.
//!
//! Everything here takes plain numbers and returns plain numbers, with the convention that was used
//! named in the result wherever published practice knows more than one. Nothing is dropped, scaled
//! or enlarged without the result saying so; being unable to answer is a [`FitRefusal`].

pub mod agreement;
pub mod line;
pub mod outlier;
pub mod pooled;
pub mod robust;
pub mod york;

use std::fmt;

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
    NotFinite {
        /// Which, counted from zero.
        index: usize,
    },
    /// An uncertainty is zero, negative or not a number, or a correlation is not within ±1.
    UncertaintyNotPositive {
        /// Which, counted from zero.
        index: usize,
    },
    /// All points lie at the same place along the axis.
    NoSpread,
    /// The iteration did not settle.
    NotConverged {
        /// After this many rounds.
        iterations: usize,
    },
}

impl fmt::Display for FitRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew { have, need } => write!(
                f,
                "There are {have} values where this takes at least {need}. No value is given from \
                 them. Measure more passes."
            ),
            Self::NotFinite { index } => write!(
                f,
                "Value {} is not a number. No value is given from this set. Leave that value out \
                 or measure it again.",
                index + 1
            ),
            Self::UncertaintyNotPositive { index } => write!(
                f,
                "The uncertainty of value {} is not a positive number, so it cannot be weighed \
                 against the others and no value is given. State its uncertainty.",
                index + 1
            ),
            Self::NoSpread => f.write_str(
                "All points lie at the same place, so there is no slope and no value is given. \
                 Measure over a longer distance or a wider range of speeds.",
            ),
            Self::NotConverged { iterations } => write!(
                f,
                "The line did not settle within {iterations} rounds; the points do not determine \
                 one, and no value is given. Look for a wrong point or a wrong uncertainty."
            ),
        }
    }
}

impl std::error::Error for FitRefusal {}

/// Which of the published conventions the standard uncertainties of a line follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UncertaintyConvention {
    /// From the stated uncertainties of the points (ISO/TS 28037, 6.2): not enlarged by the scatter
    /// that is seen, which is to be tested by chi-squared.
    StatedUncertainties,
    /// From the scatter about the line, the uncertainties of the points being unknown but equal
    /// (ISO/TS 28037, annex E).
    ResidualScatter,
    /// York et al. (2004): stated uncertainties, evaluated at the adjusted points.
    YorkAdjustedPoints,
}

impl fmt::Display for UncertaintyConvention {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::StatedUncertainties => "from the stated uncertainties of the points",
            Self::ResidualScatter => "from the scatter about the line",
            Self::YorkAdjustedPoints => {
                "from the stated uncertainties, at the adjusted points (York 2004)"
            }
        })
    }
}

/// Refuses the first value that is not finite.
pub(crate) fn all_finite(values: impl IntoIterator<Item = f64>) -> Result<(), FitRefusal> {
    match values.into_iter().position(|value| !value.is_finite()) {
        Some(index) => Err(FitRefusal::NotFinite { index }),
        None => Ok(()),
    }
}

/// Refuses the first uncertainty that is not positive and finite.
pub(crate) fn all_positive(values: impl IntoIterator<Item = f64>) -> Result<(), FitRefusal> {
    match values.into_iter().position(|value| !(value.is_finite() && value > 0.0)) {
        Some(index) => Err(FitRefusal::UncertaintyNotPositive { index }),
        None => Ok(()),
    }
}

/// Refuses sets that are too small.
pub(crate) fn at_least(have: usize, need: usize) -> Result<(), FitRefusal> {
    if have < need { Err(FitRefusal::TooFew { have, need }) } else { Ok(()) }
}
