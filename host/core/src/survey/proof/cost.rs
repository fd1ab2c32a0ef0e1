//! What an error of the terminal does to rate and area.

use crate::figure::COVERAGE;
use crate::stats::budget::{Expanded, Quantity, Sources, cover};

/// Square metres of a hectare.
const HECTARE_M2: f64 = 10_000.0;

/// The consequence of what the terminal shows, until it is mended.
///
/// A controller holds its rate for the speed it believes in: what it believes too much of speed it
/// applies too much, and its area counter counts too much by the same share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Share by which speed, distance, area and rate are wrong; positive is too much.
    pub error: f64,
    /// Its uncertainty.
    pub expanded: Expanded,
    /// Area counted less area worked, square metres for each hectare.
    pub area_m2_per_ha: f64,
}

impl Cost {
    /// That of a ratio of shown over true.
    pub(super) fn of(ratio: &Quantity, sources: &Sources) -> Self {
        let error = ratio.value() - 1.0;
        let expanded = cover(ratio, sources, COVERAGE);
        Self { error, expanded, area_m2_per_ha: HECTARE_M2 * error }
    }

    /// Applied less wanted where the implement is set to a rate, in the unit of that rate.
    #[must_use]
    pub fn of_rate(&self, rate: f64) -> f64 {
        rate * self.error
    }
}
