//! What the core is given at its start, and what it asks of the board it runs on.

use trundle_protocol::message::{CHANNELS, ResetCause};
use trundle_protocol::units::Channel;

/// Capability bit of the implement-in-work input.
pub const CAPABILITY_WORKING: u8 = 1 << 6;
/// Capability bit of the pulse-per-second input.
pub const CAPABILITY_PPS: u8 = 1 << 7;

/// Version of the firmware made of this package: major, minor, patch. It stays below 1.0 until it
/// has run on a real board. The host program is made with the same number and says when a board
/// has another.
pub const FIRMWARE: [u8; 3] = [0, 2, 0];

/// Fixed at start, except the report period and the input filters, which have commands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Config {
    /// Unique number of this board.
    pub board_id: u64,
    /// Differs after every reset.
    pub boot_id: u32,
    /// Firmware version: major, minor, patch.
    pub firmware: [u8; 3],
    /// Why the board last started.
    pub reset_cause: ResetCause,
    /// Bit n: impulse input n exists; [`CAPABILITY_WORKING`], [`CAPABILITY_PPS`].
    pub capabilities: u8,
    /// Report period, microseconds; brought into the range of the command that sets it.
    pub report_period_us: u32,
    /// Least edge interval of each input, microseconds; 0: every edge counts.
    pub min_edge_interval_us: [u32; CHANNELS],
}

impl Default for Config {
    fn default() -> Self {
        Self {
            board_id: 0,
            boot_id: 0,
            firmware: FIRMWARE,
            reset_cause: ResetCause::Unknown,
            capabilities: 0b0000_0111 | CAPABILITY_WORKING | CAPABILITY_PPS,
            report_period_us: 20_000,
            min_edge_interval_us: [0; CHANNELS],
        }
    }
}

impl Config {
    /// The board has this impulse input.
    #[must_use]
    pub const fn has(&self, channel: Channel) -> bool {
        self.capabilities & (1 << channel.index()) != 0
    }
}

/// The hardware, as far as the core needs it. Called from [`Counter::poll`](crate::Counter::poll)
/// only, never from an interrupt.
pub trait Board {
    /// Room in the transmit buffer, bytes. A frame that does not fit is not begun.
    fn tx_room(&mut self) -> usize;
    /// Takes a whole frame, never longer than [`Self::tx_room`] just said.
    fn tx(&mut self, bytes: &[u8]);
    /// Supply voltage, millivolts; 0: not measured.
    fn supply_mv(&mut self) -> u16;
    /// Starts or stops the blinking by which a person finds this board.
    fn identify(&mut self, on: bool);
}
