//! Why a distance on the bus is not used, in words for the technician.

/// Why a pass is not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BusPassRefusal {
    /// The pass itself cannot be used.
    #[error("the pass itself cannot be used; `trundle work` shows why")]
    Refused,
    /// No distance at the start.
    #[error("the bus gave no distance at its start peg")]
    NoStart,
    /// No distance at the end.
    #[error("the bus gave no distance at its end peg")]
    NoFinish,
    /// It began anew.
    #[error(
        "the distance on the bus began anew in it: the ignition was switched off, or the control \
         unit restarted"
    )]
    Restarted,
    /// It goes on while the tractor stands.
    #[error("the distance on the bus still changed while the tractor stood beside a peg")]
    NotSettled,
    /// The last message is on its way for longer.
    #[error("the tractor stood beside a peg for too short a time: two seconds are needed")]
    ShortRest,
    /// A mark on the move, and nobody knows how late messages are.
    #[error("it was marked on the move, and how late the bus is could not be measured")]
    DelayUnknown,
    /// It stands still.
    #[error("the distance on the bus did not count")]
    NotCounting,
}

impl BusPassRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Refused => "PASS_REFUSED",
            Self::NoStart => "NO_START_MESSAGE",
            Self::NoFinish => "NO_END_MESSAGE",
            Self::Restarted => "RESTARTED",
            Self::NotSettled => "NOT_SETTLED",
            Self::ShortRest => "SHORT_REST",
            Self::DelayUnknown => "DELAY_UNKNOWN",
            Self::NotCounting => "NOT_COUNTING",
        }
    }
}

/// Why the bus gives no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BusRefusal {
    /// No pass can be used.
    #[error("the bus gave no distance over a pass that can be used; for the reasons, see below")]
    NoPass,
    /// Two say different things, and nothing shows which one matters.
    #[error(
        "control units {one} and {other} send different distances on the bus: which one implements \
         go by is not known"
    )]
    SendersDiffer {
        /// Address of one.
        one: u8,
        /// Address of another one.
        other: u8,
    },
}

impl BusRefusal {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NoPass => "NO_PASS_ON_BUS",
            Self::SendersDiffer { .. } => "SENDERS_DIFFER",
        }
    }

    /// What to do next.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoPass => {
                "Next: with the ignition on, stop beside both pegs for five seconds, mark them, \
                 and leave the ignition on in between; or type what the terminal shows."
            }
            Self::SendersDiffer { .. } => {
                "Next: type what the terminal shows at both pegs (d 1234.5), or switch one of the \
                 control units off, and drive again."
            }
        }
    }
}
