//! Why there is no delay or no scale, in words for the technician.

use crate::survey::ride::RideRefusal;
use crate::survey::slip::SlipRefusal;

/// Why the delay of a stream is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoDelay {
    /// The recordings were put together without a common clock.
    #[error("the recordings have no arrival times of one computer")]
    Derived,
    /// Stream and fixes cannot be laid on one clock.
    #[error("{0}")]
    Ride(RideRefusal),
}

impl NoDelay {
    /// The stable word for files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Derived => "NO_ARRIVAL_TIMES",
            Self::Ride(refusal) => refusal.word(),
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Derived => "Record bus and receiver together, with `trundle bus`.",
            Self::Ride(RideRefusal::NoCounts) => "Check that the control unit sends this value.",
            Self::Ride(RideRefusal::NoMotion) => "Drive while it records.",
            Self::Ride(refusal) => refusal.next(),
        }
    }
}

/// Why the scale of a stream is not known.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoScale {
    /// No section of distance could be measured.
    #[error("{0}")]
    Slip(SlipRefusal),
    /// Nothing was driven straight on.
    #[error("nowhere was driven straight ahead for long enough")]
    NoPass,
}

impl NoScale {
    /// What to do about it.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        "Drive straight ahead for 100 m or more, with stops, while bus and receiver are recorded."
    }
}
