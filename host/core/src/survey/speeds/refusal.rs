//! Why the speeds cannot be compared, in words for the technician.

use super::RANGE_MIN;
use crate::survey::ride::RideRefusal;

/// Why there is no result.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SpeedsRefusal {
    /// The tractor stood all the time.
    #[error("the tractor stood all the time: the satellites saw no more than {fastest_m_s:.2} m/s")]
    Stationary {
        /// Greatest satellite speed of a second, metres per second.
        fastest_m_s: f64,
    },
    /// Counts and fixes cannot be laid on one clock.
    #[error("{0}")]
    Ride(RideRefusal),
    /// No steady, straight steady run.
    #[error(
        "only {found} steady and straight steady_runs of two seconds were driven; {need} are needed"
    )]
    NoSteady {
        /// How many there are.
        found: usize,
        /// How many it takes.
        need: usize,
    },
}

impl SpeedsRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Stationary { .. } => "STATIONARY",
            Self::Ride(_) => "NO_COMMON_CLOCK",
            Self::NoSteady { .. } => "NO_STEADY_STRETCH",
        }
    }

    /// What it means for the result.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::Stationary { .. } => {
                "Speeds that are zero cannot be compared: there is no result."
            }
            Self::Ride(refusal) => refusal.means(),
            Self::NoSteady { .. } => {
                "While the speed changes or the tractor turns, sensors and antenna see different \
                 speeds: there is no result."
            }
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Stationary { .. } => "Drive several steady speeds straight ahead, and log again.",
            Self::Ride(refusal) => refusal.next(),
            Self::NoSteady { .. } => {
                "Hold each of several speeds for ten seconds straight ahead, and log again."
            }
        }
    }
}

/// Why a pair of speeds has no line, or nothing at all.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoLine {
    /// The speeds lie too close together.
    #[error(
        "the speeds driven differ by a factor of {factor:.2} only, {RANGE_MIN} is needed: an \
         offset cannot be determined from the gain"
    )]
    RangeTooSmall {
        /// Fastest over slowest steady run.
        factor: f64,
    },
    /// One of the two gave nothing that can be used.
    #[error("only {found} steady_runs can be used")]
    TooFew {
        /// How many of them there are.
        found: usize,
    },
}
