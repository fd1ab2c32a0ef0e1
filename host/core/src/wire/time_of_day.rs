//! A time of day as printed, and when two of them are one moment.

use super::fields::{POW10_WHOLE, SECOND_NS};

/// Nanoseconds in a day without a leap second.
const DAY_NS: u64 = 86_400 * SECOND_NS;
/// So far apart two printed times are never one moment: one epoch of a receiver at 100 Hz.
const ONE_MOMENT_NS: u64 = 10_000_000;

/// UTC time of day as a sentence prints it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimeOfDay {
    /// Nanoseconds since midnight UTC. 23:59:60 counts on, to 86 400 s.
    pub ns: u64,
    /// The seconds field was 60: a leap second.
    pub leap_second: bool,
    /// Decimals of the seconds as printed.
    pub decimals: u8,
}

impl TimeOfDay {
    /// Whether both are one moment. Some receivers print one epoch as `200620.303` in one sentence
    /// and cut or rounded, as `200620.30`, in another. Printed with as many digits, only equal
    /// times are one; else the longer must be what the shorter was made of, and never 10 ms away,
    /// so that the epochs of a receiver at 20 or 50 Hz stay apart whatever it prints.
    #[must_use]
    pub fn is_moment_of(self, other: Self) -> bool {
        if self.ns == other.ns || self.decimals == other.decimals {
            return self.ns == other.ns;
        }
        let (fine, coarse) =
            if self.decimals > other.decimals { (self, other) } else { (other, self) };
        let digit_ns = SECOND_NS / POW10_WHOLE[usize::from(coarse.decimals)];
        let digit_ns = digit_ns.min(ONE_MOMENT_NS);
        // 23:59:59.999 is 00:00:00.00 where it was rounded.
        let ahead_ns = (fine.ns + 2 * DAY_NS - coarse.ns) % DAY_NS;
        ahead_ns < digit_ns || 2 * (DAY_NS - ahead_ns) <= digit_ns
    }
}
