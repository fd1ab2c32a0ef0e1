//! The first record: what a real board has in its flash or in its wiring.

use crate::{is_sealed, seal, word};

/// What the image is to be.
///
/// | offset | bytes | field |
/// |---|---|---|
/// | 0 | 8 | board id, lowest byte first |
/// | 8 | 4 | boot id |
/// | 12 | 4 | reading of the timer at the start |
/// | 16 | 4 | report period, microseconds |
/// | 20 | 12 | least edge intervals: wheel, radar, PTO, microseconds |
/// | 32 | 2 | supply, millivolts |
/// | 34 | 1 | capabilities |
/// | 35 | 1 | check |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Start {
    /// Unique number of the board.
    pub board_id: u64,
    /// Differs after every reset.
    pub boot_id: u32,
    /// Reading of the 32-bit microsecond timer at board time 0.
    pub timer_start: u32,
    /// Report period, microseconds.
    pub report_period_us: u32,
    /// Least edge interval of each input, microseconds.
    pub min_edge_interval_us: [u32; 3],
    /// Supply voltage, millivolts.
    pub supply_mv: u16,
    /// Inputs of the board, as in its hello.
    pub capabilities: u8,
}

impl Start {
    /// Length on the line, bytes.
    pub const BYTES: usize = 36;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let mut out = [0; Self::BYTES];
        out[..8].copy_from_slice(&self.board_id.to_le_bytes());
        let [wheel, radar, pto] = self.min_edge_interval_us;
        let words = [self.boot_id, self.timer_start, self.report_period_us, wheel, radar, pto];
        for (place, word) in out[8..32].chunks_exact_mut(4).zip(words) {
            place.copy_from_slice(&word.to_le_bytes());
        }
        out[32..34].copy_from_slice(&self.supply_mv.to_le_bytes());
        out[34] = self.capabilities;
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        is_sealed(bytes).then(|| Self {
            board_id: u64::from(word(bytes, 4)) << 32 | u64::from(word(bytes, 0)),
            boot_id: word(bytes, 8),
            timer_start: word(bytes, 12),
            report_period_us: word(bytes, 16),
            min_edge_interval_us: [word(bytes, 20), word(bytes, 24), word(bytes, 28)],
            supply_mv: u16::from_le_bytes([bytes[32], bytes[33]]),
            capabilities: bytes[34],
        })
    }
}
