//! What an image needed, as the harness tells the bench when asked.

use crate::{is_sealed, long, seal};

/// Nine numbers of eight bytes in this order, lowest byte first, and a check. All are measured
/// from outside; the firmware has no part in it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Account {
    /// Deepest stack so far, bytes, by what is left of the paint.
    pub stack_bytes: u64,
    /// Most edges that waited for the main loop at once, when an interrupt had ended.
    pub queue_most: u64,
    /// Longest time that an edge waited in its hardware queue for the interrupt, nanoseconds.
    pub late_ns: u64,
    /// Edges that found their hardware queue full.
    pub dropped: u64,
    /// Starts, with the first.
    pub starts: u64,
    /// Times that the host found the USB function and configured it.
    pub configurations: u64,
    /// Times that the lamp changed.
    pub lamp: u64,
    /// Time asleep for want of work, microseconds.
    pub asleep_us: u64,
    /// Time since the start, microseconds.
    pub elapsed_us: u64,
}

impl Account {
    /// Length on the line, bytes.
    pub const BYTES: usize = 73;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let mut out = [0; Self::BYTES];
        let numbers = [
            self.stack_bytes,
            self.queue_most,
            self.late_ns,
            self.dropped,
            self.starts,
            self.configurations,
            self.lamp,
            self.asleep_us,
            self.elapsed_us,
        ];
        for (place, number) in out.chunks_exact_mut(8).zip(numbers) {
            place.copy_from_slice(&number.to_le_bytes());
        }
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        let number = |n: usize| long(bytes, 8 * n);
        is_sealed(bytes).then(|| Self {
            stack_bytes: number(0),
            queue_most: number(1),
            late_ns: number(2),
            dropped: number(3),
            starts: number(4),
            configurations: number(5),
            lamp: number(6),
            asleep_us: number(7),
            elapsed_us: number(8),
        })
    }

    /// Share of the time in which the processor worked.
    #[must_use]
    pub fn busy_share(&self) -> f64 {
        1.0 - self.asleep_us as f64 / self.elapsed_us.max(1) as f64
    }
}
