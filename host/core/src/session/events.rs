//! What a record changed, for whoever watches the job live.

use crate::capture::PortRole;
use crate::session::marks::Ruling;
use trundle_protocol::message::Hello;

/// One change of the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SessionEvent {
    /// A press was ruled on. To be synced before it is shown.
    Mark {
        /// Host time of the press, nanoseconds.
        host_ns: u64,
        /// By the board's button or gate, not at the host.
        from_board: bool,
        /// What the press did.
        ruling: Ruling,
    },
    /// The board numbers its presses, and some never arrived.
    MarkLost {
        /// How many of them there are.
        presses: u32,
    },
    /// The board said who it is.
    Hello(Hello),
    /// The board restarted by itself.
    BoardReset,
    /// The computer slept until now.
    Slept {
        /// For how long, seconds.
        seconds: f64,
    },
    /// A plausible fix was received.
    Fix,
    /// A port was opened or lost.
    Port {
        /// Which of the ports is meant.
        role: PortRole,
        /// True when opened, false when lost.
        open: bool,
    },
}
