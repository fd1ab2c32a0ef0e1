//! One CAN frame.
//!
//! Identifiers are those of the crate `embedded-can`, which cannot hold one that is out of range;
//! its frames are a trait for drivers that send, so the frame itself is ours.

pub use embedded_can::{ExtendedId, Id, StandardId};

/// Longest data of a classic frame, bytes.
pub const DATA_MAX: usize = 8;

/// A classic CAN frame as it was received.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CanFrame {
    /// Its identifier, 11 or 29 bits.
    pub id: Id,
    /// It asks for data and carries none.
    pub remote: bool,
    length: u8,
    data: [u8; DATA_MAX],
}

impl CanFrame {
    /// A frame with data; `None` for more than [`DATA_MAX`] bytes.
    #[must_use]
    pub fn new(id: Id, data: &[u8]) -> Option<Self> {
        let mut frame = Self::remote(id, data.len())?;
        frame.data[..data.len()].copy_from_slice(data);
        frame.remote = false;
        Some(frame)
    }

    /// A frame that asks for so many bytes; `None` for more than [`DATA_MAX`].
    #[must_use]
    pub fn remote(id: Id, length: usize) -> Option<Self> {
        let length = u8::try_from(length).ok().filter(|n| usize::from(*n) <= DATA_MAX)?;
        Some(Self { id, remote: true, length, data: [0; DATA_MAX] })
    }

    /// Its data; empty for a remote frame.
    #[must_use]
    pub fn data(&self) -> &[u8] {
        if self.remote { &[] } else { &self.data[..usize::from(self.length)] }
    }

    /// The length it states, bytes: of its data, or of what a remote frame asks for.
    #[must_use]
    pub const fn stated_length(&self) -> usize {
        self.length as usize
    }
}

/// The value of a hexadecimal digit, in either case.
pub(super) fn digit(byte: u8) -> Option<u32> {
    char::from(byte).to_digit(16)
}

/// The number that these hexadecimal digits write; `None` for none, or one that is no digit.
pub(super) fn number(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || digits.len() > 8 {
        return None;
    }
    digits.iter().try_fold(0, |sum, &byte| Some(sum << 4 | digit(byte)?))
}

/// The bytes that these pairs of digits write; shows how many, `None` unless all are pairs.
pub(super) fn bytes(digits: &[u8], out: &mut [u8; DATA_MAX]) -> Option<usize> {
    let (pairs, rest) = digits.as_chunks::<2>();
    if !rest.is_empty() || pairs.len() > DATA_MAX {
        return None;
    }
    for (byte, pair) in out.iter_mut().zip(pairs) {
        *byte = u8::try_from(number(pair)?).ok()?;
    }
    Some(pairs.len())
}
