//! The capture: one append-only file that holds every byte that was received, and every mark.
//!
//! A capture is a row of records. Each record stands on its own: a sync word, its length, the
//! host's monotonic time, a kind, a body and a CRC-32C. A reader that meets damage looks for the
//! next sync word whose record checks out, so a file that was cut or scratched anywhere loses
//! only the records that were hit, and says how many bytes those were.
//!
//! Live work is the replay of a capture that is still growing: nothing reads a byte before it
//! is in a record, and the record is all that the later stages ever see.
//!
//! | offset | length | field |
//! |---|---|---|
//! | 0 | 4 | sync word `A7 54 72 5E` |
//! | 4 | 2 | body length, little endian, at most [`BODY_MAX`] |
//! | 6 | 1 | kind |
//! | 7 | 8 | host time in nanoseconds since the capture began, little endian |
//! | 15 | n | body |
//! | 15+n | 4 | CRC-32C of bytes 4 to 15+n, little endian |

mod entry;
mod reader;
mod writer;

pub use entry::{
    Arrival, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, ImportRow, PortEvent,
    PortRole, Record, Slept, WallClock,
};
pub use reader::{Damage, Piece, Reader, Sums};
pub use writer::encode;

/// Longest body of one record, bytes. Longer chunks are split by the writer.
pub const BODY_MAX: usize = 4096;
/// The sync word: not text, not a COBS frame, not the start of a sentence.
pub(crate) const SYNC: [u8; 4] = [0xA7, 0x54, 0x72, 0x5E];
/// Bytes of a record before its body.
pub(crate) const HEAD_LEN: usize = 15;
/// Bytes of a record after its body.
pub(crate) const TAIL_LEN: usize = 4;

/// True for bytes that begin as a capture does.
#[must_use]
pub fn begins(bytes: &[u8]) -> bool {
    bytes.starts_with(&SYNC)
}

/// The sum over a record: the same as on the wire.
pub(crate) use trundle_protocol::crc::crc32c;

/// The kind of a record with bytes of this port.
pub(crate) const fn kind_of(role: PortRole) -> u8 {
    match role {
        PortRole::Board => 2,
        PortRole::Receiver => 3,
        PortRole::Bus => 13,
    }
}
