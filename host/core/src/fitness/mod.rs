//! Is a port, a board, a receiver fit for its part: judged from bytes, ages and what is known, by
//! functions of their arguments.

pub mod board_clock;
pub mod content;
pub mod firmware;
pub mod judge;
pub mod live;
pub mod look;
pub mod start;

/// Why a port was given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// The port is disconnected.
    Gone,
    /// What comes from it cannot be read any more, as at a wrong speed.
    Unreadable,
    /// Something else is behind it now.
    Foreign,
}
