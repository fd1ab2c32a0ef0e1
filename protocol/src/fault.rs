//! Why a frame was refused. Every reason carries the numbers needed to judge it.

use crate::version;
use core::fmt;

/// One refused frame. Lengths are in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameFault {
    /// A length code of the byte stuffing points beyond the end of the frame.
    BadStuffing {
        /// Length as received, without the delimiter.
        encoded_len: usize,
    },
    /// Shorter than version, type and checksum together.
    TooShort {
        /// Length after the stuffing was taken out.
        decoded_len: usize,
    },
    /// More bytes without a delimiter than any frame has.
    TooLong {
        /// The most that is held.
        limit: usize,
    },
    /// The checksum does not match.
    BadChecksum {
        /// As computed over what arrived.
        expected: u32,
        /// As carried by the frame.
        found: u32,
        /// Length after the stuffing was taken out.
        decoded_len: usize,
    },
    /// An undamaged frame of a protocol version not spoken here.
    WrongVersion {
        /// Its version.
        found: u8,
    },
    /// An undamaged frame of a type that this end does not receive.
    UnknownType {
        /// Its type.
        type_id: u8,
    },
    /// The payload has not the one length its type has.
    WrongLength {
        /// Its type.
        type_id: u8,
        /// The length of that type's payload.
        expected: usize,
        /// The length that came.
        found: usize,
    },
    /// A field holds a value that its type does not have.
    BadValue {
        /// Type of the frame.
        type_id: u8,
    },
}

impl FrameFault {
    /// True if the frame was damaged on its way, as against sound but not meant for us.
    #[must_use]
    pub const fn is_damage(&self) -> bool {
        !matches!(self, FrameFault::WrongVersion { .. } | FrameFault::UnknownType { .. })
    }
}

impl fmt::Display for FrameFault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            FrameFault::BadStuffing { encoded_len } => {
                write!(
                    out,
                    "frame of {encoded_len} bytes damaged: its byte stuffing does not close"
                )
            }
            FrameFault::TooShort { decoded_len } => {
                write!(out, "frame damaged: {decoded_len} bytes is less than the shortest frame")
            }
            FrameFault::TooLong { limit } => {
                write!(out, "more than {limit} bytes without an end of frame; skipping to the next")
            }
            FrameFault::BadChecksum { expected, found, decoded_len } => write!(
                out,
                "frame of {decoded_len} bytes damaged: checksum {found:08X}, \
                 should be {expected:08X}"
            ),
            FrameFault::WrongVersion { found } => {
                let (min, max) = (version::MIN, version::CURRENT);
                write!(out, "frame of protocol version {found}; this end speaks {min} to {max}")
            }
            FrameFault::UnknownType { type_id } => {
                write!(out, "frame of type 0x{type_id:02X}, which this end does not receive")
            }
            FrameFault::WrongLength { type_id, expected, found } => write!(
                out,
                "frame of type 0x{type_id:02X} with {found} bytes of payload, should be {expected}"
            ),
            FrameFault::BadValue { type_id } => {
                write!(out, "frame of type 0x{type_id:02X} holds a value that does not exist")
            }
        }
    }
}

impl core::error::Error for FrameFault {}
