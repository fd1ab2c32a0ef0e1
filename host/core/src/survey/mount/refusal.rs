//! Why no mounting position can be given, in words for the technician.

use super::{CircleRefusal, PassRefusal, TurnRefusal};
use crate::survey::ride::RideRefusal;

/// Why there is no mounting at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MountRefusal {
    /// The capture cannot be put on one clock.
    #[error("{0}")]
    Ride(#[from] RideRefusal),
    /// Never faster than a crawl.
    #[error("the tractor stood all the time")]
    Standing,
    /// Neither passes nor turns say anything.
    #[error("{passes}, and {turns}")]
    NothingToHear {
        /// Why the passes show nothing.
        passes: PassRefusal,
        /// Why the turns show nothing.
        turns: TurnRefusal,
    },
}

impl MountRefusal {
    /// What it means for the result.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::Ride(refusal) => refusal.means(),
            Self::Standing | Self::NothingToHear { .. } => {
                "Neither the offset to the side nor the distance ahead can be determined."
            }
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Ride(refusal) => refusal.next(),
            Self::Standing | Self::NothingToHear { .. } => {
                "Drive one line out and back a few times, and three slow full circles each way."
            }
        }
    }
}

impl PassRefusal {
    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoStraight => "Drive a straight line of 50 m or more, out and back.",
            Self::NotOpposite => {
                "Turn round and drive the same line back, in the same wheel marks."
            }
            Self::NoOverlap => "Drive the whole line back, not only its end.",
        }
    }
}

impl TurnRefusal {
    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoWheel => "Check the wheel sensor and its plug.",
            Self::NoTurns => "Drive turns as well, or full circles, without backing.",
            Self::OneSide => "Turn to the other side as often.",
            Self::NoScale => "Drive a straight of 50 m or more too, or give --wheel-value.",
            Self::NotSolved => "Drive full circles both ways at a steady speed.",
        }
    }
}

impl CircleRefusal {
    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::NoCircles | Self::NoRoom => {
                "Drive three or more full circles each way at a steady speed and steering angle."
            }
            Self::OneWay => "Drive as many circles the other way round.",
        }
    }
}
