//! Fixes on the board's clock, before and after the receiver's lag is taken off.

use crate::wire::fix::Fix;

/// A fix at the board time of its tag: the receiver's lag is still in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TaggedFix {
    /// Board seconds since the first sample.
    pub tag_s: f64,
    /// What the receiver sent.
    pub fix: Fix,
}

/// A fix at the board time its content belongs to: the receiver's lag is taken off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedFix {
    /// Board seconds since the first sample.
    pub at_s: f64,
    /// What the receiver sent.
    pub fix: Fix,
}

impl TaggedFix {
    /// The same fix with the lag taken off.
    #[must_use]
    pub fn timed(self, lag_s: f64) -> TimedFix {
        TimedFix { at_s: self.tag_s - lag_s, fix: self.fix }
    }
}
