//! Uncertainty: where each part comes from, how uncertainties combine, and what is printed
//! of them.
//!
//! A measured value is a [`Quantity`]: a number together with its sensitivity to every *source* of
//! uncertainty it was made from. Because the sources are named once, in [`Sources`], two quantities
//! that share one (the tape that every pass was held against) are correlated without anybody saying
//! so, and what cancels in a difference does cancel. The budget table is read off the same map that
//! the arithmetic used, so that the table and the value can never disagree.
//!
//! The rules are those of JCGM 100:2008 (the GUM); [`monte_carlo`] is the independent second
//! opinion of JCGM 101:2008. Nothing here knows about tractors, tapes or satellites.

pub mod correlated;
pub mod coverage;
pub mod effective;
pub mod linear;
pub mod monte_carlo;
pub mod rounding;
pub mod source;
pub mod student;

pub use coverage::cover;
pub use effective::{Expanded, effective_degrees_of_freedom, expand};
pub use linear::{BudgetLine, Quantity};
pub use source::{Distribution, EvaluationType, Source, SourceId, Sources};
