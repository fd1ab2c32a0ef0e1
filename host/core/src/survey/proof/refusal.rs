//! Why a reading is not used, and why a drive says nothing, in words for the technician.

use super::bus_refusal::BusRefusal;

/// Why a pass is not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PassRefusal {
    /// Nothing was read at either end.
    #[error("no distance was typed at its pegs")]
    NoReadings,
    /// Nothing was read at the start peg.
    #[error("no distance was typed at the standstill beside its start peg")]
    NoStart,
    /// Nothing was read at the finish peg.
    #[error("no distance was typed at the standstill beside its end peg")]
    NoFinish,
    /// The pass itself cannot be used.
    #[error("the pass itself cannot be used; `trundle work` shows why")]
    Refused,
    /// The distance stood still.
    #[error(
        "the distance did not count: many terminals count only with the implement in work, or \
         another counter was read"
    )]
    NotCounting,
    /// It went down.
    #[error(
        "the distance went back: it was reset on the way, or began again at 0 (give where with \
         --wrap, or drive another pass)"
    )]
    WentBack,
}

impl PassRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NoReadings => "NO_READINGS",
            Self::NoStart => "NO_START_READING",
            Self::NoFinish => "NO_END_READING",
            Self::Refused => "PASS_REFUSED",
            Self::NotCounting => "NOT_COUNTING",
            Self::WentBack => "WENT_BACK",
        }
    }
}

/// Why a speed is not used.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SpeedRefusal {
    /// The counts around the typed line are not there.
    #[error("the counts of the drive before it are not all there")]
    CountsMissing,
    /// The tractor had not been driven.
    #[error("no drive was seen before it")]
    NotDriven,
    /// Typed on the move, not steady before.
    #[error(
        "the speed was not steady in the {:.0} s before it: it changed by {:.1} %",
        super::speed::RUN_S, 100.0 * change
    )]
    NotSteady {
        /// Fastest over slowest second, less one.
        change: f64,
    },
    /// Typed at standstill, no steady run in the drive before.
    #[error("no speed was held for {:.0} s in the drive before it", super::speed::RUN_S)]
    NoSteadyRun,
    /// More than one steady run, at different speeds.
    #[error(
        "two speeds were held in the drive before it, one {times:.2} times the other: which one \
         was read is not known"
    )]
    TwoRuns {
        /// The faster over the slower one.
        times: f64,
    },
}

impl SpeedRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::CountsMissing => "COUNTS_MISSING",
            Self::NotDriven => "NOT_DRIVEN",
            Self::NotSteady { .. } => "NOT_STEADY",
            Self::NoSteadyRun => "NO_STEADY_RUN",
            Self::TwoRuns { .. } => "TWO_RUNS",
        }
    }
}

/// Why there is no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ProofRefusal {
    /// No count in the whole capture.
    #[error("no count was received from the board")]
    NoCounts,
    /// Nothing was typed.
    #[error("nothing was typed that the terminal showed")]
    NoReadings,
    /// Every reading was refused.
    #[error("none of the {typed} readings can be used; for the reasons, see below")]
    NoneUsable {
        /// How many there are.
        typed: usize,
    },
    /// Nothing was typed, and the bus shows nothing either.
    #[error("nothing was typed that the terminal showed, and {0}")]
    Bus(BusRefusal),
}

impl ProofRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NoCounts => "NO_COUNTS",
            Self::NoReadings => "NO_READINGS",
            Self::NoneUsable { .. } => "NONE_USABLE",
            Self::Bus(why) => why.code(),
        }
    }

    /// What it means.
    #[must_use]
    pub const fn means(self) -> &'static str {
        "Whether the value took is not known."
    }

    /// What to do next.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoCounts => "Next: connect the counter board and drive the pass again.",
            Self::NoReadings | Self::NoneUsable { .. } => {
                "Next: stop beside the start peg, mark it and type the distance that the terminal \
                 shows; drive to the end peg, stop, mark it and type the distance again. Twice is \
                 better than once."
            }
            Self::Bus(why) => why.next(),
        }
    }
}
