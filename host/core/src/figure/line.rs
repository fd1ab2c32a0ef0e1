//! What all of this stage shares: the coverage of its intervals, and one line of its tables.

/// Coverage probability of every interval that is shown.
pub const COVERAGE: f64 = 0.95;

/// One pass of one channel, for tables.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassLine {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Impulses between its marks.
    pub impulses: f64,
    /// Impulses per 100 m with the taped length.
    pub tape: Option<f64>,
    /// Impulses per 100 m with this pass's satellite length.
    pub satellite: Option<f64>,
}
