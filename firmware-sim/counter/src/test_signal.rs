//! The known signal by which a board is checked on the bench, as data.
//!
//! While the board identifies itself (from the command until it is switched off again), it gives
//! this once on a spare pin, which is bridged to one input after the other. Firmware, simulated
//! board and host all read this one table, so that what is given and what is expected cannot
//! drift apart.
//!
//! The pin gives what the input circuit's output would: it idles high, and an impulse is low.
//! What counts is a fall of the pin. All times are of the board's own clock, so that no error of
//! its crystal shows in the check.
//!
//! A phase begins with its rest. Within a phase every fall keeps to its period exactly; from one
//! phase to the next a board may be late by a few milliseconds, since it changes over in software.

/// One part of the signal: a rest, then so many impulses at one period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Phase {
    /// What it is for, in one word.
    pub name: &'static str,
    /// The pin idles (high) so long before the first impulse, microseconds.
    pub rest_us: u32,
    /// Impulses: each begins with a fall of the pin.
    pub impulses: u32,
    /// From one impulse to the next, microseconds.
    pub period_us: u32,
    /// The pin is low so long, microseconds; spikes lie within it.
    pub low_us: u32,
    /// After each fall the pin goes high this many times for [`SPIKE_HIGH_US`], as a contact that
    /// bounces: each makes one more fall.
    pub spikes: u32,
}

/// A spike ends with a fall this long after the fall before it, microseconds.
pub const SPIKE_PERIOD_US: u32 = 30;
/// A spike is high for the last part of its period, microseconds.
pub const SPIKE_HIGH_US: u32 = 10;
/// Input filter with which of each impulse with its spikes just the first fall counts,
/// microseconds: longer than all spikes together, shorter than an impulse.
pub const FILTER_US: u32 = 1_000;

/// 500 Hz: a sensor at working speed.
pub const SLOW: usize = 0;
/// 5 kHz: what every input has to carry at the same time.
pub const FAST: usize = 1;
/// 20 kHz: the most that one input has to carry.
pub const FASTEST: usize = 2;
/// 100 Hz with spikes: what the input filter is for.
pub const BOUNCE: usize = 3;
/// Three impulses, a second apart: what marks and levels can follow. A mark input has a dead time
/// of 0.4 s ([`crate::mark::MARK_DEAD_TIME_US`]).
pub const MARKS: usize = 4;

/// The whole signal, in this order, once.
pub const PHASES: [Phase; 5] = [
    plain("slow", 1_000_000, 500, 2_000),
    plain("fast", 500_000, 5_000, 200),
    plain("fastest", 500_000, 20_000, 50),
    Phase {
        name: "bounce",
        rest_us: 500_000,
        impulses: 200,
        period_us: 10_000,
        low_us: 5_000,
        spikes: 3,
    },
    Phase {
        name: "marks",
        rest_us: 1_000_000,
        impulses: 3,
        period_us: 1_000_000,
        low_us: 200_000,
        spikes: 0,
    },
];

/// Half of each period low.
const fn plain(name: &'static str, rest_us: u32, impulses: u32, period_us: u32) -> Phase {
    Phase { name, rest_us, impulses, period_us, low_us: period_us / 2, spikes: 0 }
}

/// From the start to the end of the last period, microseconds.
pub const LENGTH_US: u64 = {
    let (mut sum, mut at) = (0, 0);
    while at < PHASES.len() {
        sum += PHASES[at].rest_us as u64 + PHASES[at].length_us();
        at += 1;
    }
    sum
};

impl Phase {
    /// From the first fall to the end of the last period, microseconds; without the rest.
    #[must_use]
    pub const fn length_us(&self) -> u64 {
        self.impulses as u64 * self.period_us as u64
    }

    /// Falls of the pin, those of the spikes too.
    #[must_use]
    pub const fn falls(&self) -> u32 {
        self.impulses * (1 + self.spikes)
    }

    /// Microseconds from one fall to the next, where `at` counts the falls before the first of
    /// the two: spikes follow their impulse, and what remains of the period follows them.
    #[must_use]
    pub const fn interval_us(&self, at: u32) -> u32 {
        if at % (1 + self.spikes) < self.spikes {
            SPIKE_PERIOD_US
        } else {
            self.period_us - self.spikes * SPIKE_PERIOD_US
        }
    }
}

/// When a phase's first fall is due, microseconds after the start.
#[must_use]
pub fn starts_us(phase: usize) -> u64 {
    let before = PHASES.iter().take(phase).map(|it| u64::from(it.rest_us) + it.length_us());
    before.sum::<u64>() + PHASES.get(phase).map_or(0, |it| u64::from(it.rest_us))
}

/// A change of the pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// When, microseconds after the start.
    pub at_us: u64,
    /// The pin falls; else it rises.
    pub falls: bool,
}

/// Every change of the pin, in the order of time: for a board that has to make the signal by
/// software, and for the simulated one.
#[derive(Clone, Copy, Debug, Default)]
pub struct Changes {
    phase: usize,
    impulse: u32,
    /// Changes of this impulse made so far: fall, then rise and fall of each spike, then rise.
    step: u32,
    /// Start of the phase's rest, microseconds.
    rest_from_us: u64,
}

impl Iterator for Changes {
    type Item = Change;

    fn next(&mut self) -> Option<Change> {
        let phase = PHASES.get(self.phase)?;
        let impulse_us = self.rest_from_us
            + u64::from(phase.rest_us)
            + u64::from(self.impulse) * u64::from(phase.period_us);
        let last = self.step == 2 * phase.spikes + 1;
        let falls = self.step.is_multiple_of(2);
        // The fall that a spike ends with, or from which it is seen that it has to begin.
        let spike = u64::from(self.step.div_ceil(2) * SPIKE_PERIOD_US);
        let at_us = impulse_us
            + match (last, falls) {
                (true, _) => u64::from(phase.low_us),
                (false, true) => spike,
                (false, false) => spike - u64::from(SPIKE_HIGH_US),
            };
        self.step += 1;
        if last {
            (self.step, self.impulse) = (0, self.impulse + 1);
        }
        if self.impulse == phase.impulses {
            self.rest_from_us += u64::from(phase.rest_us) + phase.length_us();
            (self.impulse, self.phase) = (0, self.phase + 1);
        }
        Some(Change { at_us, falls })
    }
}
