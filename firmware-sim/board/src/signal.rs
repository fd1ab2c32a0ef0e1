//! The test signal of [`trundle_counter::test_signal`], as words for its machine.
//!
//! The machine counts the impulses and both of their lengths by itself ([`crate::pio::IMPULSES`]);
//! software only gives it the next burst in time, so that nothing else that the processor does
//! shows in a count or a period.

use crate::pio::{HIGH_MORE, LOW_MORE};
use trundle_counter::test_signal::{
    LENGTH_US, PHASES, Phase, SPIKE_HIGH_US, SPIKE_PERIOD_US, starts_us,
};

/// So many impulses of one kind, lengths in clocks of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Burst {
    /// How many; at least one.
    pub impulses: u32,
    /// Clocks that each is low.
    pub low: u32,
    /// Clocks that it is high after that.
    pub high: u32,
}

impl Burst {
    /// As the machine takes it: how many less one, then low (lower half) and high, each less what
    /// the machine needs for itself.
    #[must_use]
    pub const fn words(self) -> [u32; 2] {
        [self.impulses - 1, (self.low - LOW_MORE) | (self.high - HIGH_MORE) << 16]
    }

    const fn fits(self) -> bool {
        let low = self.low >= LOW_MORE && self.low - LOW_MORE <= 0xFFFF;
        self.impulses > 0 && low && self.high >= HIGH_MORE && self.high - HIGH_MORE <= 0xFFFF
    }
}

/// A clock of the machine in a phase, microseconds: one, or more where lengths would not fit.
#[must_use]
pub const fn clock_us(phase: &Phase) -> u32 {
    if phase.period_us < 0x1_0000 { 1 } else { 20 }
}

/// Bursts that make up a phase.
const fn bursts(phase: &Phase) -> u32 {
    if phase.spikes == 0 { 1 } else { 2 * phase.impulses }
}

/// One of them.
const fn burst(phase: &Phase, at: u32) -> Burst {
    let clock = clock_us(phase);
    let high = (phase.period_us - phase.low_us) / clock;
    if phase.spikes == 0 {
        return Burst { impulses: phase.impulses, low: phase.low_us / clock, high };
    }
    if at.is_multiple_of(2) {
        let high = SPIKE_HIGH_US / clock;
        return Burst { impulses: phase.spikes, low: SPIKE_PERIOD_US / clock - high, high };
    }
    let low = (phase.low_us - phase.spikes * SPIKE_PERIOD_US) / clock;
    Burst { impulses: 1, low, high }
}

// Every length is a whole number of clocks and fits its half of a word.
const _: () = {
    let mut at = 0;
    while at < PHASES.len() {
        let phase = &PHASES[at];
        let clock = clock_us(phase);
        assert!(phase.period_us.is_multiple_of(clock) && phase.low_us.is_multiple_of(clock));
        assert!(burst(phase, 0).fits() && burst(phase, 1).fits());
        at += 1;
    }
};

/// What the machine is to be given next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// Its clock, microseconds.
    pub clock_us: u32,
    /// The burst.
    pub burst: Burst,
}

/// Gives one burst after another, each phase in its time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Player {
    phase: usize,
    /// Bursts of the phase that were given.
    given: u32,
}

impl Player {
    /// What is due this long after the start, microseconds; `None` while the pin rests.
    #[must_use]
    pub fn due(&self, elapsed_us: u64) -> Option<Order> {
        let phase = PHASES.get(self.phase)?;
        if self.given == 0 && elapsed_us < starts_us(self.phase) {
            return None;
        }
        Some(Order { clock_us: clock_us(phase), burst: burst(phase, self.given) })
    }

    /// What was due has been given.
    pub fn given(&mut self) {
        self.given += 1;
        if PHASES.get(self.phase).is_some_and(|phase| self.given == bursts(phase)) {
            *self = Self { phase: self.phase + 1, given: 0 };
        }
    }

    /// All has been given and has had time to go out.
    #[must_use]
    pub fn is_over(&self, elapsed_us: u64) -> bool {
        /// A second for what was given late.
        const LATE_US: u64 = 1_000_000;
        self.phase == PHASES.len() && elapsed_us > LENGTH_US + LATE_US
    }
}
