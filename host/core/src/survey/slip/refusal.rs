//! Why no slip is given, in words for the technician.

use crate::survey::ride::RideRefusal;

/// Why there is no slip.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SlipRefusal {
    /// No zero-slip value was given.
    #[error("no zero-slip value was given")]
    NoZeroSlip,
    /// Counts and positions are not on one clock.
    #[error(transparent)]
    Ride(#[from] RideRefusal),
    /// The wheel gave nothing while there were positions.
    #[error("the wheel sensor gave no impulses while there were positions")]
    NoWheel,
    /// Nowhere fast enough for long enough.
    #[error("nowhere was a whole section driven at {least_speed_m_s} m/s or more")]
    TooSlow {
        /// The least speed in force.
        least_speed_m_s: f64,
    },
    /// Two captures have no place in common.
    #[error("the two captures have no ground in common")]
    NoOverlap,
    /// Too few places in common for a difference with its uncertainty.
    #[error("only {pairs} sections of the two captures lie at the same place")]
    FewPairs {
        /// How many of them there are.
        pairs: usize,
    },
}

impl SlipRefusal {
    /// The stable word for files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoZeroSlip => "NO_ZERO_SLIP_VALUE",
            Self::Ride(refusal) => refusal.word(),
            Self::NoWheel => "NO_WHEEL_IMPULSES",
            Self::TooSlow { .. } => "TOO_SLOW",
            Self::NoOverlap => "NO_OVERLAP",
            Self::FewPairs { .. } => "FEW_PAIRS",
        }
    }

    /// What it means for the result.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::NoZeroSlip => {
                "Slip is calculated against the wheel's value on firm ground: there is no result."
            }
            Self::Ride(refusal) => refusal.means(),
            Self::NoWheel | Self::TooSlow { .. } => "There is nothing to calculate slip from.",
            Self::NoOverlap | Self::FewPairs { .. } => {
                "Differences of ground would be taken for a difference of the tractor: no result."
            }
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoZeroSlip => {
                "Measure it with `trundle drive` on firm ground with these tyres, and give it with \
                 --zero-slip-value, or name that capture with --zero-slip."
            }
            Self::Ride(refusal) => refusal.next(),
            Self::NoWheel => "Check the wheel sensor, its plug and its gap, and log again.",
            Self::TooSlow { .. } => {
                "Log a longer drive, or ask for shorter sections with --section, or a lower \
                 --least-speed."
            }
            Self::NoOverlap | Self::FewPairs { .. } => {
                "Drive the same rows again, in the same direction, after the change."
            }
        }
    }
}
