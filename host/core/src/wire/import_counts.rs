//! The counts of an imported table, line after line: what wraps, wavers, turns back or is set.

use trundle_protocol::message::CHANNELS;

/// By as much a count may stand below the highest one and mean nothing: a counter of a quadrature
/// encoder wavers where the wheel stops on an edge, and gives with the tyre; common practice, no
/// source.
pub const WAVER: u64 = 4;

/// What a line's counts are after those of the line before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Turned {
    /// They go on, or waver.
    On,
    /// One is lower and came there step by step: the counter counts down when the wheel turns back.
    Down,
    /// The counter was set back or restarted.
    Set,
}

/// The counts so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Counter {
    /// 32-bit counts widened so far: last raw value and turns.
    wide: [(u64, u64); CHANNELS],
    /// Widened counts of the last line that was read.
    last: Option<[u64; CHANNELS]>,
    /// The highest so far, since the counter was last set.
    highest: [u64; CHANNELS],
    /// The largest rise from one line to the next.
    rise: [u64; CHANNELS],
}

impl Counter {
    /// Take the raw counts of the next line: its running counts, and what they are after those
    /// before. Where they are lower and the counter was not set, the highest stand in their place.
    pub(super) fn next(&mut self, raw: &[Option<u64>; CHANNELS]) -> ([u64; CHANNELS], Turned) {
        let mut now = [0; CHANNELS];
        for (i, raw) in raw.iter().enumerate() {
            if let Some(raw) = raw {
                now[i] = widen(&mut self.wide[i], *raw);
            }
        }
        let mut turned = Turned::On;
        for (i, last) in self.last.unwrap_or(now).into_iter().enumerate() {
            self.rise[i] = self.rise[i].max(now[i].saturating_sub(last));
            if now[i].saturating_add(WAVER) >= self.highest[i] {
                continue;
            }
            // No faster back than it ever went ahead: it turns. All else is a counter that was set.
            let fall = last.saturating_sub(now[i]);
            turned = turned.max(if fall <= self.rise[i] { Turned::Down } else { Turned::Set });
        }
        self.last = Some(now);
        if turned == Turned::Set {
            self.highest = now;
        }
        for (high, now) in self.highest.iter_mut().zip(&now) {
            *high = (*high).max(*now);
        }
        (self.highest, turned)
    }
}

/// A drop that a wrap of 32 bits explains by a small step forward is a wrap; any other drop is
/// kept as it stands, and shows as a count that went back. Small is a sixteenth of the range:
/// days of driving, so no gap in a table is longer, and a counter that restarts is taken for
/// one that wrapped only if it had come that near its end.
fn widen(state: &mut (u64, u64), raw: u64) -> u64 {
    const TURN: u64 = 1 << 32;
    if raw < TURN && state.0 < TURN && state.0 > raw && raw + TURN - state.0 < TURN / 16 {
        state.1 += TURN;
    }
    state.0 = raw;
    // A text can hold any number of 64 bits; one at their end is no count, and goes back next.
    state.1.saturating_add(raw)
}
