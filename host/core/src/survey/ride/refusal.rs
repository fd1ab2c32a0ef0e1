//! Why a capture cannot be put on one clock, in words for the technician.

/// Why there is no ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RideRefusal {
    /// No usable fix in the whole capture.
    #[error("no usable fix was received from the receiver")]
    NoFixes,
    /// No count in the whole capture.
    #[error("no count was received from the board")]
    NoCounts,
    /// Counts and fixes were never there at the same time.
    #[error("counts and positions were never there at the same time")]
    Apart,
    /// Neither wheel nor radar gave impulses.
    #[error("the tractor never moved: neither wheel nor radar gave impulses")]
    NoMotion,
    /// Too few speeds to hold against the counts.
    #[error("only {points} satellite speeds can be held against the counts")]
    TooFewSpeeds {
        /// How many there were.
        points: usize,
    },
    /// The speed hardly changed.
    #[error("the speed hardly changed, so the receiver's delay cannot be measured")]
    NoAcceleration,
    /// The speeds match nowhere.
    #[error("counts and satellite speeds match nowhere within the search")]
    NoMatch {
        /// The capture was made of plain recordings without a common clock.
        derived: bool,
    },
}

impl RideRefusal {
    /// The stable word for files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoFixes => "NO_FIX",
            Self::NoCounts => "NO_COUNTS",
            Self::Apart => "COUNTS_AND_FIXES_APART",
            Self::NoMotion => "NO_MOTION",
            Self::TooFewSpeeds { .. } => "FEW_SPEEDS",
            Self::NoAcceleration => "NO_ACCELERATION",
            Self::NoMatch { .. } => "NO_MATCH",
        }
    }

    /// What it means for the result.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::NoFixes | Self::NoCounts | Self::Apart => {
                "Ground and wheel cannot be compared: there is no result."
            }
            Self::NoMotion | Self::TooFewSpeeds { .. } => "There is nothing to calculate.",
            Self::NoAcceleration | Self::NoMatch { .. } => {
                "Counts and positions cannot be laid on one clock well enough: there is no result."
            }
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoFixes => "Check the receiver's port, its antenna and open sky, and log again.",
            Self::NoCounts => "Check the board's port and its plug, and log again.",
            Self::Apart => "Log again with both plugged in from the beginning.",
            Self::NoMotion => "Drive while it records; if you did, check the sensor and its plug.",
            Self::TooFewSpeeds { .. } => {
                "Have the receiver send RMC sentences, and drive for half a minute or more."
            }
            Self::NoAcceleration => "Stop and drive off once or twice while it records.",
            Self::NoMatch { derived: true } => {
                "Check that both recordings are of the same drive, and combine them again."
            }
            Self::NoMatch { derived: false } => {
                "Check the receiver's output delay, and that the sensor is the one you think."
            }
        }
    }
}
