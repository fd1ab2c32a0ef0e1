//! The board's clock: a 32-bit microsecond timer that starts anywhere and runs a little off.

/// Turns true time into the readings of the board's timer.
#[derive(Clone, Debug)]
pub(crate) struct BoardClock {
    start_ticks: u32,
    /// True time of the last change of rate, and the clock's own elapsed time then.
    knee_us: f64,
    knee_elapsed_us: f64,
    rate: f64,
}

impl BoardClock {
    /// A timer that reads `start_ticks` at true time `now_us` and gains `drift_ppm`.
    pub(crate) fn new(start_ticks: u32, now_us: u64, drift_ppm: f64) -> Self {
        Self {
            start_ticks,
            knee_us: now_us as f64,
            knee_elapsed_us: 0.0,
            rate: 1.0 + drift_ppm * 1e-6,
        }
    }

    /// Microseconds of the board's clock since it started.
    pub(crate) fn elapsed_us(&self, true_us: u64) -> u64 {
        let since = true_us as f64 - self.knee_us;
        libm::floor((self.knee_elapsed_us + since * self.rate).max(0.0)) as u64
    }

    /// Reading of the timer, wrapping at 2^32.
    pub(crate) fn ticks(&self, true_us: u64) -> u32 {
        // Only the low 32 bits exist in the hardware, so the cut is meant.
        self.start_ticks.wrapping_add(self.elapsed_us(true_us) as u32)
    }

    /// Reading of the timer at a time of its own.
    pub(crate) fn ticks_at(&self, elapsed_us: u64) -> u32 {
        self.start_ticks.wrapping_add(elapsed_us as u32)
    }

    /// First whole true microsecond at which `elapsed_us` has been reached.
    pub(crate) fn true_us_at(&self, elapsed_us: u64) -> u64 {
        let since = (elapsed_us as f64 - self.knee_elapsed_us) / self.rate;
        let mut true_us = libm::floor((self.knee_us + since).max(0.0)) as u64;
        while self.elapsed_us(true_us) < elapsed_us {
            true_us += 1;
        }
        true_us
    }

    /// From `now_us` on the clock gains `drift_ppm` (a change of temperature).
    pub(crate) fn set_drift(&mut self, now_us: u64, drift_ppm: f64) {
        self.knee_elapsed_us += (now_us as f64 - self.knee_us) * self.rate;
        self.knee_us = now_us as f64;
        self.rate = 1.0 + drift_ppm * 1e-6;
    }
}

#[cfg(test)]
mod tests {
    use super::BoardClock;

    #[test]
    fn it_drifts_wraps_and_is_turned_back() {
        let mut clock = BoardClock::new(u32::MAX - 999, 0, 50.0);
        assert_eq!(clock.elapsed_us(1_000_000), 1_000_050);
        assert_eq!(clock.ticks(0), u32::MAX - 999);
        assert_eq!(clock.ticks(1_000_000), 999_050);
        clock.set_drift(2_000_000, -50.0);
        assert_eq!(clock.elapsed_us(4_000_000), 4_000_000);
        for elapsed in [2_500_000, 3_123_457, 3_999_999] {
            let at = clock.true_us_at(elapsed);
            assert!(clock.elapsed_us(at) >= elapsed && clock.elapsed_us(at - 1) < elapsed);
        }
    }
}
