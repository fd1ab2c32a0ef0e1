//! The quantities that cross the wire, one type each, so that none is mistaken for another.

use serde::{Deserialize, Serialize};

/// Microseconds of the board's own clock since its boot. 64 bits: never wraps in practice.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[repr(transparent)]
pub struct BoardMicros(#[serde(with = "postcard::fixint::le")] pub u64);

/// A running count of impulses since the board's boot. Absolute, never a difference.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[repr(transparent)]
pub struct Impulses(#[serde(with = "postcard::fixint::le")] pub u64);

/// A 32-bit number of fixed length on the wire.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[repr(transparent)]
pub struct Fixed32(#[serde(with = "postcard::fixint::le")] pub u32);

/// A 16-bit number of fixed length on the wire.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[repr(transparent)]
pub struct Fixed16(#[serde(with = "postcard::fixint::le")] pub u16);

/// One of the board's impulse inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[repr(u8)]
pub enum Channel {
    /// Theoretical speed, from the wheels or the transmission.
    Wheel = 0,
    /// True ground speed, from the radar.
    Radar = 1,
    /// Power take-off shaft.
    Pto = 2,
}

impl Channel {
    /// All impulse inputs, in wire order.
    pub const ALL: [Channel; 3] = [Channel::Wheel, Channel::Radar, Channel::Pto];

    /// Place of this input in the arrays of a message.
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The name used in files and on screens.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Channel::Wheel => "wheel",
            Channel::Radar => "radar",
            Channel::Pto => "pto",
        }
    }
}
