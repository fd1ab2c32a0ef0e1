//! Why there are no impulses per revolution, in words for the technician.

use super::{STEADY_SHARE, WINDOW_S};

/// Why one reading is not used.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ReadingRefusal {
    /// The counts do not reach back far enough before the typed line.
    #[error("the counts of the {WINDOW_S} s before it are not all there")]
    CountsMissing,
    /// The shaft stood, or its sensor was silent.
    #[error("no PTO impulse was received in the {WINDOW_S} s before it")]
    NoImpulses,
    /// The board refused edges that came too soon after the one before.
    #[error(
        "the board took {rejected} edges for bounce beside the {counted} it counted: the contact \
         bounces, or impulses come faster than the board is set to take them"
    )]
    EdgesRefused {
        /// Number of the edges refused.
        rejected: u32,
        /// Number of the edges counted.
        counted: u64,
    },
    /// The shaft speed changed.
    #[error(
        "the rate was not steady in the {WINDOW_S} s before it: second by second from \
         {lowest_hz:.2} to {highest_hz:.2} impulses/s, {:.1} % where {:.0} % is allowed",
        100.0 * (highest_hz / lowest_hz - 1.0), 100.0 * STEADY_SHARE
    )]
    NotSteady {
        /// Slowest second, impulses per second.
        lowest_hz: f64,
        /// Fastest second, impulses per second.
        highest_hz: f64,
    },
}

impl ReadingRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::CountsMissing => "COUNTS_MISSING",
            Self::NoImpulses => "NO_IMPULSES",
            Self::EdgesRefused { .. } => "EDGES_REFUSED",
            Self::NotSteady { .. } => "NOT_STEADY",
        }
    }
}

/// Why there is no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PtoRefusal {
    /// The board has no PTO input.
    #[error("the counter board has no PTO input")]
    NoSensor,
    /// No count in the whole capture.
    #[error("no count was received from the board")]
    NoCounts,
    /// The PTO input gave no impulse at all.
    #[error("no impulse came on the PTO input")]
    NoImpulses,
    /// Nobody typed a shaft speed.
    #[error("no shaft speed was typed")]
    NoReadings,
    /// All typed speeds were refused.
    #[error("none of the {typed} typed shaft speeds can be used")]
    NoneUsable {
        /// How many were typed.
        typed: usize,
    },
}

impl PtoRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NoSensor => "NO_SENSOR",
            Self::NoCounts => "NO_COUNTS",
            Self::NoImpulses => "NO_IMPULSES",
            Self::NoReadings => "NO_READINGS",
            Self::NoneUsable { .. } => "NONE_USABLE",
        }
    }

    /// What it means for the result.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::NoSensor | Self::NoImpulses => {
                "Without a PTO shaft and its sensor this is not needed: the value per 100 m does \
                 not depend on it."
            }
            Self::NoCounts => "There is nothing to calculate.",
            Self::NoReadings => {
                "Impulses were counted, but not at which shaft speed: there is no result."
            }
            Self::NoneUsable { .. } => {
                "A rate belongs to a shaft speed only while both are steady: there is no result."
            }
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoSensor => {
                "Leave it. If the tractor has a PTO sensor, wire it to a board with that input."
            }
            Self::NoCounts => "Check the board's port and its plug, and record again.",
            Self::NoImpulses => {
                "Leave it if there is no sensor. If there is one: check its plug with the engine \
                 off and the key out, then record again with the shaft turning."
            }
            Self::NoReadings => {
                "Record again, hold a shaft speed, and type what the tractor's display shows."
            }
            Self::NoneUsable { .. } => {
                "Hold each speed for ten seconds before you type it, and record again."
            }
        }
    }
}
