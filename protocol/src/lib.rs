//! What crosses the wire between the counter board and the host.
//!
//! | module | duty |
//! |---|---|
//! | [`units`] | one type for each quantity, so that none is mistaken for another |
//! | [`message`] | the messages of both directions |
//! | [`frame`] | message to bytes: version, type, payload, checksum, byte stuffing, delimiter |
//! | [`deframe`] | bytes to messages, with a reason for every frame refused |
//! | [`fault`] | those reasons |
//! | [`crc`] | the one checksum |
//!
//! The bytes themselves are set out in `SPEC.md`. This package never allocates, never does input
//! or output, holds no clock, and knows nothing of what the counts mean. The same code runs on
//! the board, in the simulator and in the host.
#![no_std]

#[cfg(test)]
extern crate std;

mod counts;
pub mod crc;
pub mod deframe;
pub mod fault;
pub mod frame;
pub mod message;
pub mod units;

pub use deframe::{DEFRAME_BUFFER, DeframeStats, Deframer};
pub use fault::FrameFault;
pub use frame::{EncodedFrame, FRAME_MAX, WireMessage, exact_payload_len};

/// The version byte that leads every frame.
///
/// The policy is append-only. A new message, a new field or a new variant of an enumeration means
/// a new version; within a version nothing is added, because every type has one exact length.
/// Type numbers, variants and the meaning of a field are never changed and never used again.
/// [`version::MIN`] rises only when nothing in the field speaks the old version any more. The
/// bytes of each version are frozen in a test file of their own.
pub mod version {
    /// The oldest version still understood.
    pub const MIN: u8 = 1;
    /// The version spoken.
    pub const CURRENT: u8 = 1;
}
