//! What an image needed, as it tells the bench when asked.

use crate::{is_sealed, seal, word};

/// Six numbers of four bytes in this order, lowest byte first, and a check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Account {
    /// Deepest stack so far, bytes, by what is left of the paint.
    pub stack_bytes: u32,
    /// Most edges that waited for the main loop at once.
    pub waiting_most: u32,
    /// Longest time from an edge to its interrupt, microseconds.
    pub late_us: u32,
    /// Times that edges were missed: two on one input before it was served, or no place to wait.
    pub missed: u32,
    /// Time asleep for want of work, microseconds.
    pub asleep_us: u32,
    /// Time since the start, microseconds.
    pub elapsed_us: u32,
}

impl Account {
    /// Length on the line, bytes.
    pub const BYTES: usize = 25;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let mut out = [0; Self::BYTES];
        let words = [
            self.stack_bytes,
            self.waiting_most,
            self.late_us,
            self.missed,
            self.asleep_us,
            self.elapsed_us,
        ];
        for (place, word) in out.chunks_exact_mut(4).zip(words) {
            place.copy_from_slice(&word.to_le_bytes());
        }
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        is_sealed(bytes).then(|| Self {
            stack_bytes: word(bytes, 0),
            waiting_most: word(bytes, 4),
            late_us: word(bytes, 8),
            missed: word(bytes, 12),
            asleep_us: word(bytes, 16),
            elapsed_us: word(bytes, 20),
        })
    }

    /// Share of the time in which the processor worked.
    #[must_use]
    pub fn busy_share(&self) -> f64 {
        1.0 - f64::from(self.asleep_us) / f64::from(self.elapsed_us.max(1))
    }
}
