//! Readings of a free-running 32-bit counter, made 64 bits wide.
//!
//! A 1 MHz timer of 32 bits wraps every 71.6 minutes. The widened value follows by the signed
//! distance from the newest reading: up to half a wrap ahead moves it on; behind means a stamp
//! taken earlier and served later (an edge captured just before the last poll), which gets its
//! true earlier value and moves nothing.

/// Widens one 32-bit counter. Feed it at least once every half wrap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Widen {
    newest_raw: u32,
    newest: u64,
}

impl Widen {
    /// Starts at 0 wide, whatever the counter stands at.
    #[must_use]
    pub const fn new(raw: u32) -> Self {
        Self { newest_raw: raw, newest: 0 }
    }

    /// The wide value of a reading no more than half a wrap from the newest one.
    ///
    /// A reading from before the start gives 0.
    pub fn widen(&mut self, raw: u32) -> u64 {
        // Two's complement: the difference as a signed number is the shorter way round.
        let ahead = raw.wrapping_sub(self.newest_raw).cast_signed();
        if ahead < 0 {
            return self.newest.saturating_sub(u64::from(ahead.unsigned_abs()));
        }
        self.newest_raw = raw;
        self.newest += u64::from(ahead.unsigned_abs());
        self.newest
    }

    /// The widest value so far.
    #[must_use]
    pub const fn newest(&self) -> u64 {
        self.newest
    }
}
