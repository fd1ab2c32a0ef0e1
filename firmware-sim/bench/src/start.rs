//! The first record: what is given before the board has power.

use crate::{is_sealed, long, seal, word};

/// What the board is, and what is wired to it.
///
/// | offset | bytes | field |
/// |---|---|---|
/// | 0 | 8 | unique number of the flash chip, lowest byte first |
/// | 8 | 4 | reading of the timer at power-on |
/// | 12 | 2 | supply, millivolts |
/// | 14 | 4 | length of an impulse, nanoseconds |
/// | 18 | 2 | a bad wire loses each impulse of this number; 0: a good one |
/// | 20 | 1 | check |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Start {
    /// Unique number of the flash chip, which becomes the board's.
    pub unique_id: u64,
    /// Reading of the 32-bit microsecond timer at power-on. A real one begins at 0; another value
    /// lets it wrap while somebody looks.
    pub timer_start: u32,
    /// Supply voltage before the divider, millivolts.
    pub supply_mv: u16,
    /// How long an impulse stands at its input, nanoseconds.
    pub pulse_ns: u32,
    /// The wires lose each impulse of this number; 0: none. Whoever counts is to notice.
    pub drop_every: u16,
}

impl Start {
    /// Length on the line, bytes.
    pub const BYTES: usize = 21;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let mut out = [0; Self::BYTES];
        out[..8].copy_from_slice(&self.unique_id.to_le_bytes());
        out[8..12].copy_from_slice(&self.timer_start.to_le_bytes());
        out[12..14].copy_from_slice(&self.supply_mv.to_le_bytes());
        out[14..18].copy_from_slice(&self.pulse_ns.to_le_bytes());
        out[18..20].copy_from_slice(&self.drop_every.to_le_bytes());
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        is_sealed(bytes).then(|| Self {
            unique_id: long(bytes, 0),
            timer_start: word(bytes, 8),
            supply_mv: u16::from_le_bytes([bytes[12], bytes[13]]),
            pulse_ns: word(bytes, 14),
            drop_every: u16::from_le_bytes([bytes[18], bytes[19]]),
        })
    }
}
